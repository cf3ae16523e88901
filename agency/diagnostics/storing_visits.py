"""A crew's report of a visit is stored, and what it says of safety and outcome takes effect."""

from datetime import datetime

from agency.accounts.models import Device
from agency.errors import DocumentRefused
from agency.jobs.models import SafetyStop, Visit

from .cautions import DEFER, Caution
from .keeping import Answer, as_text, content_hash, keep_once, visit_within_reach
from .storing import set_aside
from .visit_documents import VisitReportDocument, read_as
from .visit_reports import VisitReport


def store_visit_report(device: Device, record: object, *, now: datetime) -> Answer:
    """Keep one report. Call it inside a transaction; a repeat has no further effect.

    Parameters
    ----------
    device : Device
        The phone it came from.
    record : object
        Plain JSON data, as it came.
    now : datetime
        Our clock.
    """

    def write() -> VisitReport:
        document = read_as(VisitReportDocument, record)
        visit = visit_within_reach(device, document.visit)
        report = _create(device, document, visit, record, now)
        _take_effect(visit, document)
        return report

    try:
        return keep_once(VisitReport, device, record, write=write)
    except DocumentRefused as refusal:
        return set_aside(device, record, refusal)


def _create(
    device: Device, document: VisitReportDocument, visit: Visit, record: object, now: datetime
) -> VisitReport:
    report = VisitReport(
        visit=visit,
        device=device,
        client_key=document.client_key,
        sent_by=device.user,
        arrived_at=document.arrived_at,
        left_at=document.left_at,
        not_safe="" if document.not_safe is None else document.not_safe.code,
        received_at=now,
        document=as_text(record),
        document_hash=content_hash(record),
    )
    report.answer = {
        "client_key": str(document.client_key),
        "status": "stored",
        "id": str(report.pk),
        "received_at": now.isoformat(),
    }
    report.save(force_insert=True)
    return report


def _take_effect(visit: Visit, document: VisitReportDocument) -> None:
    """The latest moment told of decides the outcome; each hazard found stops the job."""
    # Locked before it is asked, so that of two reports at once the second sees the first.
    visit = Visit.objects.select_for_update(of=("self",)).get(pk=visit.pk)
    newest = VisitReport.objects.filter(visit=visit).newest()
    if newest is not None and newest.outcome:
        visit.conclude(newest.outcome)
    for caution in document.hazards:
        SafetyStop.objects.raise_once(
            job=visit.job,
            hazard=caution.code,
            words=_found(caution, document),
            steps=[caution.act],
            cautions=DEFER,
        )


def _found(caution: Caution, document: VisitReportDocument) -> str:
    said = document.not_safe
    if said is not None and said.code == caution.code:
        return f"{caution.look_for}. The crew says: {said.words}"
    return f"{caution.look_for}. The crew found it at the house."
