"""A photo from a phone is made anew and stored once; what cannot be shown safely is refused."""

from datetime import datetime
from typing import Any

from django.core.files.base import ContentFile
from django.db import IntegrityError

from agency.accounts.models import Device
from agency.errors import DocumentRefused
from agency.jobs.models import Job, Visit

from .keeping import Answer, content_hash, job_within_reach, keep_once, refused_body, visit_of
from .photos import Photo
from .pictures import Picture, clean_picture
from .visit_documents import PhotoDocument, read_as


def store_photo(device: Device, record: dict[str, Any], body: bytes, *, now: datetime) -> Answer:
    """Keep one photo. Call it inside a transaction.

    Nothing of a refused photo is kept here: the phone has it, and its key stays free.

    Parameters
    ----------
    device : Device
        The phone it came from.
    record : dict
        What is said of the photo; `file` is the SHA-256 of `body`.
    body : bytes
        The file as it came.
    now : datetime
        Our clock.
    """

    def write() -> Photo:
        document = read_as(PhotoDocument, record)
        job = job_within_reach(device, document.job)
        visit = visit_of(job, document.visit)
        photo = _described(device, document, job, visit, now)
        photo.document_hash = content_hash(record)
        return _with_files(photo, clean_picture(body))

    try:
        return keep_once(Photo, device, record, write=write)
    except DocumentRefused as refusal:
        return Answer(status=400, body=refused_body(record.get("client_key"), refusal.reasons))


def _described(
    device: Device, document: PhotoDocument, job: Job, visit: Visit | None, now: datetime
) -> Photo:
    photo = Photo(
        job=job,
        visit=visit,
        test_key=document.test_key,
        caption=document.caption,
        taken_at=document.taken_at,
        device=device,
        client_key=document.client_key,
        sent_by=device.user,
        received_at=now,
    )
    photo.answer = {
        "client_key": str(document.client_key),
        "status": "stored",
        "id": str(photo.pk),
        "received_at": now.isoformat(),
    }
    return photo


def _with_files(photo: Photo, picture: Picture) -> Photo:
    """The stored row; a twin that was faster leaves no files of this one behind."""
    photo.width, photo.height, photo.bytes = picture.width, picture.height, len(picture.large)
    photo.file.save("", ContentFile(picture.large), save=False)
    photo.small.save("", ContentFile(picture.small), save=False)
    try:
        photo.save(force_insert=True)
    except IntegrityError:
        photo.file.delete(save=False)
        photo.small.delete(save=False)
        raise
    return photo
