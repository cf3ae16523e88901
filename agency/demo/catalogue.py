"""What the invented agency owns: fans, gauges, their certificates, its grants and its prices."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from .physics import Configuration, Kit

AGENCY = {
    "name": "Quillmoor County Home Energy Office",
    "address": "14 Coldwater Street, Tarn Hollow, QM 00155",
    "phone": "555-0100",
    "complaint_route": "Write to the director at the address above, or call 555-0101.",
}
LABORATORY = "Brindlewick Calibration (invented)"
PRICE_SOURCE = "invented for the demo"

CONFIGURATIONS = (
    Configuration(name="open", coefficient=355.0, exponent=0.515, lowest=20, highest=320),
    Configuration(name="wide", coefficient=142.0, exponent=0.508, lowest=20, highest=320),
    Configuration(name="middle", coefficient=58.0, exponent=0.503, lowest=20, highest=320),
    Configuration(name="narrow", coefficient=24.0, exponent=0.496, lowest=20, highest=320),
)
"""An invented fan. Each range reaches well into the next one's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """One instrument, the crew that carries it, and its certificates, by age in days."""

    kind: str
    serial: str
    description: str
    crew: str | None
    calibrated_days_ago: tuple[int, ...]
    gain: float = 0.0
    """The error nobody on site knows of. [-]"""
    scale: float = 1.0
    """This fan's coefficients over those of `CONFIGURATIONS`."""

    @property
    def configurations(self) -> tuple[Configuration, ...]:
        """The flow equations on this fan's certificate."""
        return tuple(
            Configuration(
                name=one.name,
                coefficient=round(self.scale * one.coefficient, 1),
                exponent=one.exponent,
                lowest=one.lowest,
                highest=one.highest,
            )
            for one in CONFIGURATIONS
        )


DEVICES = (
    Device(kind="gauge", serial="QG-014", description="Two-channel pressure gauge",
           crew="Crew Alder", calibrated_days_ago=(790, 425, 60), gain=0.003),
    Device(kind="gauge", serial="QG-021", description="Two-channel pressure gauge",
           crew="Crew Birch", calibrated_days_ago=(700, 336, 9), gain=-0.004),
    Device(kind="gauge", serial="QG-027", description="Two-channel pressure gauge",
           crew="Crew Cedar", calibrated_days_ago=(880, 515, 150), gain=0.001),
    # Overdue on purpose: what is measured with it stays provisional.
    Device(kind="gauge", serial="QG-009", description="Spare gauge, sent for calibration",
           crew=None, calibrated_days_ago=(940, 575), gain=0.011),
    Device(kind="fan", serial="QF-003", description="Test fan",
           crew="Crew Alder", calibrated_days_ago=(1150, 420), gain=0.012),
    Device(kind="fan", serial="QF-005", description="Test fan",
           crew="Crew Birch", calibrated_days_ago=(1010, 300), gain=-0.018, scale=1.02),
    Device(kind="fan", serial="QF-008", description="Test fan",
           crew="Crew Cedar", calibrated_days_ago=(980, 270), gain=0.006, scale=0.985),
    Device(kind="thermometer", serial="QT-101", description="Digital thermometer",
           crew="Crew Alder", calibrated_days_ago=(600, 200)),
    Device(kind="thermometer", serial="QT-102", description="Digital thermometer",
           crew="Crew Birch", calibrated_days_ago=(600, 200)),
    Device(kind="thermometer", serial="QT-103", description="Digital thermometer",
           crew="Crew Cedar", calibrated_days_ago=(600, 200)),
)  # fmt: skip

DAYS_BETWEEN_CALIBRATIONS = {"gauge": 365, "fan": 730, "thermometer": 730}

PRICES = {
    # fuel: unit, price at first, price a year later
    "natural_gas": ("therm", "1.1200", "1.2400"),
    "propane": ("gal", "2.4900", "2.6500"),
    "fuel_oil": ("gal", "3.7500", "3.9200"),
    "electricity": ("kWh", "0.1490", "0.1580"),
    "kerosene": ("gal", "4.1000", "4.3500"),
    "wood": ("cord", "240.0000", "255.0000"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """What one unit of a fuel costs from a day on."""

    fuel: str
    unit: str
    price: Decimal
    effective_from: date


def prices(first_day: date) -> list[Price]:
    """Every price from `first_day` on, raised once after a year."""
    return [
        Price(fuel=fuel, unit=unit, price=Decimal(price), effective_from=day)
        for fuel, (unit, first, later) in PRICES.items()
        for day, price in ((first_day, first), (first_day + timedelta(days=365), later))
    ]


def kit_of(crew: str) -> Kit:
    """The gauge and fan of a crew, errors included."""
    own = {one.kind: one for one in DEVICES if one.crew == crew}
    return kit_with(gauge=own["gauge"].serial, fan=own["fan"].serial)


def kit_with(*, gauge: str, fan: str) -> Kit:
    """Any gauge with any fan."""
    by_serial = {one.serial: one for one in DEVICES}
    return Kit(
        gauge=gauge,
        fan=fan,
        configurations=by_serial[fan].configurations,
        gauge_gain=by_serial[gauge].gain,
        fan_gain=by_serial[fan].gain,
    )


REQUIRED_TESTS = {
    "test_in": ("gauge_check", "envelope", "combustion_zone"),
    "work": ("combustion_zone",),
    "test_out": ("gauge_check", "envelope", "combustion_zone"),
    "final_inspection": ("gauge_check", "combustion_zone"),
}
"""What the invented programme asks for on each kind of visit, in the order of the visit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grant:
    """One grant and the days it pays for."""

    name: str
    number: str
    first_day: date
    last_day: date


def quarter_start(day: date, *, back: int = 0) -> date:
    """First day of the calendar quarter of `day`, or of one `back` quarters before."""
    quarters = day.year * 4 + (day.month - 1) // 3 - back
    return date(quarters // 4, quarters % 4 * 3 + 1, 1)


QUARTERS = 6
"""How far back the demonstration goes, the current quarter included."""


def grants(today: date) -> list[Grant]:
    """Two grants: four quarters that are over or nearly so, and the four that follow."""
    first = quarter_start(today, back=QUARTERS - 1)
    second = quarter_start(today, back=1)
    end = quarter_start(today, back=-3)
    return [
        Grant(
            name="Quillmoor Weatherization",
            number=f"QM-WX-{first:%y%m}",
            first_day=first,
            last_day=second - timedelta(days=1),
        ),
        Grant(
            name="Quillmoor Weatherization",
            number=f"QM-WX-{second:%y%m}",
            first_day=second,
            last_day=end - timedelta(days=1),
        ),
    ]
