"""Gates between a job's states: what each asks for, and what of it is there."""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.jobs.models import Job
from agency.jobs.states import STEPS, Step
from agency.rulebook.models import Rule
from agency.rulebook.shipped import RuleSet, effective_on

from .checks import CHECKS, Case, Found, on_file
from .readings import READINGS

VERSION_LENGTH = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One thing a gate asks for, and what is known of it."""

    code: str
    name: str
    state: str
    """A state code with words of its own: done, missing, or advisory where it does not bind."""
    detail: str
    next_step: str
    ids: tuple[str, ...] = ()
    is_binding: bool
    may_be_recorded: bool
    """Whether someone can write it down; else it follows from other records."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """One step of one job with all it asks for."""

    step: Step
    pieces: tuple[Piece, ...]
    rule_version: str

    @property
    def missing(self) -> list[Piece]:
        """What keeps the gate shut."""
        return [piece for piece in self.pieces if piece.state == "missing"]

    @property
    def is_open(self) -> bool:
        """Nothing that binds is missing."""
        return not self.missing

    @property
    def evidence(self) -> list[str]:
        """What the gate saw, as piece and id, for the event's row."""
        return [f"{piece.code}:{one}" for piece in self.pieces for one in piece.ids]


def gate_of(job: Job, code: str, *, by: User, on: date) -> Gate:
    """The gate of one step as it stands for a step taken on `on`."""
    return gates_of(job, [STEPS[code]], by=by, on=on)[0]


def gates_of(job: Job, steps: Iterable[Step], *, by: User, on: date) -> list[Gate]:
    """The gates of several steps, with the rule book read once."""
    rules = effective_on(Rule.objects.effective_on(on), on)
    case = Case(job=job, by=by, on=on, rules=rules)
    return [_gate(case, step, rules) for step in steps]


def refuse_unless_open(gate: Gate, job: Job) -> None:
    """Say what is missing, each with the way to it."""
    if gate.is_open:
        return
    lacking = " ".join(f"{one.name}: {one.detail} {one.next_step}" for one in gate.missing)
    raise ActionRefused(f"{job} cannot be {gate.step.word} yet. {lacking}")


def _gate(case: Case, step: Step, rules: RuleSet) -> Gate:
    prefix = f"gate.{step.code}."
    asked = [rule for rule in rules if rule.code.startswith(prefix)]
    pieces = []
    for rule in asked:
        code = rule.code.removeprefix(prefix)
        check = CHECKS.get(code) or READINGS.get(code)
        found = check(case) if check else on_file(case, code)
        is_binding = rule.severity == "reject"
        pieces.append(
            Piece(
                code=code,
                name=rule.quantity,
                state=_state(found, is_binding=is_binding),
                detail=found.detail,
                next_step="" if found.is_there else rule.next_step,
                ids=found.ids,
                is_binding=is_binding,
                may_be_recorded=found.may_be_recorded,
            )
        )
    told = [[rule.code, rule.severity, rule.limit, str(rule.effective_from)] for rule in asked]
    version = hashlib.sha256(json.dumps(told).encode()).hexdigest()[:VERSION_LENGTH]
    return Gate(step=step, pieces=tuple(pieces), rule_version=version)


def _state(found: Found, *, is_binding: bool) -> str:
    if found.is_there:
        return "done"
    return "missing" if is_binding else "advisory"
