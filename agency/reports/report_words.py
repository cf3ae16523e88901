"""A quarter's report in the words and rows of its page; every figure knows its jobs."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from agency.wording import words

from .bench import BenchLine
from .disclosure import EVERYTHING, HIDDEN_WORD, Telling
from .figures import Figure, Group, Share
from .group_words import (
    BandTable,
    CorrectionWords,
    CrossingWords,
    band_tables,
    corrections_said,
    crossing_said,
    cycle_lines,
)
from .lines import Line, interval_words, percent_interval
from .quarter import FuelSum, QuarterReport
from .rows import JobRow, fuel_word


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """Units that are in no pair for one kind of cause, by reason."""

    title: str
    count: str
    lines: Sequence[Line]


@dataclass(frozen=True, slots=True, kw_only=True)
class Home:
    """One counted job of the pairs table."""

    job: UUID
    number: str
    counted_on: object
    before: str
    after: str
    difference: str
    reduction: str
    interval: str
    verdict: str
    is_pair: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportWords:
    """The page's parts, in its order."""

    counts: Sequence[Line]
    reductions: Sequence[Line]
    spread: Sequence[Line]
    bins: Sequence[Line]
    left_out: Sequence[Heading]
    homes: Sequence[Home]
    savings: Sequence[Line]
    not_estimated: Sequence[Line]
    bench: Sequence["BenchWords"]
    bands: Sequence[BandTable]
    crossing: CrossingWords
    gaps: str
    """Counties without a counted unit, in words."""
    cycle: Sequence[Line]
    corrections: Sequence[CorrectionWords]

    @property
    def lines(self) -> dict[str, Line]:
        """Every figure that can be followed to its jobs, by its key."""
        listed = [*self.counts, *self.reductions, *self.spread, *self.bins, *self.cycle]
        listed += [line for one in self.bands for line in one.lines]
        listed += self.crossing.lines
        listed += [*self.savings, *self.not_estimated]
        listed += [line for heading in self.left_out for line in heading.lines]
        listed += [line for one in self.bench for line in one.lines]
        return {line.key: line for line in listed if line.key}


