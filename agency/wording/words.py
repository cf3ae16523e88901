"""Turns numbers, dates and codes into the words people read on screen and paper."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from decimal import ROUND_HALF_UP, Decimal
from math import floor, log10

Number = int | float | Decimal
Interval = Mapping[str, Number | None]

NOT_MEASURED = "not measured"
MINUS = "\u2212"
THIN_SPACE = "\u202f"
UNMISTAKABLE = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Letters and digits that are not taken for each other when read aloud."""
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

FOOT = 0.3048
"""Length of the international foot. [m]  Exact, NIST SP 811 (2008), appendix B, from memory."""
INCH = FOOT / 12
"""Length of the inch. [m]  Exact."""
CFM = FOOT**3 / 60
"""One cubic foot a minute. [m³/s]  Exact, derived from the foot."""
INCH_OF_WATER = 249.08891
"""Conventional inch of water. [Pa]  NIST SP 811 (2008), appendix B.8, from memory."""
KELVIN_STEP = 1.8
"""Fahrenheit degrees in one kelvin. [°F/K]  Exact."""
ICE_POINT_F = 32.0
"""Zero degrees Celsius. [°F]  Exact."""


def number(value: Number | None, decimals: int = 0) -> str:
    """A number with thousands commas and a true minus sign; halves round away from zero."""
    if value is None:
        return NOT_MEASURED
    exact = Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
    if not exact.is_finite():
        raise ValueError(f"A figure to be shown must be a finite number, not {value}.")
    rounded = exact.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)
    # A small negative that rounds to zero must not read as minus zero.
    sign = MINUS if rounded < 0 else ""
    return f"{sign}{abs(rounded):,.{decimals}f}"


def quantity(value: Number | None, unit: str, decimals: int = 0) -> str:
    """A number and its unit, held together by a thin space that never breaks."""
    if value is None:
        return NOT_MEASURED
    return f"{number(value, decimals)}{THIN_SPACE}{unit}" if unit else number(value, decimals)


def quantity_interval(
    interval: Interval | None, *, unit: str, decimals: int = 0, one_unit: float = 1.0
) -> str:
    """A value with its bounds: "2,310 cfm (2,240 to 2,380)". `one_unit` is the unit in SI."""
    if interval is None or interval.get("value") is None:
        return NOT_MEASURED
    text = quantity(_scaled(interval["value"], one_unit), unit, decimals)
    low = _scaled(interval.get("low"), one_unit)
    high = _scaled(interval.get("high"), one_unit)
    if low is None or high is None:
        return text
    return f"{text} ({number(low, decimals)} to {number(high, decimals)})"


def quantity_range(low: Number | None, high: Number | None, unit: str, decimals: int = 0) -> str:
    """Two bounds and one unit: "34 to 61 therms"."""
    if low is None or high is None:
        return NOT_MEASURED
    if number(low, decimals) == number(high, decimals):
        return quantity(low, unit, decimals)
    return f"{number(low, decimals)} to {quantity(high, unit, decimals)}"


def round_step(*values: float) -> float:
    """The step that leaves the largest of `values` two digits: 1000 for 12,954."""
    largest = max(abs(value) for value in values)
    return 10.0 ** (floor(log10(largest)) - 1) if largest > 0 else 1.0


def rough(value: float, step: float) -> float:
    """The nearest multiple of `step`, for a figure that is not known any better."""
    return round(value / step) * step


def count(value: int, one: str, many: str | None = None) -> str:
    """A counted thing: "1 test", "1,204 tests"."""
    noun = one if value == 1 else (many or f"{one}s")
    return f"{number(value)}\u00a0{noun}"


def percent(fraction: Number | None, decimals: int = 0) -> str:
    """A fraction of one as a percentage: 0.18 reads "18 %"."""
    if fraction is None:
        return NOT_MEASURED
    exact = Decimal(repr(fraction)) if isinstance(fraction, float) else Decimal(fraction)
    return quantity(exact * 100, "%", decimals)


def flow(cubic_metres_per_second: Number | None) -> str:
    """An air flow in cfm: "2,310 cfm"."""
    return quantity(_scaled(cubic_metres_per_second, CFM), "cfm")


def flow_interval(interval: Interval | None) -> str:
    """An air flow in m³/s with its bounds, in cfm: "2,310 cfm (2,240 to 2,380)"."""
    return quantity_interval(interval, unit="cfm", one_unit=CFM)


