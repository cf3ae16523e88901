"""The charts of a printed report as SVG; what is withheld is not drawn."""

from collections.abc import Sequence

from agency.charts.bars import Measure, draw_bars
from agency.charts.distribution import Bar, draw_distribution
from agency.charts.pairs import PairedHome, draw_pairs
from agency.wording import words

from .breakdowns import Band, Breakdown
from .disclosure import Telling
from .quarter import QuarterReport
from .table import PERCENT


def spread_picture(report: QuarterReport, telling: Telling) -> str | None:
    """How many homes improved by how much; None without a pair, or where a count is withheld."""
    bars = [
        Bar(name=one.short, homes=one.n, worse=one.low is None)
        for place, one in enumerate(report.bins)
        if not telling.hides(f"bin-{place}")
    ]
    if len(bars) < len(report.bins) or not any(bar.homes for bar in bars):
        return None
    return draw_distribution(
        bars,
        title="Homes by reduction of the air flow at 50 Pa",
        measure="Reduction of the flow at 50 Pa",
    )


def flows_picture(report: QuarterReport, telling: Telling) -> str | None:
    """All flow of the pairs before and after the work, two bars from zero."""
    before, after = report.flow_before.value, report.flow_after.value
    if before is None or after is None or telling.hides("reductions"):
        return None
    pairs = PairedHome(label="All pairs", before=before / words.CFM, after=after / words.CFM)
    return draw_pairs(
        [pairs],
        title="Air flow at 50 Pa of all pairs before and after the work",
        measure="Air flow at 50 Pa, all pairs together",
        unit="cfm",
    )


def reductions_picture(report: QuarterReport, key: str, telling: Telling) -> str | None:
    """Pooled reduction of each group of one property."""
    shown = [
        (band, value / PERCENT)
        for name, band in _bands(report, key)
        if (value := band.reductions.pooled_reduction.value) is not None
        and not telling.hides(f"{name}-pairs")
    ]
    return _bars(
        [Measure(label=f"{band.name}, n = {band.pairs.n}", value=round(x, 1)) for band, x in shown],
        title=f"Pooled reduction {_title(report, key)}",
        measure="Pooled reduction",
        unit="%",
    )


def units_picture(report: QuarterReport, key: str, telling: Telling) -> str | None:
    """Counted units of each group of one property."""
    shown = [
        Measure(label=band.name, value=band.units.n)
        for name, band in _bands(report, key)
        if not telling.hides(f"{name}-units")
    ]
    title = f"Units counted {_title(report, key)}"
    return _bars(shown, title=title, measure="Counted in the quarter", unit="units")


def _bars(bars: Sequence[Measure], *, title: str, measure: str, unit: str) -> str | None:
    if not bars:
        return None
    return draw_bars(bars, title=title, measure=measure, unit=unit)


def _bands(report: QuarterReport, key: str) -> list[tuple[str, Band]]:
    bands = _breakdown(report, key).bands
    return [(f"band-{key}-{place}", band) for place, band in enumerate(bands)]


def _title(report: QuarterReport, key: str) -> str:
    title = _breakdown(report, key).title
    return title[:1].lower() + title[1:]


def _breakdown(report: QuarterReport, key: str) -> Breakdown:
    return next(one for one in report.breakdowns if one.key == key)
