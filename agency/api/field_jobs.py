"""A crew's jobs of some days as its phone keeps them: house, stops, visits, and the test before."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import Prefetch

from agency.accounts.models import User
from agency.diagnostics.models import TIGHTNESS, Result, TestRun
from agency.diagnostics.requiring import RequiredTest
from agency.houses.models import House
from agency.jobs.models import Job, Visit
from agency.wording import words

HOUSE = (
    "address",
    "unit",
    "city",
    "year_built",
    "storeys",
    "floor_area_sqft",
    "volume_cuft",
    "height_ft",
    "envelope_area_sqft",
    "elevation_ft",
    "heating_fuel",
)
Required = Mapping[tuple[UUID, str], list[RequiredTest]]
"""By programme and kind of visit."""


def jobs_between(user: User, *, first: date, last: date) -> list[dict[str, Any]]:
    """Jobs this person's crew visits from `first` to `last`, in a constant number of queries."""
    runs = TestRun.objects.defer("document", "answer").prefetch_related("results")
    planned = Visit.objects.made_by(user).between(first, last)
    jobs = Job.objects.on_the_round_of(user, first=first, last=last).with_people().with_stops()
    found = jobs.prefetch_related(
        Prefetch("visits", planned, to_attr="planned"),
        Prefetch("test_runs", runs.order_by("taken_at", "received_at"), to_attr="runs"),
    )
    required = defaultdict(list)
    for one in RequiredTest.objects.all():
        required[one.program_id, one.visit_kind].append(one)
    return [_job(job, required) for job in found]


def _job(job: Any, required: Required) -> dict[str, Any]:
    return {
        "id": job.pk,
        "number": job.number,
        "status": job.status,
        "status_words": job.get_status_display(),
        "house": _house(job.house),
        "client_name": job.client.name,
        "client_phone": job.client.phone,
        "client_language": job.client.language,
        "safety_stops": [
            {
                "id": stop.pk,
                "words": stop.words,
                "steps": stop.steps,
                "cautions": stop.cautions,
                "acknowledged_name": stop.acknowledged_name,
            }
            for stop in job.open_stops
        ],
        "visits": [
            _visit(visit, job.runs, required.get((job.program_id, visit.kind), []))
            for visit in job.planned
        ],
        "before": _before(job.runs),
    }


def _house(house: House) -> dict[str, Any]:
    return {name: getattr(house, name) for name in HOUSE}


def _visit(visit: Visit, runs: Iterable[TestRun], required: list[RequiredTest]) -> dict[str, Any]:
    return {
        "id": visit.pk,
        "kind": visit.kind,
        "kind_words": visit.get_kind_display(),
        "planned_on": visit.planned_on,
        "outcome": visit.outcome,
        "required": [
            {"kind": one.kind, "title": one.title, "method": one.method or None} for one in required
        ],
        "done": [_done(run) for run in runs if run.visit_id == visit.pk],
    }


def _done(run: TestRun) -> dict[str, Any]:
    result = run.result
    return {
        "kind": run.kind,
        "method": run.method,
        "phase": run.phase,
        "taken_at": run.taken_at,
        "verdict": result.verdict if result else None,
        "answer": result.answer if result else "",
        "words": (result.figures.get("words") or "") if result else "",
        "headline": _headline(result),
    }


def _headline(result: Result | None) -> str:
    """The first figure in words; empty while nothing is computed."""
    if result is None:
        return ""
    shown = result.figures.get("shown")
    if shown:
        return f"{shown[0]['name']}: {words.figure(shown[0]['quantity'], shown[0])}"
    return "" if result.flow_50 is None else f"{words.flow(result.flow_50)} at 50 Pa"


def _before(runs: Iterable[TestRun]) -> dict[str, Any] | None:
    """The tightness test that one after the work will be held against; an accepted one first."""
    usable = [
        (run, run.result)
        for run in runs
        if (run.kind, run.phase) == (TIGHTNESS, TestRun.Phase.BEFORE)
        and run.review != TestRun.Review.RETURNED
        and run.result is not None
        and run.result.may_be_reported
    ]
    if not usable:
        return None
    accepted = TestRun.Review.ACCEPTED
    run, result = max(usable, key=lambda one: (one[0].review == accepted, one[0].taken_at))
    figures, series = result.figures, result.figures.get("series") or []
    directions = [one["direction"] for one in series]
    return {
        "setup": figures.get("setup") or {},
        "method": run.method,
        "direction": directions[0] if len(directions) == 1 else "both" if directions else None,
        "flow_50_m3s": result.flow_50,
        "exponent": (figures.get("exponent") or {}).get("value"),
        "points": figures.get("points_used"),
        "taken_at": run.taken_at,
    }
