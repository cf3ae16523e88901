"""A document in SI units, with the register's own knowledge put before the document's."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from agency.leakage import units
from agency.leakage.fan_flow import Baseline, Direction, baseline_from_samples

from ..document_parts import Dimensions, Equation, TestDocument
from ..evaluation import Context, EquationFacts, GeometryFacts
from ..forms.envelope import Baseline as DocumentBaseline
from ..forms.envelope import EnvelopeDocument, Point, Series
from .si import BAROMETER, FLOW, LENGTH, PRESSURE, WIND


@dataclass(frozen=True, slots=True, kw_only=True)
class FanTerm:
    """One fan's share of a point."""

    field: str
    serial: str
    configuration: str
    pressure: float
    """[Pa]"""
    equation: EquationFacts | None
    """The equation that applies, its coefficient in m³/s; None where none is known."""

    @property
    def in_range(self) -> bool:
        """The equation holds at this pressure."""
        one = self.equation
        return one is not None and one.lowest_pressure <= self.pressure <= one.highest_pressure


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadPoint:
    """One station. [Pa, m³/s, s]"""

    field: str
    building_pressure: float
    fans: tuple[FanTerm, ...]
    flow: float | None
    seconds: float | None
    excluded: str | None

    @property
    def in_range(self) -> bool:
        """Every fan was read within its printed range."""
        return all(fan.in_range for fan in self.fans)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadSeries:
    """All stations of one direction."""

    field: str
    direction: Direction
    before: Baseline | None
    after: Baseline | None
    seconds: tuple[float | None, ...]
    points: tuple[ReadPoint, ...]

    @property
    def baselines(self) -> list[Baseline]:
        """The baselines that were recorded."""
        return [one for one in (self.before, self.after) if one is not None]

    @property
    def offset(self) -> float | None:
        """Mean of the recorded baselines; None where there is none. [Pa]"""
        means = [one.mean for one in self.baselines]
        return sum(means) / len(means) if means else None


@dataclass(frozen=True, slots=True, kw_only=True)
class AirReadings:
    """Air inside and outside. None means not measured. [degC, -, Pa, m, m/s]"""

    indoor: float | None
    outdoor: float | None
    indoor_humidity: float | None
    outdoor_humidity: float | None
    station_pressure: float | None
    elevation: float | None
    wind_speed: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseSizes:
    """Sizes of the dwelling. None means not measured. [m², m³, m, m²]"""

    floor_area: float | None
    volume: float | None
    height: float | None
    envelope_area: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """A whole document in SI units."""

    series: tuple[ReadSeries, ...]
    air: AirReadings
    house: HouseSizes


def readings_of(document: EnvelopeDocument, context: Context) -> Readings:
    """The document in SI units."""
    return Readings(
        series=tuple(
            _series(number, one, document, context) for number, one in enumerate(document.series)
        ),
        air=_air(document, context.geometry),
        house=_house(document, context.geometry),
    )


def points_of(readings: Readings) -> Iterator[ReadPoint]:
    """Every point of every series."""
    for series in readings.series:
        yield from series.points


def celsius(value: float | None, unit: str | None) -> float | None:
    """A temperature in degC."""
    if value is None:
        return None
    return units.celsius_from_fahrenheit(value) if unit == "degF" else value


def _series(
    number: int, series: Series, document: EnvelopeDocument, context: Context
) -> ReadSeries:
    field = f"series[{number}]"
    pascal = PRESSURE[document.units.pressure]
    given = (series.baseline_before, series.baseline_after)
    before, after = (_baseline(one, pascal) for one in given)
    return ReadSeries(
        field=field,
        direction=Direction(series.direction),
        before=before,
        after=after,
        seconds=tuple(one.seconds for one in given if one is not None),
        points=tuple(
            _point(f"{field}.points[{index}]", point, series.direction, document, context)
            for index, point in enumerate(series.points)
        ),
    )


