"""From a job's records to the inputs of its estimate of measures."""

from collections.abc import Iterable, Sequence
from datetime import date
from math import log
from typing import Any

from django.utils import timezone

from agency.diagnostics.models import Comparison, Result
from agency.jobs.models import Job
from agency.programs.models import Fuel, FuelPrice
from agency.rulebook.models import Rule
from agency.rulebook.shipped import RuleSet, effective_on
from agency.wording import words

from .assumptions import Gathered
from .describing import describe_house
from .descriptions import EnergyDescription
from .inputs import Refusal
from .measure_kinds import AirSealing
from .measures import Measure
from .measures_inputs import (
    Billed,
    Economics,
    Leaks,
    MeasureInput,
    MeasuresInputs,
    Price,
    Uncertainties,
)

INDEX_YEARS = (10, 20, 30)
MODELS = {1.0: "basic", 2.0: "enhanced", 3.0: "enhanced_original"}
LOCATIONS = ("attic", "vented_crawl_space", "basement")
BILLED = (
    ("heating", "billed_heating"),
    ("cooling", "billed_cooling_kwh"),
    ("hot water", "billed_hot_water"),
    ("baseload", "billed_baseload_kwh"),
)


def gather(job: Job) -> tuple[MeasuresInputs | None, list[Refusal]]:
    """The inputs, or what is missing for them; the rules are those of the day of the work."""
    day = job.inspection_passed_on or job.work_started_on or timezone.localdate()
    rules = effective_on(Rule.objects.all(), day)
    gathered = Gathered(rules=rules)
    measures = list(Measure.objects.of_job(job))
    saving = [one for one in measures if one.category == Measure.Category.ENERGY]
    if not saving:
        gathered.missing(
            "measures", "No measure that saves energy is on the list.", "Add the planned measures."
        )
    description = EnergyDescription.objects.filter(house=job.house).first()
    description = description or EnergyDescription(house=job.house)
    treated = [one.read_properties() for one in saving]
    house = describe_house(job.house, description, treated, gathered)
    leaks = _leaks(job, treated, gathered)
    model = "" if leaks is None else _model(description, leaks, gathered)
    if house is None or leaks is None or gathered.refusals:
        return None, gathered.refusals
    fuels = [house.heating_fuel, house.water_fuel, Fuel.ELECTRICITY.value]
    fuels += [one.fuel_after for one in treated if hasattr(one, "fuel_after")]
    return (
        MeasuresInputs(
            house=house,
            leaks=leaks,
            model=model,
            n_factor_climate=rules.setting("infiltration.n_factor_climate"),
            regain={place: rules.setting(f"ducts.regain.{place}") for place in LOCATIONS},
            lighting_inside=rules.setting("house.heat_inside"),
            measures=_measures(measures, gathered),
            prices=list(_prices(fuels, day, rules)),
            billed=_billed(description, house.heating_fuel, house.water_fuel),
            economics=_economics(rules, gathered),
            spread=_spread(rules),
            trials=int(rules.setting("measures.trials")),
            seed=int(rules.setting("measures.seed")),
            assumptions=gathered.assumptions,
        ),
        [],
    )


def _leaks(job: Job, treated: Sequence[Any], gathered: Gathered) -> Leaks | None:
    """Tested leakage; a plan stands in for the second test until the two can be compared."""
    comparison = job.comparisons.select_related("before", "after").first()
    before = comparison.before if comparison else None
    size = _area(before)
    if before is None or size is None:
        gathered.missing(
            "before.leakage_area",
            "No accepted fan test before the work gives an effective leakage area.",
            "Accept a test of several pressures taken before the work.",
        )
        return None
    area, u_before = size
    flows = before.figures.get("flows") or {}
    flow_4, flow_50 = ((flows.get(one) or {}).get("value") for one in ("4", "50"))
    known = {
        "before": area,
        "u_before": u_before,
        "exponent": _exponent(flow_4, flow_50),
        "flow_50": flow_50,
    }
    sealing = next((one for one in treated if isinstance(one, AirSealing)), None)
    if sealing is None:
        same = {"after": area, "u_after": u_before, "shared": u_before}
        return Leaks(**known, **same, basis="Test before the work; no air sealing on the list")
    tested = _tested_after(comparison, u_before)
    if tested is not None:
        return Leaks(**known, **tested)
    return _planned(known, sealing, gathered)


def _exponent(flow_4: float | None, flow_50: float | None) -> float | None:
    """Between both pressures, of one direction or of the mean of two."""
    if not flow_4 or not flow_50:
        return None
    return log(flow_50 / flow_4) / log(50 / 4)


def _area(result: Result | None) -> tuple[float, float] | None:
    """Effective leakage area and its relative standard uncertainty."""
    figures = {} if result is None else result.figures
    area, u = figures.get("ela"), (figures.get("uncertainty") or {}).get("flow_4")
    return None if area is None or u is None else (area, u)


def _tested_after(comparison: Comparison | None, u_before: float) -> dict[str, Any] | None:
    comparable = {Comparison.Verdict.DETECTABLE, Comparison.Verdict.NOT_DETECTABLE}
    if comparison is None or comparison.verdict not in comparable:
        return None
    size = _area(comparison.after)
    if size is None:
        return None
    area, u_after = size
    shared = comparison.figures.get("shared_uncertainty") or 0.0
    return {
        "after": area,
        "u_after": u_after,
        "shared": min(shared, u_before, u_after),
        "basis": "Fan tests before and after the work",
    }


