"""Bills put in a row, joined across estimated readings, and set beside the weather they had."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from itertools import pairwise
from math import isfinite

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.savings.errors import BillError

Array = NDArray[np.float64]
Days = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """Energy between two meter readings."""

    start: date
    """Day of the opening reading; the first day counted."""
    end: date
    """Day of the closing reading; no longer counted, and the start of the next bill."""
    energy: float
    """[J]"""
    estimated: bool = False
    """Nobody read the meter at the end; the supplier guessed."""
    demand: float | None = None
    """Highest power of the period, if billed. [W]"""

    @property
    def days(self) -> int:
        """Days between the readings."""
        return (self.end - self.start).days

    def __str__(self) -> str:
        return f"the bill {self.start.isoformat()} to {self.end.isoformat()}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """Bills between real readings only."""

    bills: tuple[Bill, ...]
    unread: tuple[Bill, ...]
    """Estimated bills at the end that no real reading has closed yet; not in `bills`."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weather:
    """Daily mean temperatures without a gap."""

    first_day: date
    temperature: Array
    """One entry a day. [°C]"""

    def __post_init__(self) -> None:
        if self.temperature.ndim != 1 or not np.isfinite(self.temperature).all():
            missing = np.flatnonzero(~np.isfinite(np.ravel(self.temperature)))
            day = self.first_day + timedelta(days=int(missing[0]) if missing.size else 0)
            raise BillError(
                f"the temperature of {day.isoformat()} [°C] is missing. Use a complete daily "
                "record; a day left out shifts every bill after it."
            )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BillTable:
    """Bills of several homes under one weather; shorter rows are filled up with 0 days."""

    rate: Array
    """Energy a day, homes by bills. [J/day]"""
    days: Days
    """Homes by bills; 0 where a home has no further bill."""
    first: Days
    """Index of each bill's first day in the weather, homes by bills."""


class Side(StrEnum):
    """On which side of the base a day counts."""

    HEATING = "heating"
    COOLING = "cooling"


def in_a_row(bills: Iterable[Bill]) -> tuple[Bill, ...]:
    """The bills by date.

    Raises
    ------
    BillError
        No days, no finite energy, a gap or an overlap; the bills are named by their dates.
    """
    row = tuple(sorted(bills, key=lambda bill: (bill.start, bill.end)))
    for bill in row:
        if bill.days < 1:
            raise BillError(f"{bill} has no days; the end must be after the start. Correct it.")
        if not isfinite(bill.energy):
            raise BillError(f"{bill} has no energy [J]; it is {bill.energy}. Enter it, or 0.")
    for earlier, later in pairwise(row):
        apart = (later.start - earlier.end).days
        if apart > 0:
            raise BillError(
                f"{apart} days are missing between {earlier} and {later}. Add the missing bill, "
                "or use only the bills on one side of the gap."
            )
        if apart < 0:
            raise BillError(
                f"{earlier} and {later} overlap by {-apart} days. Correct the dates, or take out "
                "the bill that was replaced."
            )
    return row


def merge_estimated(bills: Iterable[Bill]) -> Merged:
    """Join each run of estimated bills with the next bill that ends in a real reading.

    A guess too high is made good by the next real reading, so only their sum is known. The
    joined demand is the highest, or None when one is unknown.
    """
    merged: list[Bill] = []
    waiting: list[Bill] = []
    for bill in in_a_row(bills):
        waiting.append(bill)
        if not bill.estimated:
            merged.append(_joined(waiting))
            waiting = []
    return Merged(bills=tuple(merged), unread=tuple(waiting))


def tabulate(homes: Sequence[Sequence[Bill]], weather: Weather) -> BillTable:
    """Bills of each home as rates a day, with their place in the weather.

    Parameters
    ----------
    homes : sequence of sequences of Bill
        Without estimated bills: `merge_estimated` them first.
    weather : Weather
        Of all days of all bills.

    Raises
    ------
    BillError
        As `in_a_row`; an estimated bill, a negative energy, a bill outside the weather.
    """
    rows = [in_a_row(bills) for bills in homes]
    width = max(map(len, rows), default=0)
    if not width:
        raise BillError("no bill is given. Enter the bills of at least one home.")
    rate = np.zeros((len(rows), width))
    days = np.zeros((len(rows), width), dtype=np.int64)
    first = np.zeros((len(rows), width), dtype=np.int64)
    for home, row in enumerate(rows):
        for column, bill in enumerate(row):
            _refuse_unusable(bill, weather)
            rate[home, column] = bill.energy / bill.days
            days[home, column] = bill.days
            first[home, column] = (bill.start - weather.first_day).days
    return BillTable(rate=rate, days=days, first=first)


def running_degree_days(*, temperature: ArrayLike, bases: ArrayLike, side: Side) -> Array:
    """Degree days from the first day up to, not including, each day, by daily means.

    Parameters
    ----------
    temperature : array of days
        [°C]
    bases : array
        [°C]
    side : Side

    Returns
    -------
    array, bases by days + 1
        The degree days of a period are the difference of its two ends. [K day]
    """
    beyond = np.maximum(0.0, _beyond(temperature, bases, side))
    return np.asarray(np.cumsum(np.pad(beyond, ((0, 0), (1, 0))), axis=1))


def running_days(*, temperature: ArrayLike, bases: ArrayLike, side: Side) -> Array:
    """Days beyond each base; else as `running_degree_days`. It is the slope of those by base."""
    counted = (_beyond(temperature, bases, side) > 0).astype(np.float64)
    return np.asarray(np.cumsum(np.pad(counted, ((0, 0), (1, 0))), axis=1))


def bill_degree_days(bills: Sequence[Bill], weather: Weather, *, base: float, side: Side) -> Array:
    """Degree days of each bill. [K day]"""
    for bill in bills:
        _refuse_outside(bill, weather)
    running = running_degree_days(temperature=weather.temperature, bases=[base], side=side)[0]
    opening = np.array([(bill.start - weather.first_day).days for bill in bills], dtype=np.int64)
    closing = np.array([(bill.end - weather.first_day).days for bill in bills], dtype=np.int64)
    return np.asarray(running[closing] - running[opening])


def _beyond(temperature: ArrayLike, bases: ArrayLike, side: Side) -> Array:
    below = np.asarray(bases, dtype=np.float64)[:, None] - np.asarray(temperature)
    return np.asarray(below if side is Side.HEATING else -below)


def _joined(bills: Sequence[Bill]) -> Bill:
    demands = [bill.demand for bill in bills if bill.demand is not None]
    return Bill(
        start=bills[0].start,
        end=bills[-1].end,
        energy=sum(bill.energy for bill in bills),
        demand=max(demands) if len(demands) == len(bills) else None,
    )


def _refuse_unusable(bill: Bill, weather: Weather) -> None:
    if bill.estimated:
        raise BillError(
            f"{bill} ends in an estimated reading. Join it with the next real one, or wait for it."
        )
    if bill.energy < 0:
        raise BillError(
            f"{bill} has an energy of {bill.energy:.4g} J; it must be 0 or more. Join a correction "
            "with the bill it corrects, and keep energy sold apart from energy bought."
        )
    _refuse_outside(bill, weather)


def _refuse_outside(bill: Bill, weather: Weather) -> None:
    after_last = weather.first_day + timedelta(days=len(weather.temperature))
    if bill.start < weather.first_day or bill.end > after_last:
        raise BillError(
            f"{bill} lies outside the weather, which is known from "
            f"{weather.first_day.isoformat()} up to {after_last.isoformat()}. Load the weather of "
            "all its days."
        )