def _point(
    field: str, point: Point, direction: str, document: EnvelopeDocument, context: Context
) -> ReadPoint:
    pascal = PRESSURE[document.units.pressure]
    fans = tuple(
        FanTerm(
            field=f"{field}.fans[{index}]",
            serial=fan.serial,
            configuration=fan.configuration,
            pressure=fan.fan_pressure * pascal,
            equation=equation_of(fan.serial, fan.configuration, direction, document, context),
        )
        for index, fan in enumerate(point.fans)
    )
    return ReadPoint(
        field=field,
        building_pressure=point.building_pressure * pascal,
        fans=fans,
        flow=None if point.flow is None else point.flow * FLOW[document.units.flow or "m3/s"],
        seconds=point.seconds,
        excluded=point.excluded,
    )


def equations_of(
    serial: str, direction: str, document: TestDocument, context: Context
) -> list[EquationFacts]:
    """Equations of a fan for one direction, coefficients in m³/s: the register's, else sent."""
    facts = context.instruments.get(serial)
    if facts is not None and facts.equations:
        found = list(facts.equations)
    else:
        sent = [fan.equations for fan in document.fans if fan.serial == serial]
        found = [_facts(one) for equations in sent for one in equations]
    return [_in_si(one) for one in found if one.direction in {"", direction}]


def equation_of(
    serial: str, configuration: str, direction: str, document: TestDocument, context: Context
) -> EquationFacts | None:
    """The fan's equation; one for this very direction comes before one for both."""
    found = [
        one
        for one in equations_of(serial, direction, document, context)
        if one.configuration == configuration
    ]
    return max(found, key=lambda one: one.direction, default=None)


def _facts(sent: Equation) -> EquationFacts:
    return EquationFacts(**{**sent.model_dump(), "direction": sent.direction or ""})


def _in_si(one: EquationFacts) -> EquationFacts:
    return EquationFacts(
        configuration=one.configuration,
        direction=one.direction,
        coefficient=one.coefficient * FLOW[one.flow_unit],
        exponent=one.exponent,
        lowest_pressure=one.lowest_pressure,
        highest_pressure=one.highest_pressure,
        flow_unit="m3/s",
        air_density=one.air_density,
    )


def _baseline(given: DocumentBaseline | None, pascal: float) -> Baseline | None:
    if given is None:
        return None
    if given.samples is not None:
        return baseline_from_samples([sample * pascal for sample in given.samples])
    mean = given.mean or 0.0
    return Baseline(
        mean=mean * pascal,
        positive_mean=_signed(given.positive_mean, mean, given.negative_mean, pascal),
        negative_mean=_signed(given.negative_mean, mean, given.positive_mean, pascal),
        spread=None,
        deviation=None,
        readings=None,
    )


def _signed(own: float | None, mean: float, other: float | None, pascal: float) -> float | None:
    if own is not None:
        return own * pascal
    # All readings had the other sign: there are none of this one.
    if other is not None and math.isclose(other, mean, rel_tol=0, abs_tol=1e-9):
        return 0.0
    return None


def _air(document: EnvelopeDocument, geometry: GeometryFacts | None) -> AirReadings:
    sent, unit = document.conditions, document.units
    known = geometry.elevation_ft if geometry else None
    return AirReadings(
        indoor=celsius(sent.indoor_temperature, unit.temperature),
        outdoor=celsius(sent.outdoor_temperature, unit.temperature),
        indoor_humidity=sent.indoor_humidity,
        outdoor_humidity=sent.outdoor_humidity,
        station_pressure=_times(sent.barometric_pressure, BAROMETER.get(unit.barometer or "", 1.0)),
        elevation=_size(known, sent.elevation, document, 1),
        wind_speed=_times(sent.wind_speed, WIND.get(unit.wind_speed or "", 1.0)),
    )


def _house(document: EnvelopeDocument, geometry: GeometryFacts | None) -> HouseSizes:
    sent = document.house or Dimensions()
    known = geometry or GeometryFacts()
    return HouseSizes(
        floor_area=_size(known.floor_area_sqft, sent.floor_area, document, 2),
        volume=_size(known.volume_cuft, sent.volume, document, 3),
        height=_size(known.height_ft, sent.height, document, 1),
        envelope_area=_size(known.envelope_area_sqft, sent.envelope_area, document, 2),
    )


def _size(
    known_feet: float | None, sent: float | None, document: EnvelopeDocument, power: int
) -> float | None:
    if known_feet is not None:
        return float(known_feet * units.METRE_PER_FOOT**power)
    return _times(sent, LENGTH.get(document.units.length or "", 1.0) ** power)


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor
