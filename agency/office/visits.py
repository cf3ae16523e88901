"""The visits of a job, each with what its crew reported, in words."""

import json
from collections.abc import Iterator
from dataclasses import dataclass

from agency.diagnostics.documents import title_of
from agency.diagnostics.visit_documents import (
    NOT_POSSIBLE,
    NOT_SAFE,
    VisitReportDocument,
    read_as,
)
from agency.diagnostics.visit_reports import VisitReport
from agency.errors import DocumentRefused
from agency.jobs.models import Job, Visit
from agency.wording.templatetags.wording import moment

REASONS = {one.code: one.words for one in (*NOT_SAFE, *NOT_POSSIBLE)}


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitRow:
    """One visit and the sentences of its reports."""

    visit: Visit
    said: list[str]


def visit_rows(job: Job) -> list[VisitRow]:
    """Every visit in the order planned."""
    visits = job.visits.select_related("crew", "inspector").prefetch_related("reports")
    return [
        VisitRow(
            visit=visit,
            said=[sentence for report in visit.reports.all() for sentence in _sentences(report)],
        )
        for visit in visits
    ]


def _sentences(report: VisitReport) -> Iterator[str]:
    left = f", left {moment(report.left_at)}" if report.left_at else ""
    yield f"Arrived {moment(report.arrived_at)}{left}."
    try:
        document = read_as(VisitReportDocument, json.loads(report.document))
    except DocumentRefused:
        yield "The rest of this report cannot be read by this version any more."
        return
    if document.not_safe is not None:
        yield f"Not safe: {REASONS[document.not_safe.code].lower()}. {document.not_safe.words}"
    for one in document.not_possible:
        yield f"{title_of(one.kind)} not made: {REASONS[one.code].lower()}. {one.words}".strip()
    if document.note:
        yield document.note
