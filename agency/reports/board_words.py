"""What a quarter's figures say, in plain sentences for a board; no figure, no sentence."""

from collections.abc import Iterable

from agency.wording import words

from .disclosure import Telling
from .quarter import QuarterReport
from .report_words import energy_words, money_words

HIDING = "Small numbers of homes are withheld, so that nobody's home can be told from this paper."


def board_sentences(report: QuarterReport, telling: Telling) -> list[tuple[str, list[str]]]:
    """Headings with their sentences, each made of figures of the report alone."""
    parts = [
        ("What was done", _done(report, telling)),
        ("What it achieved", _achieved(report, telling)),
        ("How well it was done", _quality(report, telling)),
        ("What it may save", _saved(report, telling)),
        ("What this paper does not show", _missing(report, telling)),
    ]
    return [(heading, said) for heading, sentences in parts if (said := list(sentences))]


def _homes(n: int) -> str:
    return words.count(n, "home").replace("\u00a0", " ")


def _done(report: QuarterReport, telling: Telling) -> Iterable[str]:
    if not report.units.n:
        yield f"No home was counted. {report.counting_rule}"
        return
    if not telling.hides("units"):
        were = "was" if report.units.n == 1 else "were"
        yield (
            f"{_homes(report.units.n)} {were} counted from {words.day(report.period.first)} to "
            f"{words.day(report.period.last)}."
        )
    yield report.counting_rule
    time = report.cycle_time
    if time.median is not None and not telling.hides("cycle"):
        yield (
            f"From opening a job to its first passed final inspection half of the "
            f"{words.number(time.n)} finished jobs took {words.number(time.median, 1)} days or "
            f"less, and a quarter took {words.number(time.p75, 1)} days or more."
        )


def _achieved(report: QuarterReport, telling: Telling) -> Iterable[str]:
    mean, pooled = report.mean_reduction, report.pooled_reduction
    if mean.value is None or pooled.value is None:
        yield "No home has two tests that can be compared, so no reduction is told."
        return
    if telling.hides("reductions"):
        return
    who = "Enough homes" if telling.hides("pairs") else _homes(mean.n)
    yield (
        f"{who} can be compared before and after the work. The mean of their own "
        f"reductions of air leakage is {words.percent(mean.value, 1)}"
        f"{_between(mean.low, mean.high)}."
    )
    yield (
        f"Taken together their air flow at 50 Pa went from {words.flow(report.flow_before.value)} "
        f"to {words.flow(report.flow_after.value)}, a pooled reduction of "
        f"{words.percent(pooled.value, 1)}{_between(pooled.low, pooled.high)}. The mean counts "
        "every home alike; in the pooled figure leaky homes weigh more."
    )
    worse = report.bins[0].n
    if worse and not telling.hides("bin-0"):
        leak = "leaks" if worse == 1 else "leak"
        yield f"{_homes(worse)} {leak} more than before; every figure includes that."


def _between(low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return ""
    return f" (95 % interval {words.percent(low, 1)} to {words.percent(high, 1)})"


def _quality(report: QuarterReport, telling: Telling) -> Iterable[str]:
    passed, rework = report.first_pass, report.rework
    if passed.value is None or any(map(telling.hides, ("inspected", "first-pass", "rework"))):
        return
    yield (
        f"Of {_homes(passed.whole.n)} first inspected in this time, "
        f"{words.number(passed.part.n)} ({words.percent(passed.value)}) passed at the first final "
        f"inspection and {words.number(rework.part.n)} had to be put right."
    )


def _saved(report: QuarterReport, telling: Telling) -> Iterable[str]:
    total = report.savings_total
    if total is None or telling.hides("fuel-total"):
        return
    yield (
        f"For {_homes(total.homes.n)} a first-year saving was modelled: {energy_words(total)} of "
        f"site energy; in money, {money_words(total)}."
    )
    yield report.savings_note


def _missing(report: QuarterReport, telling: Telling) -> Iterable[str]:
    left_out = report.units.n - report.coverage.part.n
    if left_out and not telling.hides("left-out"):
        yield f"{_homes(left_out)} counted without a pair of tests that can be compared:"
        for heading, (title, groups) in enumerate(report.left_out):
            shown = [not telling.hides(f"left-{heading}-{at}") for at in range(len(groups))]
            if groups and all(shown):
                yield f"{title}: {_homes(sum(group.units.n for group in groups))}."
    if report.units.n and report.counties_without_unit:
        names = ", ".join(one.name for one in report.counties_without_unit)
        yield f"No unit was counted in: {names}."
    if report.corrections and not telling.hides("corrections"):
        noted = words.count(len(report.corrections), "correction").replace("\u00a0", " ")
        yield (
            f"{noted} to quarters locked before were noted in this one; their net effect is "
            f"{words.number(report.corrected_units)} units."
        )
    if not telling.lists_homes:
        yield HIDING
