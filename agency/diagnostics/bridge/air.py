"""Air densities of a test, and what they do to an indicated flow."""

from dataclasses import dataclass

from agency.leakage import air
from agency.leakage.envelope import reference_factor_e779, reference_factor_iso9972
from agency.leakage.fan_flow import Direction, air_path, mass_balance_factor

from ..evaluation import Check, Step
from .book import Book
from .readings import AirReadings


@dataclass(frozen=True, slots=True, kw_only=True)
class AirState:
    """Densities indoors and outdoors by the form of one standard. [kg/m³]"""

    indoor: float
    outdoor: float
    indoor_temperature: float
    outdoor_temperature: float
    is_moist: bool
    steps: tuple[Step, ...]

    def balance(self, direction: Direction) -> tuple[float, float]:
        """Density of the fan air, and the mass balance factor fan air over envelope air."""
        path = air_path(direction=direction, indoor=self.indoor, outdoor=self.outdoor)
        factor = mass_balance_factor(fan_density=path.fan, envelope_density=path.envelope)
        return float(path.fan), float(factor)

    def reference_factor(self, direction: Direction, exponent: float) -> float:
        """Flow of reference air against flow of the air in the leaks."""
        path = air_path(direction=direction, indoor=self.indoor, outdoor=self.outdoor)
        if self.is_moist:
            return float(reference_factor_iso9972(exponent=exponent, density=path.envelope))
        leak = direction is Direction.DEPRESSURIZATION
        temperature = self.outdoor_temperature if leak else self.indoor_temperature
        return float(
            reference_factor_e779(exponent=exponent, temperature=temperature, density=path.envelope)
        )


def air_checks(readings: AirReadings, unit: str | None, book: Book) -> list[Check]:
    """Questions about temperatures and pressures that decide the densities."""
    checks: list[Check] = []
    if readings.indoor is not None:
        asked = _asked(readings.indoor, unit, book)
        checks += book.complaint(
            "air.indoor-temperature",
            readings.indoor,
            field="conditions.indoor_temperature",
            message=asked,
        )
    if readings.station_pressure is not None and readings.elevation is not None:
        standard = float(air.standard_pressure(readings.elevation))
        ratio = readings.station_pressure / standard
        checks += book.complaint(
            "air.pressure-elevation",
            ratio,
            field="conditions.barometric_pressure",
            message=f"The station pressure is {readings.station_pressure:.0f} Pa; at "
            f"{readings.elevation:.0f} m the standard atmosphere has {standard:.0f} Pa.",
        )
    known = _known(readings, book)
    checks += book.complaint(
        "air.density",
        float(sum(known.values())),
        field="conditions",
        message="Not known: " + ", ".join(name for name, there in known.items() if not there) + ".",
    )
    return checks


def air_state(readings: AirReadings, method: str, book: Book) -> AirState | None:
    """Densities by the method's own form; None while a reading is missing or in question."""
    indoor, outdoor = readings.indoor, readings.outdoor
    if indoor is None or outdoor is None or not all(_known(readings, book).values()):
        return None
    if method == "iso9972":
        return _moist(readings, indoor, outdoor, book)
    return _dry(readings, indoor, outdoor)


def _asked(indoor: float, unit: str | None, book: Book) -> str:
    written = indoor * 9 / 5 + 32 if unit == "degF" else indoor
    words = f"The indoor temperature is {written:.1f} {unit}, that is {indoor:.1f} °C."
    if unit == "degF" and book.holds("air.indoor-temperature", written):
        return f"{words} Was it read in °C?"
    return words


def _known(readings: AirReadings, book: Book) -> dict[str, bool]:
    """What the densities need, and whether it can be used."""
    indoor = readings.indoor
    trusted = indoor is not None and (
        book.holds("air.indoor-temperature", indoor) or book.is_confirmed("air.indoor-temperature")
    )
    pressure = readings.station_pressure is not None or readings.elevation is not None
    return {
        "indoor temperature": trusted,
        "outdoor temperature": readings.outdoor is not None,
        "elevation or station pressure": pressure,
    }


def _dry(readings: AirReadings, indoor: float, outdoor: float) -> AirState:
    steps, densities = [], []
    for name, temperature in (("indoor", indoor), ("outdoor", outdoor)):
        numbers = {"T": f"{temperature:.2f} °C"}
        if readings.station_pressure is not None:
            density = air.dry_air_density_at_pressure(
                temperature=temperature, pressure=readings.station_pressure
            )
            numbers["p"] = f"{readings.station_pressure:.0f} Pa"
            formula = "1.2041 (p / 101325) (293 / (T + 273))"
        else:
            density = air.dry_air_density(
                temperature=temperature, elevation=readings.elevation or 0.0
            )
            numbers["E"] = f"{readings.elevation:.1f} m"
            formula = "1.2041 (1 - 0.0065 E / 293)^5.2553 (293 / (T + 273))"
        densities.append(float(density))
        steps.append(
            Step(
                what=f"Density of the {name} air",
                formula=formula,
                numbers=numbers,
                value=float(density),
                unit="kg/m³",
                source="ASTM E779-19 Appendix X1",
                provenance="from memory",
            )
        )
    return AirState(
        indoor=densities[0],
        outdoor=densities[1],
        indoor_temperature=indoor,
        outdoor_temperature=outdoor,
        is_moist=False,
        steps=tuple(steps),
    )


def _moist(readings: AirReadings, indoor: float, outdoor: float, book: Book) -> AirState:
    pressure, steps, densities = _station_pressure(readings), [], []
    sides = (
        ("indoor", indoor, readings.indoor_humidity),
        ("outdoor", outdoor, readings.outdoor_humidity),
    )
    for name, temperature, measured in sides:
        humidity = book.setting("setting.humidity") if measured is None else measured
        density = air.moist_air_density(
            temperature=temperature, pressure=pressure, humidity=humidity
        )
        densities.append(float(density))
        assumed = " (not measured)" if measured is None else ""
        steps.append(
            Step(
                what=f"Density of the {name} air",
                formula="(p - 0.37802 phi p_sat(T)) / (287.055 (T + 273.15))",
                numbers={
                    "T": f"{temperature:.2f} °C",
                    "p": f"{pressure:.0f} Pa",
                    "phi": f"{humidity:g}{assumed}",
                },
                value=float(density),
                unit="kg/m³",
                source="ISO 9972:2015 Annex A",
                provenance="from memory",
            )
        )
    return AirState(
        indoor=densities[0],
        outdoor=densities[1],
        indoor_temperature=indoor,
        outdoor_temperature=outdoor,
        is_moist=True,
        steps=tuple(steps),
    )


def _station_pressure(readings: AirReadings) -> float:
    if readings.station_pressure is not None:
        return readings.station_pressure
    return float(air.standard_pressure(readings.elevation or 0.0))
