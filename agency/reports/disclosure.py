"""The counts of a report by name, which add up to which, and those to withhold from strangers."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from agency.errors import ActionRefused
from agency.jobs.models import Job
from agency.rulebook.models import Rule

from .breakdowns import Crossing
from .quarter import QuarterReport
from .withholding import Sum, withheld

HIDDEN_WORD = "withheld"
"""Stands where a count or a figure of few homes would stand."""
RULE = "report.smallest_count"
"""The rule that says how small a count may be told."""
Hidden = frozenset[str]
NOTHING: Hidden = frozenset()
Add = Callable[[str, int, Iterable[tuple[str, int]]], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Whose home it is, and where; only in files that were asked for with names."""

    client: str
    address: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Telling:
    """What a file may say beyond, or not say of, the report as it is."""

    hidden: Hidden | None = None
    """Counts to withhold; with a set, even an empty one, single homes are left out as well."""
    people: Mapping[UUID, Person] | None = None
    """By job; None: no names."""

    @property
    def lists_homes(self) -> bool:
        """Whether single homes may be listed."""
        return self.hidden is None

    def told(self, name: str, value: Any) -> Any:
        """The value, unless it is of a count that is withheld."""
        return HIDDEN_WORD if self.hides(name) else value

    def hides(self, name: str) -> bool:
        """Whether this count is withheld."""
        return self.hidden is not None and name in self.hidden


EVERYTHING = Telling()
"""As it is, without names."""


def people_of(report: QuarterReport) -> dict[UUID, Person]:
    """Names and addresses of the counted jobs as they stand now."""
    # By date and not by a hundred thousand ids; jobs that left a locked quarter are asked by id.
    listed = {row.job_id for row in report.rows}
    first, last = report.period.first, report.period.last
    found = _people(Job.objects.filter(inspection_passed_on__range=(first, last)))
    gone = listed - found.keys()
    return {
        job: one
        for job, one in (found | _people(Job.objects.filter(pk__in=gone))).items()
        if job in listed
    }


def _people(jobs: QuerySet[Job]) -> dict[UUID, Person]:
    return {
        job.pk: Person(client=job.client.name, address=job.house.one_line)
        for job in jobs.select_related("house", "client").iterator(chunk_size=2000)
    }


def smallest_count(on: date) -> int:
    """The rule in force for the smallest count that may be told."""
    rule = Rule.objects.effective_on(on).filter(code=RULE).last()
    if rule is None or rule.limit is None:
        raise ActionRefused(
            f"The rule book holds no number for {RULE} on {on}. Load the rules that came with "
            "this version, or enter one."
        )
    return int(rule.limit)


def hidden_in(report: QuarterReport, *, smallest: int) -> Hidden:
    """Names of all counts of the report to withhold."""
    counts: dict[str, int] = {}
    sums: list[Sum] = []

    def add(total: str, whole: int, parts: Iterable[tuple[str, int]]) -> None:
        listed = list(parts)
        counts[total] = whole
        counts.update(listed)
        # A house with two jobs can stand in two parts; then nothing adds up, and nothing is gained.
        if whole == sum(n for _, n in listed):
            sums.append(Sum(total=total, parts=tuple(name for name, _ in listed)))

    _whole(report, add)
    _crossing(report, add)
    _bands(report, add)
    _bench(report, add)
    hidden = withheld(counts, sums, smallest=smallest)
    return hidden | _fuels(report, smallest) | _figures(report, smallest)


def _figures(report: QuarterReport, smallest: int) -> Hidden:
    """Figures of all pairs need enough pairs, even where their number itself is withheld.

    The smallest and the largest reduction are each of a single home.
    """
    few = report.coverage.part.n < smallest
    return frozenset({"extremes", *(["reductions"] if few else [])})


