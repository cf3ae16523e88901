"""Component leakage: chamber readings in, leakage at the pressure of the rating out."""

from agency.leakage.components import (
    flow_at_standard_air,
    leakage_per_area,
    leakage_per_crack_length,
    specimen_leakage,
)
from agency.leakage.fan_flow import Direction
from agency.leakage.scaling import flow_at_other_pressure

from .bench import Bench
from .findings import Findings, Shown, answer_of, spoken, state_of, step
from .si import FLOW, LENGTH
from .visit_checks import sign_check

PER_AREA = FLOW["cfm"] / LENGTH["ft"] ** 2
"""One cfm/ft², the unit of the limits. [m³/(s m²)]"""
SOURCE = ("ASTM E783, E283", "from memory")


def component_findings(bench: Bench) -> Findings:
    """Leakage of one component at the pressure of its rating, at standard air."""
    document, book = bench.document, bench.book
    label, sign = document.component, Direction(document.direction).sign
    checks = sign_check(
        book, document.pressure, sign=sign, field="pressure", label="Chamber to other side"
    )
    rating = book.setting("component.rating-pressure")
    exponent = book.setting("component.exponent")
    pressure = abs(document.pressure)
    checks += book.complaint("component.extrapolated", pressure / rating, field="pressure")
    station = bench.needed(
        bench.station_pressure, "conditions.barometric_pressure", "Station pressure, or elevation,"
    )
    temperature = bench.needed(
        document.meter_temperature, "meter_temperature", "Air temperature at the flow device"
    )
    total, extraneous = (
        bench.flow(getattr(document, name), field=name, label=words, direction=document.direction)
        for name, words in (
            ("total", "Flow with the component open"),
            ("extraneous", "Flow with the component sealed"),
        )
    )
    own = float(specimen_leakage(total=total, extraneous=extraneous))
    standard = float(flow_at_standard_air(flow=own, pressure=station, temperature=temperature))
    flow = float(
        flow_at_other_pressure(flow=standard, pressure=pressure, target=rating, exponent=exponent)
    )
    area, crack = document.area, document.crack_length
    per_area = None if area is None else float(leakage_per_area(flow=flow, area=area))
    per_crack = (
        None if crack is None else float(leakage_per_crack_length(flow=flow, crack_length=crack))
    )
    code = f"component.limit.{document.construction}"
    limits = book.check(code, None if per_area is None else per_area / PER_AREA, field="area")
    limit = book.limit_of(code)
    measure = f"Leakage per area at {rating:g} Pa"
    return Findings(
        method="ASTM E783",
        edition="02 (2018)",
        answer=answer_of(limits),
        words=f"{label}: {spoken(limits)}",
        shown=[
            Shown(
                name=f"Leakage per area at {rating:g} Pa", quantity="flow_per_area", value=per_area
            ),
            Shown(
                name="Leakage per length of crack",
                quantity="flow_per_length",
                value=per_crack,
                note="" if crack else "no moving joints given",
            ),
            Shown(name=f"Leakage at {rating:g} Pa, standard air", quantity="flow", value=flow),
            Shown(name="Of it read as extraneous", quantity="flow", value=extraneous),
        ],
        limits=limits,
        checks=checks,
        steps=[
            step(
                "Flow through the component alone",
                "Q = Q_total − Q_extraneous",
                own,
                "m³/s",
                source=SOURCE,
                Q_total=total,
                Q_extraneous=extraneous,
            ),
            step(
                "The same at standard air",
                "Q_s = Q √(ρ/1.202), ρ = 0.003485 B/(T + 273)",
                standard,
                "m³/s",
                source=SOURCE,
                B=station,
                T=temperature,
            ),
            step(
                f"The same at {rating:g} Pa",
                "Q_r = Q_s (P_r/P)^n",
                flow,
                "m³/s",
                source=("power law", "derived"),
                P=pressure,
                n=exponent,
            ),
        ],
        drawing={
            "type": "bars",
            "title": f"Leakage of {label} per area",
            "measure": measure,
            "quantity": "flow_per_area",
            "bars": [
                {
                    "label": label,
                    "value": per_area,
                    "high": None if limit is None else limit * PER_AREA,
                    "state": state_of(limits),
                }
            ],
        },
        details={"flow": flow, "per_area": per_area, "per_crack": per_crack},
    )
