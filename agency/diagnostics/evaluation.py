"""What goes into the evaluation of a test and what comes out of it, as plain records."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class EquationFacts:
    """A fan's flow equation from the register; the same fields as in a document."""

    configuration: str
    direction: str = ""
    """Empty: both directions."""
    coefficient: float
    exponent: float
    lowest_pressure: float
    highest_pressure: float
    flow_unit: str
    air_density: float


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentFacts:
    """What the register knows of one gauge or fan. None means that it does not say."""

    serial: str
    calibrated_on: date | None = None
    due_on: date | None = None
    accuracy_percent: float | None = None
    accuracy_pa: float | None = None
    resolution_pa: float | None = None
    equations: tuple[EquationFacts, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class GeometryFacts:
    """The register's sizes of the house; each comes before the document's own."""

    floor_area_sqft: float | None = None
    volume_cuft: float | None = None
    height_ft: float | None = None
    envelope_area_sqft: float | None = None
    elevation_ft: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierResult:
    """An earlier result of the same house, for questions of order and size."""

    phase: str
    taken_at: datetime
    flow_50: float
    """[m³/s]"""
    method: str = ""
    setup: Mapping[str, str] = field(default_factory=dict)
    readings_hash: str = ""
    is_reportable: bool = True
    """Neither provisional nor sent back to the crew."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeCheckFacts:
    """One check of a gauge: zero and hoses."""

    serial: str
    taken_at: datetime
    answer: str
    """met, missed or open"""


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchResult:
    """An earlier result of another kind of test of the same job."""

    kind: str
    method: str
    phase: str
    taken_at: datetime
    details: Mapping[str, Any] = field(default_factory=dict)
    """Figures under fixed names, in SI."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What the agency knows beside the document. None means not known, and is never guessed."""

    geometry: GeometryFacts | None = None
    instruments: Mapping[str, InstrumentFacts] = field(default_factory=dict)
    """By serial number."""
    earlier: tuple[EarlierResult, ...] = ()
    received_at: datetime | None = None
    clock_ahead_by_seconds: float | None = None
    """Phone's clock less ours when it sent; None when the phone did not say."""
    made_by_job_crew: bool | None = None
    work_started_on: date | None = None
    confirmed: frozenset[str] = frozenset()
    """Codes of questions someone has answered: the value stands as it was sent."""
    swapped: frozenset[str] = frozenset()
    """Channels of the gauge whose sides a reviewer found to be swapped."""
    gauge_checks: tuple[GaugeCheckFacts, ...] | None = None
    """Checks of the gauge and its hoses made on the same visit; None where no visit is named."""
    bench: tuple[BenchResult, ...] = ()
    """Reportable results of the same job's other bench tests, made before this one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One rule held against the test."""

    code: str
    standard: str
    edition: str
    clause: str
    status: str
    """pass, advisory, reject or not_verifiable"""
    severity: str
    """What a miss means: reject, advisory, or question (held until someone answers)."""
    measured: float | None
    limit: str
    unit: str
    message: str
    next_step: str
    provenance: str
    source: str
    field: str
    confirmed: bool = False

    @property
    def holds_back(self) -> bool:
        """An open question: the result stays provisional until someone answers."""
        return self.severity == "question" and self.status == "advisory" and not self.confirmed

    def as_dict(self) -> dict[str, Any]:
        """The same as plain data."""
        return asdict(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A hazard that stops the job until it is cleared: what was found, and what to do now."""

    hazard: str
    words: str
    steps: tuple[str, ...]
    cautions: str

    def as_dict(self) -> dict[str, Any]:
        """The same as plain data."""
        return {**asdict(self), "steps": list(self.steps)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the calculation in words and numbers."""

    what: str
    formula: str
    numbers: Mapping[str, str]
    value: float | None
    unit: str
    source: str
    provenance: str

    def as_dict(self) -> dict[str, Any]:
        """The same as plain data."""
        return {**asdict(self), "numbers": dict(self.numbers)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Evaluation:
    """The result of one test run."""

    verdict: str
    """valid, advisory, rejected, provisional or not_computed"""
    method: str
    edition: str
    maths_version: str
    input_hash: str
    flow_50: float | None
    """[m³/s]"""
    figures: dict[str, Any]
    checks: list[dict[str, Any]]
    steps: list[dict[str, Any]]
    answer: str = ""
    """found, met, missed, action or open; empty for a kind that asks no such question"""
    stops: list[dict[str, Any]] = field(default_factory=list)

    def as_dict(self) -> dict[str, Any]:
        """The same as plain data, without the steps."""
        plain = asdict(self)
        del plain["steps"]
        return plain


@dataclass(frozen=True, slots=True, kw_only=True)
class TestSide:
    """One of the two tests of a comparison: its stored figures and what they rest on."""

    __test__ = False

    figures: Mapping[str, Any]
    phase: str
    method: str
    edition: str
    taken_at: datetime
    """By our clock."""
    verdict: str
    maths_version: str
    geometry: Mapping[str, float | None] = field(default_factory=dict)
    """Sizes the figures were divided by, in one unit for both tests."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparisonOutcome:
    """Before against after."""

    verdict: str
    """detectable, not_detectable, not_comparable, no_before or no_after"""
    before_flow_50: float | None
    after_flow_50: float | None
    reduction: float | None
    """Share of the flow before; negative where the house got leakier."""
    reduction_uncertainty: float | None
    """Standard, k = 1, the same share."""
    reasons: list[dict[str, Any]]
    """Each with code, message, and whether it forbids the comparison."""
    figures: dict[str, Any]
    maths_version: str
    input_hash: str


def input_hash(inputs: object) -> str:
    """SHA-256 of everything a figure rests on, as JSON with sorted names."""
    text = json.dumps(inputs, sort_keys=True, separators=(",", ":"), default=_as_text)
    return hashlib.sha256(text.encode()).hexdigest()


def _as_text(value: object) -> object:
    if isinstance(value, frozenset | set):
        return sorted(value)
    if isinstance(value, date | datetime):
        return value.isoformat()
    return str(value)
