"""The bills of one account parted by the work: before it, after it, and what is left out."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from agency.estimates.bill_inputs import BillInput, DailyMeans
from agency.estimates.daily_weather import gaps_in
from agency.savings.bills import Bill, Weather, merge_estimated

NAMED_GAPS = 5
"""Gaps a message names one by one before it only counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """Bills between real readings on each side of the work, and in words what is on neither."""

    before: tuple[Bill, ...]
    after: tuple[Bill, ...]
    left_out: tuple[str, ...]


def parted(
    bills: Iterable[BillInput], *, work_started_on: date, work_ended_on: date, window: int
) -> Sides:
    """Whole bills within `window` days before the work began and after it ended.

    Estimated readings are joined with the next real one first: a guess too high before the work
    is made good by a bill that may reach into it, and then neither can be used.
    """
    earliest = work_started_on - timedelta(days=window)
    latest = work_ended_on + timedelta(days=window)
    before, after, left_out = [], [], []
    for row in _rows(bills):
        merged = merge_estimated(row)
        left_out += [f"{bill}: no real reading has closed it yet" for bill in merged.unread]
        for bill in merged.bills:
            if bill.end <= work_started_on and bill.start >= earliest:
                before.append(bill)
            elif bill.start >= work_ended_on and bill.end <= latest:
                after.append(bill)
            elif bill.start < work_ended_on and bill.end > work_started_on:
                left_out.append(f"{bill}: it has days of the work")
            else:
                left_out.append(f"{bill}: too far from the work")
    return Sides(before=tuple(before), after=tuple(after), left_out=tuple(map(_upper, left_out)))


def missing_days(bills: Sequence[Bill], weather: DailyMeans) -> str:
    """In words, the days of the bills whose weather is not known; empty when all are."""
    known = [
        weather.first_day + timedelta(days=place)
        for place, mean in enumerate(weather.means)
        if mean is not None
    ]
    gaps = gaps_in(known, first=bills[0].start, last=bills[-1].end - timedelta(days=1))
    if not gaps:
        return ""
    named = ", ".join(map(str, gaps[:NAMED_GAPS]))
    more = f" and {len(gaps) - NAMED_GAPS} more gaps" if len(gaps) > NAMED_GAPS else ""
    return (
        f"{sum(gap.days for gap in gaps)} daily mean temperatures of {weather.station} are not "
        f"known: {named}{more}. Enter them; they are never filled in."
    )


def weather_of(bills: Sequence[Bill], weather: DailyMeans) -> Weather:
    """The days of the bills alone."""
    start = (bills[0].start - weather.first_day).days
    end = (bills[-1].end - weather.first_day).days
    means = np.array(weather.means[start:end], dtype=np.float64)
    return Weather(first_day=bills[0].start, temperature=means)


def _rows(bills: Iterable[BillInput]) -> list[list[Bill]]:
    """Bills that follow each other without a gap."""
    ordered = sorted(
        (
            Bill(start=one.start, end=one.end, energy=one.energy, estimated=one.estimated)
            for one in bills
        ),
        key=lambda bill: bill.start,
    )
    rows: list[list[Bill]] = [ordered[:1]] if ordered else []
    for earlier, later in pairwise(ordered):
        if later.start > earlier.end:
            rows.append([])
        rows[-1].append(later)
    return rows


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]
