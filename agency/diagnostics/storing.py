"""An uploaded record becomes a test run, or is kept aside with the reasons why it cannot."""

import json
from datetime import datetime

from agency.accounts.models import Device
from agency.errors import DocumentRefused
from agency.jobs.models import Job, Visit
from agency.outbox.models import Errand

from .document_parts import TestDocument
from .documents import parse
from .keeping import (
    Answer,
    as_text,
    canonical_hash,
    job_within_reach,
    keep_once,
    refused_body,
    visit_of,
)
from .models import InstrumentUse, RefusedUpload, TestRun

EVALUATE = "agency.diagnostics.tasks.evaluate_test_run"


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

    def write() -> TestRun:
        document = parse(record)
        job = job_within_reach(device, document.job)
        visit = visit_of(job, document.visit)
        return _create(device, document, job, visit, as_text(record), sent_at=sent_at, now=now)

    try:
        return keep_once(TestRun, device, record, write=write)
    except DocumentRefused as refusal:
        return set_aside(device, record, refusal)


def set_aside(device: Device, record: object, refusal: DocumentRefused) -> Answer:
    """Keep what could not be stored word for word, with the reasons; its key stays free."""
    text = as_text(record)
    reasons = [reason.as_dict() for reason in refusal.reasons]
    key = record.get("client_key") if isinstance(record, dict) else None
    key_text = key.encode("ascii", "replace").decode()[:64] if isinstance(key, str) else ""
    RefusedUpload.objects.get_or_create(
        device=device,
        client_key=key_text.replace("\x00", "?"),
        document_hash=canonical_hash(text),
        defaults={"document": text, "reasons": json.loads(json.dumps(reasons, default=str))},
    )
    return Answer(status=400, body=refused_body(key_text or None, refusal.reasons))


def _readings_hash(text: str) -> str:
    data = json.loads(text)
    for name in ("client_key", "app", "note"):
        data.pop(name, None)
    return canonical_hash(data)


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
        job.start(device.user, device_at=document.taken_at)
    elif job.status == Job.Status.AUDIT_SCHEDULED:
        job.begin_audit(device.user, device_at=document.taken_at)
    Errand.promise(EVALUATE, run.pk)
    return run
