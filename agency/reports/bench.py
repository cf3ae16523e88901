"""What the other kinds of test found in the counted jobs: answers, and before against after."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from agency.diagnostics.documents import KINDS
from agency.diagnostics.models import TIGHTNESS, Result, TestRun
from agency.jobs.models import Job

BEFORE = TestRun.Phase.BEFORE
AFTER = frozenset({TestRun.Phase.AFTER, TestRun.Phase.INSPECTION})


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchLine:
    """Accepted results of one kind and way of testing. Figures in SI; None without a pair."""

    kind: str
    title: str
    method: str
    figure: str
    """What the main figure is: one word for the whole line."""
    quantity: str
    tests: int
    answers: dict[str, tuple[UUID, ...]]
    """Jobs whose latest test answered so, by answer."""
    jobs: tuple[UUID, ...]
    pairs: tuple[UUID, ...]
    """Jobs with a main figure before and after the work, the same way."""
    mean_before: float | None
    mean_after: float | None

    @property
    def mean_change(self) -> float | None:
        """After less before, mean of the pairs."""
        if self.mean_before is None or self.mean_after is None:
            return None
        return self.mean_after - self.mean_before


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchTest:
    """The accepted result of one test that is not of tightness. `value` in SI; None: no figure."""

    job_id: UUID
    kind: str
    method: str
    phase: str
    answer: str
    figure: str
    """Name of the main figure; empty without one."""
    quantity: str
    value: float | None


def bench_tests(jobs: QuerySet[Job]) -> tuple[BenchTest, ...]:
    """The accepted results of these jobs in the order of the tests; one query."""
    found = (
        Result.objects.current()
        .filter(test_run__job__in=jobs.order_by().values("pk"))
        .filter(test_run__review=TestRun.Review.ACCEPTED)
        .filter(verdict__in=[Result.Verdict.VALID, Result.Verdict.ADVISORY])
        .exclude(test_run__kind=TIGHTNESS)
        .order_by("test_run__taken_at", "id")
        .values(
            "answer",
            "figures__shown",
            "test_run__job_id",
            "test_run__kind",
            "test_run__method",
            "test_run__phase",
        )
    )
    return tuple(_test(one) for one in found)


def _test(stored: Mapping[str, Any]) -> BenchTest:
    shown = stored["figures__shown"]
    main = shown[0] if shown else {}
    return BenchTest(
        job_id=stored["test_run__job_id"],
        kind=stored["test_run__kind"],
        method=stored["test_run__method"],
        phase=stored["test_run__phase"],
        answer=stored["answer"],
        figure=main.get("name", ""),
        quantity=main.get("quantity", ""),
        value=main.get("value"),
    )


def bench_lines(tests: Iterable[BenchTest]) -> tuple[BenchLine, ...]:
    """One line a kind and way of testing, in the order of the kinds."""
    found: dict[tuple[str, str], list[BenchTest]] = {}
    for one in tests:
        found.setdefault((one.kind, one.method), []).append(one)
    order = list(KINDS)
    ranked = sorted(found, key=lambda key: (order.index(key[0]) if key[0] in KINDS else 99, key))
    return tuple(_line(kind, method, found[kind, method]) for kind, method in ranked)


def _line(kind: str, method: str, tests: Sequence[BenchTest]) -> BenchLine:
    latest = {one.job_id: one.answer for one in tests}
    main = next((one for one in tests if one.figure), None)
    pairs = _pairs(tests, main.quantity if main else "")
    return BenchLine(
        kind=kind,
        title=KINDS[kind].form.title if kind in KINDS else kind,
        method=method,
        figure=main.figure if main else "",
        quantity=main.quantity if main else "number",
        tests=len(tests),
        answers={
            answer: tuple(job for job, said in latest.items() if said == answer)
            for answer in Result.Answer.values
        },
        jobs=tuple(latest),
        pairs=tuple(pairs),
        mean_before=_mean([before for before, _ in pairs.values()]),
        mean_after=_mean([after for _, after in pairs.values()]),
    )


def _pairs(tests: Sequence[BenchTest], quantity: str) -> dict[UUID, tuple[float, float]]:
    """The last main figure before and the last after the work, of each job that has both."""
    sides: dict[UUID, dict[str, float]] = {}
    for one in tests:
        if one.value is None or one.quantity != quantity:
            continue
        side = "before" if one.phase == BEFORE else "after" if one.phase in AFTER else ""
        if side:
            sides.setdefault(one.job_id, {})[side] = one.value
    return {
        job: (found["before"], found["after"])
        for job, found in sides.items()
        if len(found) == len(("before", "after"))
    }


def _mean(values: Sequence[float]) -> float | None:
    return sum(values) / len(values) if values else None
