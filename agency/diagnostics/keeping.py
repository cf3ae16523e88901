"""What a phone sends is kept once: a key that comes again gets the first answer again."""

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

from agency.accounts.models import Device
from agency.errors import DocumentRefused, FieldReason
from agency.jobs.models import Job, Visit


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What the phone is told about one record; a stored record's answer never changes."""

    status: int
    body: dict[str, Any]
    replay: bool = False


def keep_once(model: Any, device: Device, record: object, *, write: Callable[[], Any]) -> Answer:
    """Answer with the row that the record's key already has, or with the one `write` makes.

    Call it inside a transaction; the record stands or falls by itself.

    Parameters
    ----------
    model : type of record
        Has `device`, `client_key`, `document_hash` and the first `answer`, and lets a device use a
        key once.
    device : Device
        The phone it came from.
    record : object
        Plain JSON data, as it came.
    write : callable
        Stores the record and returns its row, or raises DocumentRefused.
    """
    known = _already_kept(model, device, record)
    if known is not None:
        return known
    try:
        with transaction.atomic():
            row = write()
    except IntegrityError:
        # The twin of this request was faster; its answer is the answer.
        known = _already_kept(model, device, record)
        if known is None:
            raise
        return known
    return Answer(status=201, body=row.answer)


def _already_kept(model: Any, device: Device, record: object) -> Answer | None:
    """The first answer for a repeat; a refusal when the key now carries something else.

    A phone that was paired again is another device: the key is looked for among all the devices of
    its person, or a record whose answer was lost before would come twice.
    """
    key = _key_of(record)
    own = model.objects.filter(device__user=device.user_id, client_key=key)
    row = own.first() if key else None
    if row is None:
        return None
    if row.document_hash == content_hash(record):
        return Answer(status=201, body=row.answer, replay=True)
    reason = FieldReason(
        field="client_key",
        code="key_reused",
        message=f"The key {key} already belongs to another record of this phone.",
        value=str(key),
        limit="one key, one record",
        next_step="Send what has changed as a new record with a new key.",
    )
    return Answer(status=422, body=refused_body(key, [reason]))


def _key_of(record: object) -> UUID | None:
    key = record.get("client_key") if isinstance(record, dict) else None
    try:
        return UUID(key) if isinstance(key, str) else None
    except ValueError:
        return None


def refused_body(key: object, reasons: list[FieldReason]) -> dict[str, Any]:
    """The answer to a record that was not kept."""
    return {
        "client_key": None if key is None else str(key),
        "status": "refused",
        "errors": [reason.as_dict() for reason in reasons],
    }


def as_text(record: object) -> str:
    """The record as JSON text: every value and the order of names as they came."""
    return json.dumps(record, separators=(",", ":"))


def content_hash(record: object) -> str:
    """Hash of what the record's text says once it is read back."""
    return canonical_hash(json.loads(as_text(record)))


def canonical_hash(data: object) -> str:
    """SHA-256 of `data` as JSON with sorted names."""
    return hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()


def job_within_reach(device: Device, job_id: UUID | None) -> Job:
    """The job a record names, if this phone's user works on it."""
    job = Job.objects.visible_to(device.user).filter(pk=job_id).first() if job_id else None
    if job is None:
        raise _misdirected("job", job_id, "job is assigned to this phone's crew")
    return job


def visit_within_reach(device: Device, visit_id: UUID) -> Visit:
    """The visit a record names, if this phone's user works on its job."""
    jobs = Job.objects.visible_to(device.user)
    visit = Visit.objects.filter(job__in=jobs, pk=visit_id).select_related("job").first()
    if visit is None:
        raise _misdirected("visit", visit_id, "visit is assigned to this phone's crew")
    return visit


def visit_of(job: Job, visit_id: UUID | None) -> Visit | None:
    """The visit a record names beside its job; None when it names none."""
    if visit_id is None:
        return None
    visit = job.visits.filter(pk=visit_id).first()
    if visit is None:
        raise _misdirected("visit", visit_id, "visit belongs to this job")
    return visit


def _misdirected(field: str, value: UUID | None, claim: str) -> DocumentRefused:
    reason = FieldReason(
        field=field,
        code="not_found",
        message=f"No such {claim}." if value else f"The {field} is missing.",
        value=None if value is None else str(value),
        limit=f"a {claim}",
        next_step="Choose the house again or call the office; the readings are kept.",
    )
    return DocumentRefused([reason])
