"""Measures of some invented jobs: what the audit found, what it cost, what was known of it."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import numpy as np
from simple_history.utils import bulk_create_with_history

from agency.diagnostics.models import Comparison
from agency.estimates.measure_kinds import KINDS
from agency.estimates.models import EnergyDescription, Measure
from agency.jobs.models import ENDED, Job
from agency.wording.words import CFM

from .evaluating import Evaluator
from .histories import Life
from .registers import fixed_id

EVERY = 3
"""One of so many approved jobs has its measures on record."""
ESTIMATED = 6
"""The newest of them are estimated while seeding; the rest when somebody asks."""
PLANNED_LEFT = 0.72
"""Flow planned to be left after the air sealing, over the flow before. [-]"""
BURNED = {"natural_gas": 0.95, "propane": 0.95, "fuel_oil": 0.87}
"""Efficiency of a new plant by fuel. [-]"""
SEASON = (("air_sealing", 1.0), ("insulation", 0.9), ("duct_sealing", 0.5), ("heating", 0.25),
          ("thermostat", 0.3), ("low_flow", 0.5), ("tank_wrap", 0.3), ("lighting", 0.6),
          ("appliance", 0.15))  # fmt: skip
"""How often each is worth doing; own choice."""

CEILING = {"assembly": "ceiling", "r_before": 11, "r_after": 44, "framing_share": 0.07,
           "framing_r": 9}  # fmt: skip
LAMPS = {"watts_before": 43, "watts_after": 9, "hours_a_day": 2.5}
ALIKE: dict[str, tuple[float, dict[str, Any]]] = {
    "duct_sealing": (520, {"efficiency_after": 0.88}),
    "thermostat": (140, {"setback_f": 6, "hours_a_day": 8}),
    "low_flow": (55, {"gallons_a_day": 9}),
    "tank_wrap": (70, {"area_sqft": 24, "r_before": 12, "r_after": 21, "warmer_f": 55}),
    "appliance": (780, {"metered_kwh": 3.4, "metered_hours": 24, "rated_kwh": 390}),
}
"""Cost and properties of what is alike in every house. [$]"""


def write_measures(lives: list[Life], evaluator: Evaluator) -> None:
    """Measures of a part of the approved jobs and of every open job with a test before."""
    chosen = _chosen(lives)
    rows = [row for life in chosen for row in _measures(life)]
    energy = [row for row in rows if row.category != Measure.Category.REPAIR]
    repairs = [row for row in rows if row.category == Measure.Category.REPAIR]
    descriptions = [_description(life) for life in chosen if life.story.number % 4 == 0]
    because = "Invented for the demo"
    for model, made in ((Measure, energy), (Measure, repairs), (EnergyDescription, descriptions)):
        bulk_create_with_history(made, model, default_change_reason=because)
    ended = [life.job.pk for life in chosen if life.story.approved_on]
    left_for_later = ended[:-ESTIMATED]
    estimated = [life.job.pk for life in chosen if life.job.pk not in left_for_later]
    jobs = Job.objects.filter(pk__in=estimated).select_related("house__county")
    evaluator.estimate_measures(jobs.order_by("number"))


def _chosen(lives: list[Life]) -> list[Life]:
    tested = set(Comparison.objects.exclude(before=None).values_list("job_id", flat=True))
    ended = set(Job.objects.filter(status__in=ENDED).values_list("pk", flat=True))
    return [
        life
        for life in lives
        if life.job.pk in tested
        and (life.job.pk not in ended or life.story.approved_on)
        and (life.job.pk not in ended or life.story.number % EVERY == 0)
    ]


def _measures(life: Life) -> Iterator[Measure]:
    rng = np.random.default_rng([2027, life.story.number])
    made: dict[str, Measure] = {}
    for kind, chance in SEASON:
        told = _told(kind, life, rng)
        if rng.random() <= chance and told is not None:
            made[kind] = _measure(life, kind, **told)
            yield made[kind]
    if rng.random() < 0.6:
        yield _measure(
            life, "no_saving", name="Bath fan to outdoors", category="health_and_safety", cost=420
        )
    if "insulation" in made and rng.random() < 0.5:
        yield _measure(
            life,
            "no_saving",
            name="Attic hatch rebuilt",
            category="incidental_repair",
            repairs_for=made["insulation"],
            cost=160,
        )


def _told(kind: str, life: Life, rng: np.random.Generator) -> dict[str, Any] | None:
    """Properties, quantity and cost of one kind; None where the house has nothing of it."""
    record = life.home.record
    fuel, efficiency = record["heating_fuel"], record["heating_efficiency"]
    sound_ducts = kind == "duct_sealing" and record["distribution_efficiency"] > 0.8
    if sound_ducts or (kind == "heating" and (fuel not in BURNED or efficiency > 0.85)):
        return None
    if kind == "insulation":
        area = round(record["floor_area_sqft"] / record["storeys"] * 0.9)
        ceiling = CEILING | {"area_sqft": area}
        return {"cost": 1.55 * area, "quantity": area, "properties": ceiling}
    if kind == "heating":
        after = {"fuel_after": fuel, "efficiency_after": BURNED[fuel]}
        return {"cost": 4600, "properties": after}
    if kind == "lighting":
        lamps = int(rng.integers(8, 22))
        return {"cost": 4.5 * lamps, "quantity": lamps, "properties": LAMPS | {"lamps": lamps}}
    cost, properties = _sealing(life) if kind == "air_sealing" else ALIKE[kind]
    return {"cost": cost, "properties": properties}


def _sealing(life: Life) -> tuple[float, dict[str, Any]]:
    return 650 + 0.35 * life.home.record["floor_area_sqft"], _plan(life)


def _plan(life: Life) -> dict[str, float]:
    """The flow planned for an open job, from its test before; the tests decide elsewhere."""
    if life.story.approved_on:
        return {}
    comparison = Comparison.objects.filter(job=life.job).select_related("before").first()
    flow = comparison.before.flow_50 if comparison and comparison.before else None
    return {} if flow is None else {"planned_flow_50_cfm": round(PLANNED_LEFT * flow / CFM, -1)}


def _measure(
    life: Life,
    kind: str,
    *,
    cost: float,
    name: str = "",
    quantity: float = 1,
    category: str = "energy",
    properties: dict[str, Any] | None = None,
    repairs_for: Measure | None = None,
) -> Measure:
    about = KINDS[kind].kind
    story = life.story
    return Measure(
        id=fixed_id("measure", story.number, kind, name),
        job=life.job,
        kind=kind,
        name=name or about.title,
        category=category,
        repairs_for=repairs_for,
        place=about.rank,
        quantity=Decimal(str(quantity)),
        unit=about.unit,
        properties=properties or {},
        material_cost=Decimal(round(0.45 * cost)),
        labour_cost=Decimal(round(0.5 * cost)),
        supervision_cost=Decimal(round(0.05 * cost)),
        installed_on=story.tested_out_on,
    )


def _description(life: Life) -> EnergyDescription:
    """Some houses are known better, and use the other infiltration model."""
    return EnergyDescription(
        id=fixed_id("description", life.story.number),
        house=life.job.house,
        infiltration_model="enhanced",
        foundation="basement or slab",
        flue="flue" if life.home.record["heating_fuel"] in BURNED else "no flue",
        heating_setpoint_f=69,
        exhaust_cfm=30,
        baseload_kwh=5800,
    )
