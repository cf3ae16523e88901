"""An uploaded record becomes a test run, or is kept aside with the reasons why it cannot."""

import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

from agency.accounts.models import Device
from agency.errors import DocumentRefused, FieldReason
from agency.jobs.models import Job, Visit
from agency.outbox.models import Errand

from .document_parts import TestDocument
from .documents import parse
from .models import InstrumentUse, RefusedUpload, TestRun

EVALUATE = "agency.diagnostics.tasks.evaluate_test_run"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What the phone is told about one record; a stored record's answer never changes."""

    status: int
    body: dict[str, Any]
    replay: bool = False


def store_upload(
    device: Device, record: object, *, sent_at: datetime | None, now: datetime
) -> Answer:
    """Keep one record. Call it inside a transaction; the record stands or falls by itself.

    Parameters
    ----------
    device : Device
        The phone it came from.
    record : object
        Plain JSON data, as it came.
    sent_at : datetime or None
        The phone's clock at sending; None when it did not say.
    now : datetime
        Our clock.
    """
    text = as_text(record)
    known = _already_stored(device, record, text)
    if known is not None:
        return known
    try:
        document = parse(record)
        job, visit = _destination(device, document)
    except DocumentRefused as refusal:
        return _set_aside(device, record, text, refusal)
    try:
        with transaction.atomic():
            run = _create(device, document, job, visit, text, sent_at=sent_at, now=now)
    except IntegrityError:
        # The twin of this request was faster; its answer is the answer.
        known = _already_stored(device, record, text)
        if known is None:
            raise
        return known
    return Answer(status=201, body=run.answer)


def as_text(record: object) -> str:
    """The record as JSON text: every value and the order of names as they came."""
    return json.dumps(record, separators=(",", ":"))


def canonical_hash(data: object) -> str:
    """SHA-256 of `data` as JSON with sorted names."""
    return hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()


def _readings_hash(text: str) -> str:
    data = json.loads(text)
    for name in ("client_key", "app", "note"):
        data.pop(name, None)
    return canonical_hash(data)


def _key_of(record: object) -> UUID | None:
    key = record.get("client_key") if isinstance(record, dict) else None
    try:
        return UUID(key) if isinstance(key, str) else None
    except ValueError:
        return None


def _already_stored(device: Device, record: object, text: str) -> Answer | None:
    """The first answer for a repeat; a refusal when the key now carries something else."""
    key = _key_of(record)
    run = TestRun.objects.filter(device=device, client_key=key).first() if key else None
    if run is None:
        return None
    if run.document_hash == canonical_hash(json.loads(text)):
        return Answer(status=201, body=run.answer, replay=True)
    reason = FieldReason(
        field="client_key",
        code="key_reused",
        message=f"The key {key} already belongs to another record of this phone.",
        value=str(key),
        limit="one key, one record",
        next_step="Send the changed readings as a new test with a new key.",
    )
    return Answer(status=422, body=_refused_body(key, [reason]))


def _destination(device: Device, document: TestDocument) -> tuple[Job, Visit | None]:
    """The job and visit the record names, if this phone's user works on them."""
    visible = Job.objects.visible_to(device.user)
    job = visible.filter(pk=document.job).first() if document.job else None
    if job is None:
        raise _misdirected("job", document.job, "job is assigned to this phone's crew")
    if document.visit is None:
        return job, None
    visit = job.visits.filter(pk=document.visit).first()
    if visit is None:
        raise _misdirected("visit", document.visit, "visit belongs to this job")
    return job, visit


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


def _set_aside(device: Device, record: object, text: str, refusal: DocumentRefused) -> Answer:
    reasons = [reason.as_dict() for reason in refusal.reasons]
    key = record.get("client_key") if isinstance(record, dict) else None
    key_text = key.encode("ascii", "replace").decode()[:64] if isinstance(key, str) else ""
    RefusedUpload.objects.get_or_create(
        device=device,
        client_key=key_text.replace("\x00", "?"),
        document_hash=canonical_hash(text),
        defaults={"document": text, "reasons": json.loads(json.dumps(reasons, default=str))},
    )
    return Answer(status=400, body=_refused_body(key_text or None, refusal.reasons))


def _refused_body(key: object, reasons: list[FieldReason]) -> dict[str, Any]:
    return {
        "client_key": None if key is None else str(key),
        "status": "refused",
        "errors": [reason.as_dict() for reason in reasons],
    }


def _create(
    device: Device,
    document: TestDocument,
    job: Job,
    visit: Visit | None,
    text: str,
    *,
    sent_at: datetime | None,
    now: datetime,
) -> TestRun:
    same_readings = _readings_hash(text)
    twin = TestRun.objects.filter(job=job, readings_hash=same_readings).first()
    run = TestRun(
        job=job,
        visit=visit,
        device=device,
        client_key=document.client_key,
        uploaded_by=device.user,
        kind=document.kind,
        phase=document.phase,
        method=document.method,
        operator=document.operator,
        taken_at=document.taken_at,
        received_at=now,
        clock_ahead_by=None if sent_at is None else sent_at - now,
        document=text,
        document_hash=canonical_hash(json.loads(text)),
        readings_hash=same_readings,
    )
    run.answer = {
        "client_key": str(document.client_key),
        "status": "stored",
        "id": str(run.pk),
        "received_at": now.isoformat(),
        "looks_like": None if twin is None else str(twin.pk),
    }
    run.save(force_insert=True)
    InstrumentUse.objects.note(run, document)
    if job.status == Job.Status.SCHEDULED:
        job.start(device.user)
    Errand.promise(EVALUATE, run.pk)
    return run
