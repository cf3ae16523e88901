"""Charts of a page, drawn wide and for phones, with the rows of their table twins."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from agency.charts.distribution import Bar, draw_distribution
from agency.charts.drawing import NARROW, WIDE
from agency.charts.errors import ChartError
from agency.charts.fit import draw_fit, series_from_figures
from agency.charts.pairs import PairedHome, draw_pairs
from agency.diagnostics.models import Result
from agency.reports.distribution import Bin
from agency.reports.rows import JobRow
from agency.wording import words


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A chart as SVG beside the same figures as a table."""

    title: str
    wide: str
    narrow: str
    caption: str
    columns: Sequence[str]
    rows: Sequence[Sequence[str]]


def fit_drawing(result: Result | None, title: str) -> Drawing | None:
    """Flow against house pressure with the fitted line; None when nothing can be drawn."""
    if result is None or not result.figures.get("series"):
        return None
    figures = json.dumps({"series": result.figures["series"]})
    try:
        wide, narrow = _fit(figures, title, WIDE), _fit(figures, title, NARROW)
    except ChartError:
        return None
    return Drawing(
        title=title,
        wide=wide,
        narrow=narrow,
        caption="Shaded: the range that holds the line with 95 % confidence. "
        "Hollow, crossed points are left out of the fit.",
        columns=["House pressure", "Direction", "Flow", "Off the line by", "Used in the fit"],
        rows=_fit_rows(result),
    )


def distribution_drawing(bins: Sequence[Bin]) -> Drawing | None:
    """How many homes improved by how much; None when no home can be counted.

    Its table stands beside it on the page, where each count leads to its jobs.
    """
    bars = tuple(Bar(name=one.short, homes=one.n, worse=one.low is None) for one in bins)
    if not any(bar.homes for bar in bars):
        return None
    title = "Reductions of the air flow at 50 Pa"
    measure = "Reduction of the flow at 50 Pa"
    return Drawing(
        title=title,
        wide=_distribution(bars, title, measure, WIDE),
        narrow=_distribution(bars, title, measure, NARROW),
        caption="Each bar is a number of homes. Hatched: homes that leak more than before.",
        columns=(),
        rows=(),
    )


def pairs_drawing(rows: Sequence[JobRow]) -> Drawing | None:
    """Before and after of each home listed; its table stands below it on the page."""
    homes = tuple(
        (row.number, row.before / words.CFM, row.after / words.CFM)
        for row in rows
        if row.pair is not None and row.before is not None and row.after is not None
    )
    if not homes:
        return None
    return Drawing(
        title="Air flow at 50 Pa before and after the work",
        wide=_pairs(homes, WIDE),
        narrow=_pairs(homes, NARROW),
        caption="Hatched: before the work. Solid: after it. Homes without a pair are left out.",
        columns=(),
        rows=(),
    )


def _fit_rows(result: Result) -> list[list[str]]:
    return [
        [
            words.pressure(point.get("pressure")),
            words.coded(one.get("direction")),
            words.flow(point.get("flow")),
            words.percent(point.get("residual"), 1),
            "yes" if point.get("used") else f"no: {point.get('excluded') or 'left out'}",
        ]
        for one in result.figures["series"]
        for point in one.get("points", [])
    ]


@lru_cache(maxsize=256)
def _fit(figures: str, title: str, width: int) -> str:
    """Drawing takes a tenth of a second, and a stored result never changes."""
    return draw_fit(series_from_figures(json.loads(figures)), title=title, width=width)


@lru_cache(maxsize=64)
def _distribution(bars: tuple[Bar, ...], title: str, measure: str, width: int) -> str:
    return draw_distribution(bars, title=title, measure=measure, width=width)


@lru_cache(maxsize=64)
def _pairs(homes: tuple[tuple[str, float, float], ...], width: int) -> str:
    listed = [PairedHome(label=name, before=before, after=after) for name, before, after in homes]
    title = "Air flow at 50 Pa before and after the work"
    return draw_pairs(listed, title=title, measure="Air flow at 50 Pa", unit="cfm", width=width)