def _whole(report: QuarterReport, add: Add) -> None:
    units, pairs = report.units.n, report.coverage.part.n
    add("units", units, [("pairs", pairs), ("left-out", units - pairs)])
    add("pairs", pairs, [
        ("unseen", report.not_detectable.n), ("seen", pairs - report.not_detectable.n),
    ])  # fmt: skip
    add("pairs", pairs, [(f"bin-{place}", one.n) for place, one in enumerate(report.bins)])
    reasons = [
        (f"left-{heading}-{place}", group.units.n)
        for heading, (_, groups) in enumerate(report.left_out)
        for place, group in enumerate(groups)
    ]
    add("left-out", units - pairs, reasons)
    inspected = report.first_pass.whole.n
    passed, failed = report.first_pass.part.n, report.rework.part.n
    add("inspected", inspected, [("first-pass", passed), ("rework", failed)])
    # As a rule each counted unit is one finished job, and one number tells the other.
    add("units", units, [("cycle", report.cycle_time.n)])
    add("corrected", abs(report.corrected_units), [])
    add("corrections", len(report.corrections), [])
    estimated = report.savings_total.homes.n if report.savings_total else 0
    bare = [(f"unestimated-{at}", one.units.n) for at, one in enumerate(report.not_estimated)]
    add("pairs", pairs, [("fuel-total", estimated), *bare])


def _crossing(report: QuarterReport, add: Add) -> None:
    table = report.crossing
    for row, line in enumerate(table.rows):
        cells = [(f"cross-{row}-{place}", one.n) for place, one in enumerate(line.cells)]
        add(f"cross-{row}-total", line.total.n, cells)
    for place, total in enumerate(table.totals):
        cells = [(f"cross-{row}-{place}", one.cells[place].n) for row, one in enumerate(table.rows)]
        add(f"cross-total-{place}", total.n, cells)
    rows = [(f"cross-{row}-total", one.total.n) for row, one in enumerate(table.rows)]
    add("units", table.total.n, rows)
    columns = [(f"cross-total-{place}", one.n) for place, one in enumerate(table.totals)]
    add("units", table.total.n, columns)


def crossing_key(table: Crossing, *, row: int, place: int) -> str:
    """Name of a count of the table; the row and the place after the last are the totals."""
    rows, places = len(table.rows), len(table.fuels)
    if row == rows and place == places:
        return "units"
    where = "total" if row == rows else str(row), "total" if place == places else str(place)
    return f"cross-{'-'.join(where)}"


def _bands(report: QuarterReport, add: Add) -> None:
    for one in report.breakdowns:
        names = [f"band-{one.key}-{place}" for place in range(len(one.bands))]
        of_units = [
            (f"{name}-units", band.units.n) for name, band in zip(names, one.bands, strict=True)
        ]
        of_pairs = [
            (f"{name}-pairs", band.pairs.n) for name, band in zip(names, one.bands, strict=True)
        ]
        add("units", report.units.n, of_units)
        add("pairs", report.coverage.part.n, of_pairs)
        for (name, whole), (part, n) in zip(of_units, of_pairs, strict=True):
            add(name, whole, [(part, n), (f"{part}-none", whole - n)])


def _bench(report: QuarterReport, add: Add) -> None:
    for place, line in enumerate(report.bench):
        name = f"bench-{place}"
        answers = [(f"{name}-{answer}", len(jobs)) for answer, jobs in line.answers.items()]
        add(f"{name}-homes", len(line.jobs), answers)
        pairs = len(line.pairs)
        add(f"{name}-homes", len(line.jobs), [
            (f"{name}-pairs", pairs), (f"{name}-single", len(line.jobs) - pairs),
        ])  # fmt: skip


def _fuels(report: QuarterReport, smallest: int) -> Hidden:
    """Sums of savings add up over the fuels: of these never one alone is withheld.

    A home may save two fuels, so their numbers of homes do not add up and say nothing.
    """
    total = report.savings_total
    if total is None:
        return NOTHING
    sizes = {f"fuel-{one.fuel}": one.homes.n for one in (*report.savings, total)}
    hidden = {name for name, n in sizes.items() if n < smallest}
    if len(hidden) == 1:
        hidden.add(min(sizes.keys() - hidden, key=lambda name: (sizes[name], name)))
    return frozenset(hidden)
