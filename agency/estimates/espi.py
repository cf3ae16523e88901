"""Reads bill periods from an Atom feed of the Energy Services Provider Interface (ESPI)."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum
from itertools import pairwise
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

from agency.estimates.bill_files import BillFileError, ReadBill, text_of

ESPI = "{http://naesb.org/espi}"
ATOM = "{http://www.w3.org/2005/Atom}"
WHOLE_NUMBER = re.compile(r"[+-]?\d{1,15}", re.ASCII)
HIGHEST_POWER = 12
"""Tera; beyond it a multiplier is a slip. [-]"""
LATEST = 253_370_764_799
"""Last second of the year 9998; local time may be a day ahead. [s]"""

# Codes of ESPI (NAESB REQ.21) as restated in the public schema and its documentation, read.
JOULES: Mapping[int, float] = {31: 1.0, 72: 3600.0, 132: 1055.05585262, 169: 105_505_585.262}
"""Energy units by uom: joule, watt-hour, Btu, therm. [J]"""
CUBIC_METRES: Mapping[int, float] = {42: 1.0, 119: 0.028316846592, 134: 0.001}
"""Gas volumes by uom: cubic metre, cubic foot, litre. [m³]"""
PER_INTERVAL = frozenset({0, 4})
"""accumulationBehaviour: none stated, or energy of the interval; others are register readings."""
ESTIMATED = frozenset({8, 9})
"""quality: estimated by a reference day, or by interpolation."""
FORECAST = 12
DELIVERED, NOT_STATED = 1, 0
"""flowDirection: to the house; none stated."""


class Grouping(StrEnum):
    """Which element of the feed is one bill."""

    SUMMARY = "UsageSummary"
    """The billed periods with their billed consumption."""
    BLOCK = "IntervalBlock"
    """The readings of each block together."""
    READING = "IntervalReading"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Period:
    """Seconds since 1970 and energy, before days are made of them."""

    start: int
    seconds: int
    energy: float
    estimated: bool
    place: str


def read_espi(
    content: bytes, *, grouping: Grouping, zone: ZoneInfo, gas_heat_content: float | None
) -> tuple[ReadBill, ...]:
    """Bill periods of the energy delivered to one meter, by their start.

    Parameters
    ----------
    content : bytes
        A feed of one meter and one kind of energy.
    grouping : Grouping
        Which element is one bill.
    zone : ZoneInfo
        Where the house stands: the feed counts seconds, bills count local days.
    gas_heat_content : float or None
        Needed when the feed holds gas volumes. [J/m³]

    Raises
    ------
    BillFileError
        A document type or entity, no feed, an unknown unit, register readings, energy sold, a
        forecast, readings that leave gaps in their block, a period shorter than a day; element,
        value, limit and next step are named.
    """
    feed = _feed(content)
    _refuse_several_meters(feed)
    if grouping is Grouping.SUMMARY:
        periods = list(_summaries(feed, gas_heat_content))
    else:
        scale = _scale_of_the_meter(feed, gas_heat_content)
        blocks = [
            _readings(block, f"IntervalBlock {number}", scale)
            for number, block in enumerate(feed.iter(f"{ESPI}IntervalBlock"), start=1)
        ]
        periods = [
            period
            for number, readings in enumerate(blocks, start=1)
            for period in (
                readings
                if grouping is Grouping.READING
                else [_joined(readings, f"IntervalBlock {number}")]
            )
        ]
    if not periods:
        raise BillFileError(f"The feed has no {grouping}. Choose another element as the bill.")
    return tuple(_bill(period, zone) for period in sorted(periods, key=lambda p: p.start))


def _feed(content: bytes) -> ElementTree.Element:
    text = text_of(content)
    # Entities need a declaration; without one nothing in the text can grow or reach outside.
    for forbidden in ("<!DOCTYPE", "<!ENTITY"):
        if forbidden in text:
            raise BillFileError(
                f"The file declares {forbidden[2:].lower()}, which no feed needs and which can "
                "do harm. Fetch the feed again from the supplier itself."
            )
    try:
        # Text, not bytes: an encoding named in the file then no longer counts.
        feed = ElementTree.fromstring(text)
    except ElementTree.ParseError as error:
        row, column = error.position
        raise BillFileError(
            f"Row {row}, column {column} of the file is not well-formed XML. Fetch it again; it "
            "may be cut short."
        ) from None
    if feed.tag != f"{ATOM}feed":
        raise BillFileError(
            f"The file's outermost element is {_name(feed)}; it must be an Atom feed. Upload the "
            "feed the supplier hands out."
        )
    return feed


def _refuse_several_meters(feed: ElementTree.Element) -> None:
    meters = sum(1 for _ in feed.iter(f"{ESPI}UsagePoint"))
    kinds = {
        _code(element, "commodity", 0)
        for name in ("ReadingType", "UsageSummary")
        for element in feed.iter(f"{ESPI}{name}")
    } - {0}
    if meters > 1 or len(kinds) > 1:
        raise BillFileError(
            f"The feed has {meters} meters and {len(kinds)} kinds of energy; it must have one of "
            "each. Ask for a feed of one meter."
        )


def _scale_of_the_meter(feed: ElementTree.Element, heat: float | None) -> float:
    """Joules of one count, when all reading types of the feed agree on what is counted."""
    types = list(feed.iter(f"{ESPI}ReadingType"))
    if not types:
        raise BillFileError("The feed has no ReadingType, so its unit is unknown. Fetch it again.")
    scales = {_scale_of(kind, f"ReadingType {i}", heat) for i, kind in enumerate(types, start=1)}
    if len(scales) > 1:
        raise BillFileError(
            f"The feed has {len(types)} reading types of different units; they must agree. Ask "
            "for a feed of one meter."
        )
    return scales.pop()


def _scale_of(kind: ElementTree.Element, place: str, heat: float | None) -> float:
    behaviour = _code(kind, "accumulationBehaviour", 0, place)
    if behaviour not in PER_INTERVAL:
        raise BillFileError(
            f"{place}: accumulationBehaviour is {behaviour}; it must be 4, energy of each "
            "interval. Ask for interval energy in place of register readings."
        )
    direction = _code(kind, "flowDirection", NOT_STATED, place)
    if direction not in {DELIVERED, NOT_STATED}:
        raise BillFileError(
            f"{place}: flowDirection is {direction}; it must be 1, delivered to the house. Ask "
            "for the energy bought apart from the energy sold."
        )
    return _unit(kind, place, heat)


def _unit(measure: ElementTree.Element, place: str, heat: float | None) -> float:
    uom = _code(measure, "uom", None, place)
    power = _code(measure, "powerOfTenMultiplier", 0, place)
    if abs(power) > HIGHEST_POWER:
        raise BillFileError(
            f"{place}: powerOfTenMultiplier is {power}; it must be -{HIGHEST_POWER} to "
            f"{HIGHEST_POWER}. Fetch the feed again, or ask the supplier."
        )
    if uom in JOULES:
        return float(JOULES[uom] * 10.0**power)
    if uom not in CUBIC_METRES:
        known = ", ".join(map(str, sorted([*JOULES, *CUBIC_METRES])))
        raise BillFileError(
            f"{place}: uom is {uom}, no energy or gas volume; it must be one of {known}. Ask for "
            "energy, not for power or voltage."
        )
    if heat is None or not heat > 0:
        raise BillFileError(
            f"{place}: uom is {uom}, a gas volume, and its heat content is not known. Enter the "
            "heat content printed on the bill [J/m³]."
        )
    return float(CUBIC_METRES[uom] * heat * 10.0**power)


def _summaries(feed: ElementTree.Element, heat: float | None) -> Iterator[_Period]:
    for number, summary in enumerate(feed.iter(f"{ESPI}UsageSummary"), start=1):
        place = f"UsageSummary {number}"
        billed = _child(summary, "overallConsumptionLastPeriod", place)
        start, seconds = _interval(_child(summary, "billingPeriod", place), place)
        yield _Period(
            start=start,
            seconds=seconds,
            energy=_code(billed, "value", None, place) * _unit(billed, place, heat),
            estimated=_is_estimated(_code(summary, "qualityOfReading", 0, place), place),
            place=place,
        )


def _readings(block: ElementTree.Element, place: str, scale: float) -> list[_Period]:
    found = []
    for number, reading in enumerate(block.iter(f"{ESPI}IntervalReading"), start=1):
        here = f"{place}, IntervalReading {number}"
        start, seconds = _interval(_child(reading, "timePeriod", here), here)
        found.append(
            _Period(
                start=start,
                seconds=seconds,
                energy=_code(reading, "value", None, here) * scale,
                estimated=any(
                    _is_estimated(_code(quality, "quality", 0, here), here)
                    for quality in reading.iter(f"{ESPI}ReadingQuality")
                ),
                place=here,
            )
        )
    if not found:
        raise BillFileError(f"{place} has no readings. Fetch the feed again.")
    return sorted(found, key=lambda period: period.start)


def _joined(readings: list[_Period], place: str) -> _Period:
    for before, after in pairwise(readings):
        apart = after.start - before.start - before.seconds
        if apart:
            raise BillFileError(
                f"{after.place} starts {abs(apart):,} s {'after' if apart > 0 else 'before'} the "
                "end of the one before it; readings of a block must follow each other. Fetch the "
                "feed again, or choose whole bills."
            )
    first, last = readings[0], readings[-1]
    return _Period(
        start=first.start,
        seconds=last.start + last.seconds - first.start,
        energy=sum(reading.energy for reading in readings),
        # Guesses within the block are made good by the reading that closes it.
        estimated=last.estimated,
        place=place,
    )


def _bill(period: _Period, zone: ZoneInfo) -> ReadBill:
    start = _local_day(period.start, zone)
    end = _local_day(period.start + period.seconds, zone)
    if end <= start:
        raise BillFileError(
            f"{period.place} lasts {period.seconds:,} s; a bill must reach into another day. "
            "Choose blocks or billed periods as the bill."
        )
    return ReadBill(
        start=start,
        end=end,
        energy=period.energy,
        estimated=period.estimated,
        place=period.place,
    )


def _local_day(seconds: int, zone: ZoneInfo) -> date:
    return datetime.fromtimestamp(seconds, tz=UTC).astimezone(zone).date()


def _interval(element: ElementTree.Element, place: str) -> tuple[int, int]:
    start = _code(element, "start", None, place)
    seconds = _code(element, "duration", None, place)
    if start < 0 or seconds <= 0 or start + seconds > LATEST:
        raise BillFileError(
            f"{place} starts at {start:,} s and lasts {seconds:,} s; both must be above 0 and end "
            "before the year 9999. Fetch the feed again."
        )
    return start, seconds


def _is_estimated(quality: int, place: str) -> bool:
    if quality == FORECAST:
        raise BillFileError(
            f"{place}: quality is {FORECAST}, a forecast; it must be a measured or estimated "
            "reading. Leave out what has not happened yet."
        )
    return quality in ESTIMATED


def _child(element: ElementTree.Element, name: str, place: str) -> ElementTree.Element:
    child = element.find(f"{ESPI}{name}")
    if child is None:
        raise BillFileError(f"{place} has no {name}. Fetch the feed again, or ask the supplier.")
    return child


def _code(
    element: ElementTree.Element, name: str, default: int | None, place: str = "The feed"
) -> int:
    """A whole number held by a child; the default where the standard lets it be left out."""
    child = element.find(f"{ESPI}{name}")
    if child is None and default is not None:
        return default
    text = "" if child is None or child.text is None else child.text.strip()
    if not WHOLE_NUMBER.fullmatch(text):
        raise BillFileError(
            f'{place}: {name} is "{text[:40]}"; it must be a whole number. Fetch the feed again, '
            "or ask the supplier."
        )
    return int(text)


def _name(element: ElementTree.Element) -> str:
    return element.tag.rpartition("}")[2][:40]
