"""The states of a job and the steps between them: who takes each, from where, to where."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.db import models

from agency.accounts.models import User


class Status(models.TextChoices):
    """Where a job stands, in the order in which a job that goes well passes through."""

    APPLICATION = "application", "Application"
    INFO_NEEDED = "info_needed", "Papers missing"
    WAITLISTED = "waitlisted", "On the waiting list"
    AUDIT_SCHEDULED = "scheduled_audit", "Audit scheduled"
    AUDIT_IN_PROGRESS = "audit_in_progress", "Audit in progress"
    AUDIT_REVIEW = "audit_review", "Audit in review"
    DEFERRED = "deferred", "Deferred"
    WORK_ORDERED = "work_ordered", "Work ordered"
    SCHEDULED = "scheduled", "Scheduled"
    IN_PROGRESS = "in_progress", "In progress"
    TESTED_OUT = "tested_out", "Tested out"
    INSPECTION_SCHEDULED = "inspection_scheduled", "Inspection scheduled"
    REWORK = "rework", "Rework"
    INSPECTION_PASSED = "inspection_passed", "Inspection passed"
    APPROVED = "approved", "Approved"
    REPORTED = "reported", "Reported"
    DENIED = "denied", "Denied"
    WITHDRAWN = "withdrawn", "Withdrawn"
    CANCELLED = "cancelled", "Cancelled"


CLOSED = frozenset({Status.APPROVED, Status.REPORTED})
"""Done and approved; a report counts these."""
ENDED = CLOSED | {Status.DENIED, Status.WITHDRAWN, Status.CANCELLED}
"""Nothing moves these any more but a reopening of a closed one."""
OPEN = frozenset(Status) - ENDED

CLERKS = frozenset({User.Role.OFFICE, User.Role.MANAGER, User.Role.ADMIN})
MANAGERS = frozenset({User.Role.MANAGER, User.Role.ADMIN})
INSPECTORS = frozenset({User.Role.INSPECTOR})
ON_SITE = CLERKS | INSPECTORS | {User.Role.CREW}
"""Whoever is at the house, and the desk that writes down what they telephone in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One way from state to state."""

    code: str
    word: str
    """Completes "this job cannot be ...", and names the step on a button."""
    sources: frozenset[Status]
    goals: tuple[Status, ...]
    """The first is where the step leads unless another is asked for."""
    roles: frozenset[User.Role]
    who: str
    """Those roles in words."""


def _step(
    code: str,
    word: str,
    sources: set[Status] | frozenset[Status],
    goals: Status | tuple[Status, ...],
    roles: frozenset[User.Role],
) -> Step:
    names = {CLERKS: "office staff or a manager", MANAGERS: "a manager"}
    names |= {INSPECTORS: "an inspector", ON_SITE: "someone who is signed in"}
    return Step(
        code=code,
        word=word,
        sources=frozenset(sources),
        goals=goals if isinstance(goals, tuple) else (goals,),
        roles=roles,
        who=names[roles],
    )


_S = Status
_NEW = {_S.APPLICATION, _S.INFO_NEEDED}
_AUDIT = {_S.AUDIT_IN_PROGRESS, _S.AUDIT_REVIEW}

STEPS: Mapping[str, Step] = {
    one.code: one
    for one in (
        _step("ask_papers", "asked for papers", {_S.APPLICATION}, _S.INFO_NEEDED, CLERKS),
        _step("waitlist", "put on the waiting list", _NEW, _S.WAITLISTED, CLERKS),
        _step("deny", "denied", _NEW, _S.DENIED, CLERKS),
        _step(
            "schedule_audit", "scheduled for its audit", {_S.WAITLISTED}, _S.AUDIT_SCHEDULED, CLERKS
        ),
        _step(
            "begin_audit",
            "begun to be audited",
            {_S.AUDIT_SCHEDULED},
            _S.AUDIT_IN_PROGRESS,
            ON_SITE,
        ),
        _step(
            "finish_audit", "sent to audit review", {_S.AUDIT_IN_PROGRESS}, _S.AUDIT_REVIEW, ON_SITE
        ),
        _step("defer", "deferred", _AUDIT, _S.DEFERRED, MANAGERS),
        _step(
            "resume",
            "taken up again",
            {_S.DEFERRED},
            (_S.AUDIT_REVIEW, _S.WAITLISTED, _S.CANCELLED),
            MANAGERS,
        ),
        _step(
            "order_work", "ordered to be worked on", {_S.AUDIT_REVIEW}, _S.WORK_ORDERED, MANAGERS
        ),
        _step("schedule_work", "scheduled for its work", {_S.WORK_ORDERED}, _S.SCHEDULED, CLERKS),
        _step("start", "begun", {_S.SCHEDULED}, _S.IN_PROGRESS, ON_SITE),
        # A crew that came back for findings tests out again, or goes straight to inspection.
        _step("test_out", "tested out", {_S.IN_PROGRESS, _S.REWORK}, _S.TESTED_OUT, ON_SITE),
        _step(
            "schedule_inspection",
            "scheduled for its final inspection",
            {_S.TESTED_OUT},
            _S.INSPECTION_SCHEDULED,
            ON_SITE,
        ),
        _step(
            "pass_inspection",
            "inspection passed",
            {_S.INSPECTION_SCHEDULED},
            _S.INSPECTION_PASSED,
            INSPECTORS,
        ),
        _step("fail_inspection", "rework", {_S.INSPECTION_SCHEDULED}, _S.REWORK, INSPECTORS),
        _step(
            "return_from_rework",
            "sent back to its final inspection",
            {_S.REWORK},
            _S.INSPECTION_SCHEDULED,
            ON_SITE,
        ),
        _step("approve", "approved", {_S.INSPECTION_PASSED}, _S.APPROVED, MANAGERS),
        _step("report", "reported", {_S.APPROVED}, _S.REPORTED, MANAGERS),
        _step("withdraw", "withdrawn", OPEN, _S.WITHDRAWN, CLERKS),
        _step("cancel", "cancelled", OPEN, _S.CANCELLED, MANAGERS),
        _step("reopen", "reopened", CLOSED, (_S.INSPECTION_PASSED, _S.REWORK), MANAGERS),
    )
}
"""Every step by its code, in the order in which a job comes to it."""


def steps_from(status: str) -> list[Step]:
    """The steps that lead out of a state."""
    return [step for step in STEPS.values() if status in step.sources]