def figure(quantity_name: str, interval: Interval | None) -> str:
    """A bench figure in SI with its bounds, in the unit of its quantity; pressures in both.

    A figure known to one side only reads "at least 12.00 : 1".
    """
    measure = QUANTITIES[quantity_name]
    bound = _one_sided(interval)
    if bound is not None:
        side, end = bound
        return f"{side} {quantity(_scaled(end, measure.one_unit), measure.unit, measure.decimals)}"
    text = quantity_interval(
        interval, unit=measure.unit, decimals=measure.decimals, one_unit=measure.one_unit
    )
    if quantity_name != "pressure" or interval is None or interval.get("low") is not None:
        return text
    return pressure_both(interval.get("value"))


def _one_sided(interval: Interval | None) -> tuple[str, Number] | None:
    """The only end that is known of a figure without a value, and on which side it is."""
    if interval is None or interval.get("value") is not None:
        return None
    ends = {"at least": interval.get("low"), "at most": interval.get("high")}
    known = [(side, end) for side, end in ends.items() if end is not None]
    return known[0] if len(known) == 1 else None


def difference(before: Number | None, after: Number | None, *, unit: str, decimals: int = 0) -> str:
    """What changed, in words: "down 412 cfm, 18 %".

    The change is taken before rounding, so that it agrees with the exported figures.
    """
    if before is None or after is None:
        return "no difference: one side is not measured"
    change = float(after) - float(before)
    size = number(abs(change), decimals)
    if size == number(0, decimals):
        return "no change"
    text = f"{'down' if change < 0 else 'up'} {size}{THIN_SPACE}{unit}"
    if before == 0:
        return text
    return f"{text}, {percent(abs(change / float(before)))}"


def flow_difference(before: Number | None, after: Number | None) -> str:
    """The change between two air flows in m³/s, worded in cfm."""
    return difference(_scaled(before, CFM), _scaled(after, CFM), unit="cfm")


def pressure(pascals: Number | None) -> str:
    """A pressure difference in pascals, one decimal."""
    return quantity(pascals, "Pa", 1)


def pressure_both(pascals: Number | None) -> str:
    """A pressure difference in both units: "−50.1 Pa (−0.201 in. w.c.)"."""
    if pascals is None:
        return NOT_MEASURED
    inches = quantity(_scaled(pascals, INCH_OF_WATER), "in.\u00a0w.c.", 3)
    return f"{pressure(pascals)} ({inches})"


def leakage_area(square_metres: Number | None) -> str:
    """A leakage area in square inches: "142 in²"."""
    return quantity(_scaled(square_metres, INCH**2), "in²")


def floor_area(square_metres: Number | None) -> str:
    """A floor or envelope area in square feet: "1,480 ft²"."""
    return quantity(_scaled(square_metres, FOOT**2), "ft²")


def volume(cubic_metres: Number | None) -> str:
    """A building volume in cubic feet: "11,840 ft³"."""
    return quantity(_scaled(cubic_metres, FOOT**3), "ft³")


def air_changes(per_hour: Number | None) -> str:
    """Air changes at 50 Pa: "7.8 ACH50"."""
    return quantity(per_hour, "ACH50", 1)


def temperature(degrees_celsius: Number | None) -> str:
    """A temperature in degrees Fahrenheit: "68 °F"."""
    if degrees_celsius is None:
        return NOT_MEASURED
    return quantity(float(degrees_celsius) * KELVIN_STEP + ICE_POINT_F, "°F")


def money(dollars: Number | None, decimals: int = 0) -> str:
    """An amount: "$1,240", "−$40"."""
    if dollars is None:
        return NOT_MEASURED
    digits = number(dollars, decimals)
    return f"{MINUS}${digits[1:]}" if digits.startswith(MINUS) else f"${digits}"


def money_range(low: Number | None, high: Number | None) -> str:
    """A yearly amount between two bounds: "$120 to $210 a year"."""
    if low is None or high is None:
        return NOT_MEASURED
    if number(low) == number(high):
        return f"{money(low)} a year"
    return f"{money(low)} to {money(high)} a year"


def day(on: date | None) -> str:
    """A date nobody can read two ways: "Nov 25, 2026"."""
    if on is None:
        return "no date"
    return f"{MONTHS[on.month - 1]} {on.day}, {on.year}"


def clock(at: datetime | None, zone: tzinfo | None = None) -> str:
    """A time of day with its zone: "2:14 PM CST"."""
    if at is None:
        return "no time"
    local = _local(at, zone)
    half = "AM" if local.hour < 12 else "PM"
    return f"{local.hour % 12 or 12}:{local.minute:02d}\u00a0{half} {local.tzname()}"


def moment(at: datetime | None, zone: tzinfo | None = None) -> str:
    """A date and time: "Nov 25, 2026, 2:14 PM CST"."""
    if at is None:
        return "no time"
    return f"{day(_local(at, zone).date())}, {clock(at, zone)}"


