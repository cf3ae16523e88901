"""A quarter's report in the words and rows of its page; every figure knows its jobs."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from agency.reports.bench import BenchLine
from agency.reports.quarter import Figure, FuelSum, Group, QuarterReport, Share
from agency.reports.rows import JobRow, fuel_word
from agency.wording import words


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One figure: its name, its words, its interval, how many homes, and the key of its jobs."""

    key: str
    name: str
    value: str
    interval: str = ""
    homes: str = ""
    jobs: Sequence[UUID] = ()


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

    @property
    def lines(self) -> dict[str, Line]:
        """Every figure that can be followed to its jobs, by its key."""
        listed = [*self.counts, *self.reductions, *self.spread, *self.bins]
        listed += [*self.savings, *self.not_estimated]
        listed += [line for heading in self.left_out for line in heading.lines]
        listed += [line for one in self.bench for line in one.lines]
        return {line.key: line for line in listed if line.key}


def report_words(report: QuarterReport) -> ReportWords:
    """Word the whole report."""
    return ReportWords(
        counts=_counts(report),
        reductions=[
            _reduction("mean", report.mean_reduction),
            _reduction("pooled", report.pooled_reduction),
            _flow("flow-before", report.flow_before),
            _flow("flow-after", report.flow_after),
            _flow("flow-saved", report.flow_saved),
        ],
        spread=_spread(report),
        bins=[
            Line(
                key=f"bin-{number}",
                name=one.label,
                value=words.number(one.n),
                jobs=one.jobs,
            )
            for number, one in enumerate(report.bins)
        ],
        left_out=[
            _heading(number, title, groups)
            for number, (title, groups) in enumerate(report.left_out)
            if groups
        ],
        homes=[_home(row) for row in report.rows],
        savings=_savings(report),
        not_estimated=[_group("unestimated", *one) for one in enumerate(report.not_estimated)],
        bench=[_bench(number, one) for number, one in enumerate(report.bench)],
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


def _bench(number: int, line: BenchLine) -> BenchWords:
    return BenchWords(
        title=f"{line.title}, {words.coded(line.method).lower()}",
        tests=words.count(line.tests, "test"),
        answers=[
            Line(
                key=f"bench-{number}-{answer}",
                name=words.state(answer).word,
                value=words.number(len(jobs)),
                jobs=jobs,
            )
            for answer, jobs in line.answers.items()
            if jobs
        ],
        pairs=Line(
            key=f"bench-{number}-pairs",
            name="Before and after",
            value=words.number(len(line.pairs)),
            jobs=line.pairs,
        ),
        figure=line.figure or "no figure",
        before=words.figure(line.quantity, {"value": line.mean_before}),
        after=words.figure(line.quantity, {"value": line.mean_after}),
    )


def _homes(number: int) -> str:
    return words.count(number, "home")


def _counts(report: QuarterReport) -> list[Line]:
    units, pairs = report.units, report.coverage.part
    unseen = report.not_detectable
    return [
        Line(key="units", name="Units counted", value=words.number(units.n), jobs=units.jobs),
        Line(
            key="pairs",
            name="Included: comparable pairs of tests",
            value=words.number(pairs.n),
            interval=_share_words(report.coverage),
            jobs=pairs.jobs,
        ),
        Line(
            key="left-out",
            name="Left out of the reductions",
            value=words.number(units.n - pairs.n),
            jobs=tuple(row.job_id for row in report.rows if row.pair is None),
        ),
        Line(
            key="unseen",
            name="Pairs without a reduction larger than its uncertainty; they stay in",
            value=words.number(unseen.n),
            jobs=unseen.jobs,
        ),
        Line(
            key="first-pass",
            name="Passed at the first final inspection",
            value=words.number(report.first_pass.part.n),
            interval=_share_words(report.first_pass),
            jobs=report.first_pass.part.jobs,
        ),
    ]


def _share_words(share: Share) -> str:
    if share.value is None:
        return "nothing to divide by"
    whole = words.number(share.whole.n)
    return f"{words.percent(share.value)} of {whole}"


def _reduction(key: str, figure: Figure) -> Line:
    return Line(
        key=key,
        name=figure.name,
        value=words.percent(figure.value, 1),
        interval=_percent_interval(figure.low, figure.high, figure.without_uncertainty),
        homes=_homes(figure.n),
        jobs=figure.jobs,
    )


def _percent_interval(low: float | None, high: float | None, without: Sequence[UUID] = ()) -> str:
    if low is None or high is None:
        if without:
            return f"no interval: {_homes(len(without))} without a stored uncertainty"
        return words.NOT_MEASURED
    return f"{words.percent(low, 1)} to {words.percent(high, 1)}"


def _flow(key: str, figure: Figure) -> Line:
    return Line(
        key=key,
        name=figure.name,
        value=words.flow(figure.value),
        interval=_flow_interval(figure.low, figure.high),
        homes=_homes(figure.n),
        jobs=figure.jobs,
    )


def _flow_interval(low: float | None, high: float | None) -> str:
    return "" if low is None or high is None else f"{words.flow(low)} to {words.flow(high)}"


def _spread(report: QuarterReport) -> list[Line]:
    """Order statistics; with too few homes only their number."""
    found = report.distribution
    lines = [Line(key="spread", name="Homes", value=words.number(found.n), jobs=found.jobs)]
    if found.median is None:
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
        lines.append(Line(key="", name=name, value=words.percent(value, 1)))
    return lines


def _heading(number: int, title: str, groups: Sequence[Group]) -> Heading:
    return Heading(
        title=title,
        count=_homes(sum(group.units.n for group in groups)),
        lines=[_group(f"left-{number}", place, group) for place, group in enumerate(groups)],
    )


def _group(key: str, place: int, group: Group) -> Line:
    return Line(
        key=f"{key}-{place}",
        name=group.reason[:1].upper() + group.reason[1:],
        value=_homes(group.units.n),
        jobs=group.units.jobs,
    )


def _home(row: JobRow) -> Home:
    is_pair = row.pair is not None
    return Home(
        job=row.job_id,
        number=row.number,
        counted_on=row.counted_on,
        before=words.flow(row.before),
        after=words.flow(row.after),
        difference=words.flow_difference(row.before, row.after) if is_pair else "no pair",
        reduction=words.percent(row.reduction, 1) if is_pair else "no pair",
        interval=_percent_interval(row.reduction_low, row.reduction_high) if is_pair else "",
        verdict=row.verdict_word,
        is_pair=is_pair,
    )


def _savings(report: QuarterReport) -> list[Line]:
    sums: Iterable[FuelSum] = report.savings
    lines = [_fuel(fuel_word(one.fuel), one) for one in sums]
    if report.savings_total is not None:
        lines.append(_fuel("All fuels", report.savings_total))
    return lines


def _fuel(name: str, one: FuelSum) -> Line:
    """Two digits and no more: the ranges are wide. The workbook holds the whole figures."""
    step = words.round_step(one.mmbtu.low, one.mmbtu.high)
    energy = words.quantity_range(
        words.rough(one.mmbtu.low, step),
        words.rough(one.mmbtu.high, step),
        "million Btu",
        1 if step < 1 else 0,
    )
    if one.dollars is None:
        money = "no price held on the day of the estimate"
    else:
        step = max(1.0, words.round_step(one.dollars.low, one.dollars.high))
        money = words.money_range(
            words.rough(one.dollars.low, step), words.rough(one.dollars.high, step)
        )
        if one.priced.n < one.homes.n:
            money = f"{money}, {_homes(one.priced.n)} priced"
    return Line(
        key=f"fuel-{one.fuel}",
        name=name,
        value=energy,
        interval=money,
        homes=_homes(one.homes.n),
        jobs=one.homes.jobs,
    )
