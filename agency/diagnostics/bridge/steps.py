"""The steps of a calculation in words and numbers, for whoever checks it by hand."""

from typing import Any

from agency.leakage.power_law import ExponentSource

from ..evaluation import Step
from .envelope import SeriesResult, plain
from .readings import FanTerm, HouseSizes, ReadPoint

FIT_WORDS = {
    ExponentSource.FITTED: ("Least squares of ln(flow) on ln(pressure)", "ln Q = ln C + n ln dP"),
    ExponentSource.ASSUMED: ("Coefficient with an assumed exponent", "C = Q / dP^n"),
    ExponentSource.TWO_POINT: ("Power law through two stations", "n = ln(Q1 / Q2) / ln(dP1 / dP2)"),
}
METHOD_SOURCE = {
    "e779": "ASTM E779-19, 9 and Annex A1",
    "iso9972": "ISO 9972:2015, 6 and Annex C",
    "one_point": "ANSI/RESNET/ICC 380-2019, one-point test",
    "two_point": "ASTM E1827-22, two-point method",
}
ROULET = "Roulet, Ventilation and Airflow in Buildings, eq. 4.15"

HOUSE_WORDS = {
    "ach50": ("Air changes at 50 Pa", "3600 Q50 / V", "1/h", "ISO 9972:2015, 6"),
    "ela": ("Effective leakage area", "Q4 / sqrt(2 x 4 / rho0)", "m²", "ASTM E779-19"),
    "eqla": (
        "Equivalent leakage area",
        "Q10 / (0.611 sqrt(2 x 10 / rho0))",
        "m²",
        "CAN/CGSB-149.10",
    ),
    "nl": (
        "Normalized leakage",
        "1000 (ELA / A_floor) (H / 8.2 ft)^0.4",
        "",
        "ASHRAE 62.2-2013",
    ),
    "sla": ("Specific leakage area", "ELA / A_floor", "", "ASHRAE 119"),
    "permeability": (
        "Air permeability at 50 Pa",
        "3600 Q50 / A_envelope",
        "m³/(h m²)",
        "ISO 9972:2015",
    ),
}
"""Name, formula, unit and source of the figures that need the house's sizes."""


def series_steps(result: SeriesResult) -> list[Step]:
    """From the readings of one series to its power law at reference conditions."""
    steps = []
    for index, point in enumerate(result.series.points):
        steps += [_pressure_step(result, index, point), _flow_step(result, index, point)]
    return [*steps, _fit_step(result), _reference_step(result)]


def _where(result: SeriesResult, index: int) -> str:
    return f"{result.series.direction}, point {index + 1}"


def _pressure_step(result: SeriesResult, index: int, point: ReadPoint) -> Step:
    falls = (result.series.direction.sign < 0) != result.turned
    return Step(
        what=f"Induced pressure, {_where(result, index)}",
        formula="dP = P0 - P" if falls else "dP = P - P0",
        numbers={"P": f"{point.building_pressure:.2f} Pa", "P0": f"{result.offset:.3f} Pa"},
        value=plain(result.induced[index]),
        unit="Pa",
        source=METHOD_SOURCE[result.method],
        provenance="from memory",
    )


def _flow_step(result: SeriesResult, index: int, point: ReadPoint) -> Step:
    return Step(
        what=f"Flow through the leaks, {_where(result, index)}",
        formula="Q = sum(K Pf^m) sqrt(rho_cal / rho_fan) rho_fan / rho_envelope",
        numbers={
            **{f"fan {fan.serial} {fan.configuration}": _equation(fan) for fan in point.fans},
            "indicated": f"{result.indicated[index]:.6f} m³/s",
            "air factor": f"{result.factors[index]:.5f}",
        },
        value=plain(result.flow[index]),
        unit="m³/s",
        source="fan certificate; Bernoulli's equation; conservation of mass",
        provenance="derived",
    )


def _equation(fan: FanTerm) -> str:
    one = fan.equation
    if one is None:
        return "no equation"
    return f"{one.coefficient:.6g} m³/(s Pa^m) x ({fan.pressure:.2f} Pa)^{one.exponent:g}"


def _fit_step(result: SeriesResult) -> Step:
    law = result.measured_law
    what, formula = FIT_WORDS[law.exponent_source]
    return Step(
        what=f"{what}, {result.series.direction}",
        formula=formula,
        numbers={
            "n": f"{float(law.exponent):.6f}",
            "points": str(int(law.line.points)),
        },
        value=plain(float(law.coefficient)),
        unit="m³/(s Pa^n)",
        source=METHOD_SOURCE[result.method],
        provenance="from memory",
    )


def _reference_step(result: SeriesResult) -> Step:
    iso, known = result.method == "iso9972", result.reference_factor is not None
    return Step(
        what=f"Factor to air at 20 °C and 101325 Pa, {result.series.direction}",
        formula="(rho / rho0)^(1 - n)" if iso else "(mu / mu0)^(2n - 1) (rho / rho0)^(1 - n)",
        numbers={"n": f"{result.exponent:.6f}"}
        if known
        else {"air": "densities not known, no correction made"},
        value=result.reference_factor,
        unit="",
        source="ISO 9972:2015, 6.3" if iso else ROULET,
        provenance="from memory" if iso else "read",
    )


def house_steps(figures: dict[str, Any], house: HouseSizes) -> list[Step]:
    """Flows and figures of the house from the law, or from the mean of both directions."""
    both = len(figures["series"]) == 2
    flow = figures["flow_50"]["value"]
    steps = [
        Step(
            what="Flow at 50 Pa",
            formula="(Q50 down + Q50 up) / 2" if both else "C0 x 50^n",
            numbers={
                f"Q50 {one['direction']}": f"{one['flow_50']['value']:.6f} m³/s"
                for one in figures["series"]
            },
            value=flow,
            unit="m³/s",
            source="ISO 9972:2015, 6, mean of both directions" if both else "power law",
            provenance="from memory" if both else "derived",
        )
    ]
    for name, (what, formula, unit, source) in HOUSE_WORDS.items():
        if figures[name] is not None:
            steps.append(
                Step(
                    what=what,
                    formula=formula,
                    numbers=_sizes(house),
                    value=figures[name],
                    unit=unit,
                    source=source,
                    provenance="from memory",
                )
            )
    return steps


def _sizes(house: HouseSizes) -> dict[str, str]:
    named = (
        ("V", house.volume, "m³"),
        ("A_floor", house.floor_area, "m²"),
        ("H", house.height, "m"),
        ("A_envelope", house.envelope_area, "m²"),
    )
    return {name: f"{value:.4g} {unit}" for name, value, unit in named if value is not None}