def report_words(report: QuarterReport, telling: Telling = EVERYTHING) -> ReportWords:
    """Word the whole report; where counts are withheld, no single home is worded."""
    return ReportWords(
        counts=_counts(report, telling),
        reductions=[
            _reduction("mean", report.mean_reduction, telling),
            _reduction("pooled", report.pooled_reduction, telling),
            _flow("flow-before", report.flow_before, telling),
            _flow("flow-after", report.flow_after, telling),
            _flow("flow-saved", report.flow_saved, telling),
        ],
        spread=_spread(report, telling),
        bins=[
            Line(
                key=f"bin-{number}",
                name=one.label,
                value=telling.told(f"bin-{number}", words.number(one.n)),
                jobs=one.jobs,
            )
            for number, one in enumerate(report.bins)
        ],
        left_out=[
            _heading(number, title, groups, telling)
            for number, (title, groups) in enumerate(report.left_out)
            if groups
        ],
        homes=[_home(row) for row in report.rows] if telling.lists_homes else [],
        savings=_savings(report, telling),
        not_estimated=[
            _group(f"unestimated-{place}", group, telling)
            for place, group in enumerate(report.not_estimated)
        ],
        bench=[_bench(f"bench-{number}", one, telling) for number, one in enumerate(report.bench)],
        bands=band_tables(report, telling),
        crossing=crossing_said(report.crossing, telling),
        gaps=", ".join(one.name for one in report.counties_without_unit)
        or "none; every county the agency serves has a counted unit",
        cycle=cycle_lines(report.cycle_time, telling),
        corrections=corrections_said(report.corrections) if telling.lists_homes else [],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchWords:
    """One other kind of test: homes by answer, and its main figure before and after."""

    title: str
    tests: str
    answers: Sequence[Line]
    pairs: Line
    figure: str
    before: str
    after: str

    @property
    def lines(self) -> list[Line]:
        """Everything here that can be followed to its jobs."""
        return [*self.answers, self.pairs]


def _bench(key: str, line: BenchLine, telling: Telling) -> BenchWords:
    pairs = f"{key}-pairs"
    return BenchWords(
        title=f"{line.title}, {words.coded(line.method).lower()}",
        tests=telling.told(f"{key}-homes", words.count(line.tests, "test")),
        answers=[
            Line(
                key=f"{key}-{answer}",
                name=words.state(answer).word,
                value=telling.told(f"{key}-{answer}", words.number(len(jobs))),
                jobs=jobs,
            )
            for answer, jobs in line.answers.items()
            if jobs
        ],
        pairs=Line(
            key=pairs,
            name="Before and after",
            value=telling.told(pairs, words.number(len(line.pairs))),
            jobs=line.pairs,
        ),
        figure=line.figure or "no figure",
        before=telling.told(pairs, words.figure(line.quantity, {"value": line.mean_before})),
        after=telling.told(pairs, words.figure(line.quantity, {"value": line.mean_after})),
    )


def _homes(number: int) -> str:
    return words.count(number, "home")


def _counts(report: QuarterReport, telling: Telling) -> list[Line]:
    units, pairs = report.units, report.coverage.part
    left_out = tuple(row.job_id for row in report.rows if not row.is_pair)

    def line(key: str, name: str, n: int, jobs: Sequence[UUID], interval: str = "") -> Line:
        value = telling.told(key, words.number(n))
        return Line(key=key, name=name, value=value, interval=interval, jobs=jobs)

    def share(key: str, name: str, found: Share, whole: str) -> Line:
        hidden = telling.hides(key) or telling.hides(whole)
        interval = "" if hidden else _share_words(found)
        return line(key, name, found.part.n, found.part.jobs, interval)

    unseen = report.not_detectable
    return [
        line("units", "Units counted", units.n, units.jobs),
        share("pairs", "Included: comparable pairs of tests", report.coverage, "units"),
        line("left-out", "Left out of the reductions", units.n - pairs.n, left_out),
        line(
            "unseen",
            "Pairs without a reduction larger than its uncertainty; they stay in",
            unseen.n,
            unseen.jobs,
        ),
        share("first-pass", "Passed at the first final inspection", report.first_pass, "inspected"),
        share("rework", "Sent back for rework at least once", report.rework, "inspected"),
    ]


def _share_words(share: Share) -> str:
    if share.value is None:
        return "nothing to divide by"
    whole = words.number(share.whole.n)
    return f"{words.percent(share.value)} of {whole}"


def _reduction(key: str, figure: Figure, telling: Telling) -> Line:
    hidden = telling.hides("reductions")
    return Line(
        key=key,
        name=figure.name,
        value=telling.told("reductions", words.percent(figure.value, 1)),
        interval=HIDDEN_WORD if hidden else percent_interval(figure),
        homes=telling.told("pairs", _homes(figure.n)),
        jobs=figure.jobs,
    )


def _flow(key: str, figure: Figure, telling: Telling) -> Line:
    return Line(
        key=key,
        name=figure.name,
        value=telling.told("reductions", words.flow(figure.value)),
        interval=telling.told("reductions", _flow_interval(figure.low, figure.high)),
        homes=telling.told("pairs", _homes(figure.n)),
        jobs=figure.jobs,
    )


def _flow_interval(low: float | None, high: float | None) -> str:
    return "" if low is None or high is None else f"{words.flow(low)} to {words.flow(high)}"


def _spread(report: QuarterReport, telling: Telling) -> list[Line]:
    """Order statistics; with too few homes only their number."""
    found = report.distribution
    told = telling.told("pairs", words.number(found.n))
    lines = [Line(key="spread", name="Homes", value=told, jobs=found.jobs)]
    if found.median is None or telling.hides("reductions"):
        return lines
    for name, value in (
        ("Smallest", found.minimum),
        ("10th percentile", found.p10),
        ("25th percentile", found.p25),
        ("Median", found.median),
        ("Mean", found.mean),
        ("75th percentile", found.p75),
        ("90th percentile", found.p90),
        ("Largest", found.maximum),
        ("Standard deviation", found.standard_deviation),
    ):
        told = words.percent(value, 1)
        if name in {"Smallest", "Largest"}:
            told = telling.told("extremes", told)
        lines.append(Line(key="", name=name, value=told))
    return lines


def _heading(number: int, title: str, groups: Sequence[Group], telling: Telling) -> Heading:
    lines = [_group(f"left-{number}-{at}", group, telling) for at, group in enumerate(groups)]
    hidden = any(telling.hides(line.key) for line in lines)
    count = HIDDEN_WORD if hidden else _homes(sum(group.units.n for group in groups))
    return Heading(title=title, count=count, lines=lines)


def _group(key: str, group: Group, telling: Telling) -> Line:
    return Line(
        key=key,
        name=group.reason[:1].upper() + group.reason[1:],
        value=telling.told(key, _homes(group.units.n)),
        jobs=group.units.jobs,
    )


def _home(row: JobRow) -> Home:
    is_pair = row.is_pair
    return Home(
        job=row.job_id,
        number=row.number,
        counted_on=row.counted_on,
        before=words.flow(row.before),
        after=words.flow(row.after),
        difference=words.flow_difference(row.before, row.after) if is_pair else "no pair",
        reduction=words.percent(row.reduction, 1) if is_pair else "no pair",
        interval=interval_words(row.reduction_low, row.reduction_high) if is_pair else "",
        verdict=row.verdict_word,
        is_pair=is_pair,
    )


def _savings(report: QuarterReport, telling: Telling) -> list[Line]:
    sums: Iterable[FuelSum] = report.savings
    lines = [_fuel(fuel_word(one.fuel), one, telling) for one in sums]
    if report.savings_total is not None:
        lines.append(_fuel("All fuels", report.savings_total, telling))
    return lines


def _fuel(name: str, one: FuelSum, telling: Telling) -> Line:
    key = f"fuel-{one.fuel}"
    return Line(
        key=key,
        name=name,
        value=telling.told(key, energy_words(one)),
        interval=telling.told(key, money_words(one)),
        homes=telling.told(key, _homes(one.homes.n)),
        jobs=one.homes.jobs,
    )


def energy_words(one: FuelSum) -> str:
    """Two digits and no more: the ranges are wide. The workbook holds the whole figures."""
    step = words.round_step(one.mmbtu.low, one.mmbtu.high)
    return words.quantity_range(
        words.rough(one.mmbtu.low, step),
        words.rough(one.mmbtu.high, step),
        "million Btu",
        1 if step < 1 else 0,
    )


def money_words(one: FuelSum) -> str:
    """The same for money, and how many homes have a price."""
    if one.dollars is None:
        return "no price held on the day of the estimate"
    step = max(1.0, words.round_step(one.dollars.low, one.dollars.high))
    money = words.money_range(
        words.rough(one.dollars.low, step), words.rough(one.dollars.high, step)
    )
    unpriced = one.priced.n < one.homes.n
    return f"{money}, {_homes(one.priced.n)} priced" if unpriced else money