def iso(at: date | datetime | None, zone: tzinfo | None = None) -> str:
    """The machine's form of a date or time, for `<time datetime>`."""
    if at is None:
        return ""
    if isinstance(at, datetime):
        return _local(at, zone).isoformat(timespec="seconds")
    return at.isoformat()


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """How one state is shown: its word, its colour and the pattern of its tab's edge."""

    word: str
    tone: str
    edge: str


STATES: Mapping[str, State] = {
    "application": State(word="Application", tone="plain", edge="hollow"),
    "scheduled_audit": State(word="Audit scheduled", tone="plain", edge="hollow"),
    "audit_in_progress": State(word="Audit in progress", tone="note", edge="ladder"),
    "audit_review": State(word="Audit in review", tone="attention", edge="hatch"),
    "deferred": State(word="Deferred", tone="attention", edge="dots"),
    "work_ordered": State(word="Work ordered", tone="note", edge="double"),
    "inspection_scheduled": State(word="Inspection scheduled", tone="note", edge="hollow"),
    "reported": State(word="Reported", tone="done", edge="ladder"),
    "cancelled": State(word="Cancelled", tone="plain", edge="teeth"),
    "scheduled": State(word="Scheduled", tone="plain", edge="hollow"),
    "in_progress": State(word="In progress", tone="note", edge="ladder"),
    "tested_out": State(word="Tested out", tone="note", edge="dashes"),
    "rework": State(word="Rework", tone="stop", edge="teeth"),
    "inspection_passed": State(word="Inspection passed", tone="done", edge="double"),
    "approved": State(word="Approved", tone="done", edge="solid"),
    "withdrawn": State(word="Withdrawn", tone="plain", edge="dots"),
    "to_review": State(word="To review", tone="attention", edge="hatch"),
    "accepted": State(word="Accepted", tone="done", edge="solid"),
    "returned": State(word="Returned", tone="stop", edge="teeth"),
    "superseded": State(word="Superseded", tone="plain", edge="dots"),
    "valid": State(word="Valid", tone="done", edge="solid"),
    "advisory": State(word="Advisory", tone="attention", edge="hatch"),
    "rejected": State(word="Rejected", tone="stop", edge="teeth"),
    "provisional": State(word="Provisional", tone="note", edge="dashes"),
    "not_computed": State(word="Not computed", tone="plain", edge="hollow"),
    "pass": State(word="Met", tone="done", edge="solid"),
    "reject": State(word="Not met", tone="stop", edge="teeth"),
    "not_verifiable": State(word="Cannot be verified", tone="plain", edge="dots"),
    "waiting": State(word="Waiting", tone="plain", edge="hollow"),
    "queued": State(word="Waiting", tone="plain", edge="hollow"),
    "running": State(word="Running", tone="note", edge="ladder"),
    "done": State(word="Done", tone="done", edge="solid"),
    "failed": State(word="Failed", tone="stop", edge="teeth"),
    "sent": State(word="Sent", tone="done", edge="solid"),
    "current": State(word="Current", tone="done", edge="solid"),
    "issued": State(word="Issued", tone="done", edge="solid"),
    "due": State(word="Due", tone="attention", edge="hatch"),
    "in_doubt": State(word="In doubt", tone="attention", edge="hatch"),
    "excepted": State(word="Excepted", tone="note", edge="dashes"),
    "expired": State(word="Expired", tone="stop", edge="teeth"),
    "revoked": State(word="Revoked", tone="stop", edge="teeth"),
    "met": State(word="Within the limit", tone="done", edge="solid"),
    "missed": State(word="Beyond the limit", tone="attention", edge="hatch"),
    "action": State(word="Action needed", tone="stop", edge="teeth"),
    "open": State(word="Not tested in full", tone="plain", edge="dots"),
    "received": State(word="Received", tone="attention", edge="hatch"),
    "info_needed": State(word="Papers needed", tone="note", edge="dashes"),
    "waitlisted": State(word="On the waiting list", tone="note", edge="ladder"),
    "job_opened": State(word="Job opened", tone="done", edge="solid"),
    "denied": State(word="Denied", tone="stop", edge="teeth"),
    "eligible": State(word="Eligible", tone="done", edge="solid"),
    "not_eligible": State(word="Not eligible", tone="stop", edge="teeth"),
    "over_limit": State(word="Over the limit", tone="stop", edge="teeth"),
    "dwelling_barred": State(word="Dwelling barred", tone="stop", edge="teeth"),
    "undecided": State(word="Undecided", tone="plain", edge="hollow"),
    "vacant": State(word="Vacant", tone="plain", edge="dots"),
    "emergency": State(word="Emergency", tone="attention", edge="hatch"),
    "found": State(word="Found", tone="note", edge="double"),
    "imported": State(word="Imported", tone="done", edge="solid"),
    "undone": State(word="Undone", tone="plain", edge="dots"),
    "open_change": State(word="Not counted", tone="attention", edge="hatch"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """How a quantity stored in SI is shown: its unit, that unit in SI, and its decimals."""

    unit: str
    one_unit: float = 1.0
    decimals: int = 0


QUANTITIES: Mapping[str, Measure] = {
    "flow": Measure(unit="cfm", one_unit=CFM),
    "pressure": Measure(unit="Pa", decimals=1),
    "opening_area": Measure(unit="in²", one_unit=INCH**2),
    "floor_area": Measure(unit="ft²", one_unit=FOOT**2),
    "share": Measure(unit="%", one_unit=0.01, decimals=1),
    "ratio": Measure(unit="", decimals=2),
    "ratio_to_one": Measure(unit=": 1", decimals=2),
    "number": Measure(unit=""),
    "minutes": Measure(unit="min/h"),
    "ppm": Measure(unit="ppm"),
    "seconds": Measure(unit="s"),
    "temperature_difference": Measure(unit="°F", one_unit=1 / KELVIN_STEP, decimals=1),
    "heat": Measure(unit="Btu/h", one_unit=1055.05585262 / 3600),
    "flow_per_floor_area": Measure(unit="cfm/100 ft²", one_unit=CFM / (100 * FOOT**2), decimals=2),
    "flow_per_area": Measure(unit="cfm/ft²", one_unit=CFM / FOOT**2, decimals=2),
    "flow_per_length": Measure(unit="cfm/ft", one_unit=CFM / FOOT, decimals=2),
    "flow_per_ton": Measure(unit="cfm/ton"),
    "rate_per_hour": Measure(unit="1/h", decimals=2),
}
"""Quantities of bench figures; flow per ton is stored as it is shown."""

CODES: Mapping[str, str] = {
    "before": "Before work",
    "during": "During work",
    "after": "After work",
    "inspection": "At inspection",
    "e779": "ASTM E779, several pressures",
    "iso9972": "ISO 9972, several pressures",
    "one_point": "One pressure",
    "two_point": "Two pressures",
    "depressurization": "Depressurization",
    "pressurization": "Pressurization",
    "house_zone": "House to zone",
    "zone_outside": "Zone to outside",
    "pressure_only": "Pressures alone",
    "add_hole": "Measured hole added",
    "open_door": "Door to the house opened",
    "vent_outside": "Zone opened to outside",
    "iecc_2009": "IECC 2009",
    "iecc_2015": "IECC 2015",
    "iecc_2021": "IECC 2021",
    "iecc_2024": "IECC 2024",
    "energy_star": "ENERGY STAR",
    "programme": "The programme's own",
    "fitted": "fitted from the readings",
    "open": "Open",
    "assumed": "assumed",
}


HAZARDS: Mapping[str, str] = {
    "gas": "gas",
    "carbon_monoxide": "carbon monoxide in the house",
    "asbestos": "asbestos",
    "fire": "fire or ash",
    "depressurization": "combustion zone drawn down",
    "fault": "visible fault of an appliance",
    "spillage": "combustion gas spills",
    "draft": "weak draft",
    "co": "carbon monoxide in a vent",
    "ambient": "carbon monoxide in the air",
}


def hazard(code: str) -> str:
    """The hazard of a safety stop: "combustion.co.1" reads "carbon monoxide in a vent"."""
    name = code.removeprefix("combustion.").removeprefix("caution.").split(".")[0]
    return HAZARDS.get(name) or _spelled(name).lower()


def state(code: str) -> State:
    """How to show a state; one not listed is shown by its own code, uncoloured."""
    return STATES.get(code) or State(word=_spelled(code), tone="plain", edge="hollow")


def coded(code: str | None) -> str:
    """The words for a stored code, such as a phase, a method or a direction."""
    if code is None:
        return NOT_MEASURED
    return CODES.get(code) or (STATES[code].word if code in STATES else _spelled(code))


def _spelled(code: str) -> str:
    """A code as a phrase: "client_absent" reads "Client absent"."""
    phrase = code.replace("_", " ")
    return phrase[:1].upper() + phrase[1:]


def _scaled(value: Number | None, one_unit: float) -> float | None:
    """A value in SI counted in units of `one_unit`."""
    return None if value is None else float(value) / one_unit


def _local(at: datetime, zone: tzinfo | None) -> datetime:
    """The same instant in a zone; a time without a zone is refused."""
    if at.tzinfo is None:
        raise ValueError(f"The time {at.isoformat()} has no zone; it cannot be shown.")
    return at.astimezone(zone) if zone else at
