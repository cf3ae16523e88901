"""What the other kinds of test found in the counted jobs: answers, and before against after."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from agency.diagnostics.documents import KINDS
from agency.diagnostics.models import TIGHTNESS, Result, TestRun

from .rows import JobRow

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


def bench_lines(rows: Iterable[JobRow]) -> tuple[BenchLine, ...]:
    """One line a kind and way, from the accepted results of the counted jobs; one query."""
    jobs = [row.job_id for row in rows]
    results = (
        Result.objects.current()
        .filter(test_run__job__in=jobs, test_run__review=TestRun.Review.ACCEPTED)
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
    found: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for one in results:
        found.setdefault((one["test_run__kind"], one["test_run__method"]), []).append(one)
    order = list(KINDS)
    ranked = sorted(found, key=lambda key: (order.index(key[0]) if key[0] in KINDS else 99, key))
    return tuple(_line(kind, method, found[kind, method]) for kind, method in ranked)


def _line(kind: str, method: str, results: Sequence[Mapping[str, Any]]) -> BenchLine:
    latest = {one["test_run__job_id"]: one["answer"] for one in results}
    main = next((shown[0] for one in results if (shown := one["figures__shown"])), None)
    pairs = _pairs(results, main["quantity"] if main else "")
    return BenchLine(
        kind=kind,
        title=KINDS[kind].form.title if kind in KINDS else kind,
        method=method,
        figure=main["name"] if main else "",
        quantity=main["quantity"] if main else "number",
        tests=len(results),
        answers={
            answer: tuple(job for job, said in latest.items() if said == answer)
            for answer in Result.Answer.values
        },
        jobs=tuple(latest),
        pairs=tuple(pairs),
        mean_before=_mean([before for before, _ in pairs.values()]),
        mean_after=_mean([after for _, after in pairs.values()]),
    )


def _pairs(results: Sequence[Mapping[str, Any]], quantity: str) -> dict[UUID, tuple[float, float]]:
    """The last main figure before and the last after the work, of each job that has both."""
    sides: dict[UUID, dict[str, float]] = {}
    for one in results:
        shown = one["figures__shown"]
        first = shown[0] if shown else None
        if not first or first["value"] is None or first["quantity"] != quantity:
            continue
        phase = one["test_run__phase"]
        side = "before" if phase == BEFORE else "after" if phase in AFTER else ""
        if side:
            sides.setdefault(one["test_run__job_id"], {})[side] = first["value"]
    return {
        job: (found["before"], found["after"])
        for job, found in sides.items()
        if len(found) == len(("before", "after"))
    }


def _mean(values: Sequence[float]) -> float | None:
    return sum(values) / len(values) if values else None