def _planned(known: dict[str, Any], sealing: AirSealing, gathered: Gathered) -> Leaks | None:
    planned, flow_50 = sealing.planned_flow_50_cfm, known["flow_50"]
    if planned is None or flow_50 is None:
        gathered.missing(
            "planned_flow_50_cfm",
            "No fan test after the work can be compared with the one before, and no flow is "
            "planned for the air sealing.",
            "Enter the flow at 50 Pa you expect on the air-sealing measure.",
        )
        return None
    u_after = gathered.rule(
        "Uncertainty of the planned leakage", "measures.planned_leakage_uncertainty"
    )
    return Leaks(
        **known,
        after=known["before"] * planned * words.CFM / flow_50,
        u_after=u_after,
        shared=0.0,
        basis="Fan test before the work; planned flow after it",
    )


def _model(description: EnergyDescription, leaks: Leaks, gathered: Gathered) -> str:
    """The house's own choice, else the agency's; the enhanced model asks for more."""
    chosen = description.infiltration_model
    chosen = chosen or MODELS[gathered.rule("Infiltration model", "infiltration.model")]
    if chosen == "basic":
        return chosen
    for name, what in (("foundation", "What is below the house"), ("flue", "The flue")):
        gathered.needed(
            getattr(description, name),
            name,
            (
                f"{what} is not known; the enhanced infiltration model needs it.",
                "Choose it on the energy description of the house, or choose the basic model.",
            ),
        )
    gathered.needed(
        leaks.exponent,
        "before.exponent",
        (
            "The test before the work has no exponent; the enhanced infiltration model needs it.",
            "Choose the basic model on the energy description, or test at several pressures.",
        ),
    )
    return chosen


def _measures(measures: Iterable[Measure], gathered: Gathered) -> list[MeasureInput]:
    """Energy and health and safety; repairs join the measure they make possible."""
    everything = list(measures)
    repairs: dict[Any, float] = {}
    for one in everything:
        if one.category == Measure.Category.REPAIR:
            repairs[one.repairs_for_id] = repairs.get(one.repairs_for_id, 0.0) + float(one.cost)
    return [
        MeasureInput(
            id=str(one.pk),
            kind=one.kind,
            name=one.name,
            category=one.category,
            properties=one.properties,
            material=float(one.material_cost),
            labour=float(one.labour_cost),
            supervision=float(one.supervision_cost),
            repairs=repairs.get(one.pk, 0.0),
            **_lifetime(one, gathered),
        )
        for one in everything
        if one.category != Measure.Category.REPAIR
    ]


def _lifetime(measure: Measure, gathered: Gathered) -> dict[str, Any]:
    if measure.category != Measure.Category.ENERGY:
        return {"lifetime": 1, "lifetime_source": "not used"}
    code = f"lifetime.{measure.kind}"
    rule = gathered.rules.get(code)
    years = int(gathered.rules.setting(code))
    source = f"Rule {code}, {rule.provenance if rule else ''}"
    if measure.remaining_life is not None and measure.remaining_life < years:
        years = measure.remaining_life
        source = "Remaining life of what it is attached to, as entered"
    return {"lifetime": years, "lifetime_source": source}


def _prices(fuels: Iterable[str], day: date, rules: RuleSet) -> Iterable[Price]:
    for fuel in sorted(set(fuels)):
        row = FuelPrice.objects.on(fuel, day)
        if row is None:
            continue
        yield Price(
            fuel=fuel,
            unit=row.unit,
            price=float(row.price),
            effective_from=row.effective_from.isoformat(),
            source=row.source,
            indices={
                year: rules.setting(f"price_index.{fuel}.year_{year}") for year in INDEX_YEARS
            },
        )


def _billed(description: EnergyDescription, heating: str, water: str) -> list[Billed]:
    fuels = {"heating": heating, "hot water": water}
    return [
        Billed(
            end_use=end_use,
            fuel=fuels.get(end_use, Fuel.ELECTRICITY.value),
            units=units,
            source=description.billed_source or "as entered on the energy description",
        )
        for end_use, name in BILLED
        if (units := getattr(description, name)) is not None
    ]


def _economics(rules: RuleSet, gathered: Gathered) -> Economics:
    return Economics(
        discount_rate=gathered.rule("Discount rate, real", "economics.discount_rate"),
        required=gathered.rule("Ratio asked for", "economics.required_sir"),
        price_swing=rules.setting("sensitivity.price"),
        low_rate=rules.setting("sensitivity.low_rate"),
        high_rate=rules.setting("sensitivity.high_rate"),
        calibration_lowest=rules.setting("calibration.lowest"),
        calibration_highest=rules.setting("calibration.highest"),
    )


def _spread(rules: RuleSet) -> Uncertainties:
    return Uncertainties(
        infiltration_model=rules.setting("estimate.model_uncertainty"),
        weather_year=rules.setting("estimate.weather_year_uncertainty"),
        setpoint=rules.setting("estimate.setpoint_uncertainty"),
        heating_efficiency=rules.setting("estimate.heating_efficiency_uncertainty"),
        cooling_efficiency=rules.setting("estimate.cooling_efficiency_uncertainty"),
    )
