"""From a job's records to its stored estimate: promised, computed once, refused in words."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from agency import workflows
from agency.errors import ActionRefused
from agency.estimates.estimating_measures import estimate_measures, run_package
from agency.estimates.measure_steps import ESTIMATE_MEASURES
from agency.estimates.models import (
    EnergyDescription,
    Measure,
    MeasuresEstimate,
    PackageRun,
    WeatherStation,
)
from agency.houses.models import House
from agency.outbox.models import Errand
from agency.rulebook.models import Rule
from tests.estimates.measured import (
    CEILING,
    FURNACE,
    county_with_weather_and_prices,
    make_measure,
    make_tested_job,
    usual_measures,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def county(db):
    return county_with_weather_and_prices()


@pytest.fixture
def job(cast, device, county):
    return make_tested_job(crew=cast.crew, device=device)


@pytest.fixture
def planned(cast, device, county):
    """Tested before the work only."""
    return make_tested_job(crew=cast.crew, device=device, after_cfm=None)


def refusals(estimate):
    return {one["field"]: one["reason"] + " " + one["next_step"] for one in estimate.refusals}


def test_the_worker_keeps_the_promise_of_a_kept_measure(job, work_off):
    measure = Measure(job=job, **about("insulation", CEILING))
    workflows.keep_measure(measure)
    assert work_off() == 1
    estimate = job.measures_estimates.get()
    assert estimate.figures["steps"][0]["measure"] == str(measure.pk)
    assert estimate.station == WeatherStation.objects.get()
    assert "sha256" in estimate.weather
    assert len(estimate.input_hash) == 64


def about(kind, properties):
    return {
        "kind": kind, "name": "Ceiling", "place": 20, "quantity": 1, "unit": "job",
        "properties": properties, "material_cost": 600, "labour_cost": 400,
    }  # fmt: skip


def test_one_promise_waits_however_many_measures_are_kept(job):
    for _ in range(3):
        workflows.keep_measure(Measure(job=job, **about("insulation", CEILING)))
    assert Errand.objects.filter(task=ESTIMATE_MEASURES, subject=job.pk).count() == 1


def test_the_same_inputs_are_stored_once(job):
    usual_measures(job)
    first, again = estimate_measures(job.pk), estimate_measures(job.pk)
    assert first.pk == again.pk
    assert MeasuresEstimate.objects.count() == 1


def test_what_held_once_and_holds_again_stands_first(job):
    _, ceiling, _ = usual_measures(job)
    first = estimate_measures(job.pk)
    ceiling.material_cost = 9000
    ceiling.save()
    second = estimate_measures(job.pk)
    ceiling.material_cost = 600
    ceiling.save()
    assert estimate_measures(job.pk).pk == first.pk != second.pk
    assert job.measures_estimates.first().pk == first.pk


def test_tests_decide_the_leakage_and_a_plan_only_until_then(job, planned):
    for one, properties in ((job, {}), (planned, {"planned_flow_50_cfm": 2100})):
        make_measure(one, "air_sealing", properties)
    tested, plan = estimate_measures(job.pk), estimate_measures(planned.pk)
    assert tested.inputs["leaks"]["basis"] == "Fan tests before and after the work"
    assert "planned flow" in plan.inputs["leaks"]["basis"]
    for one in (tested, plan):
        leaks = one.inputs["leaks"]
        # Flows of one exponent: areas stand to each other as 2,100 to 3,000 cfm.
        assert leaks["after"] / leaks["before"] == pytest.approx(0.7)
    width = [
        one.figures["steps"][0]["mmbtu"]["high"] - one.figures["steps"][0]["mmbtu"]["low"]
        for one in (tested, plan)
    ]
    assert width[1] > width[0]


def test_assumptions_name_rule_and_provenance(job):
    usual_measures(job)
    assumed = {one["name"]: one for one in estimate_measures(job.pk).inputs["assumptions"]}
    assert assumed["Set point for heating"]["value"] == "68 °F".replace(" ", "\u202f")
    assert "Rule house.window_u" in assumed["U of the other windows"]["source"]
    assert {one["provenance"] for one in assumed.values()} <= {*Rule.Provenance.values}


def test_what_is_known_of_the_house_is_no_assumption(job):
    usual_measures(job)
    EnergyDescription.objects.create(house=job.house, heating_setpoint_f=72, wall_r=5)
    estimate = estimate_measures(job.pk)
    names = {one["name"] for one in estimate.inputs["assumptions"]}
    assert "Set point for heating" not in names
    assert "R of the wall that is not treated" not in names
    assert estimate.inputs["house"]["heating_setpoint"] == pytest.approx((72 - 32) / 1.8)


def test_the_agency_chooses_the_model_and_a_house_may_have_another(job):
    usual_measures(job)
    Rule.objects.filter(code="infiltration.model").update(limit=2)
    assert set(refusals(estimate_measures(job.pk))) == {"foundation", "flue"}
    EnergyDescription.objects.create(
        house=job.house, foundation="crawl space", flue="flue", exhaust_cfm=30
    )
    air = estimate_measures(job.pk).figures["natural_air"]
    assert "AIM-2" in air["method"]
    assert air["variant"] == "crawl space, flue; quadrature superposition"
    EnergyDescription.objects.update(infiltration_model="basic")
    assert "Sherman" in estimate_measures(job.pk).figures["natural_air"]["method"]


@pytest.mark.parametrize(
    ("field", "reason"),
    [
        ("storeys", "number of storeys"),
        ("floor_area_sqft", "floor area"),
        ("shelter", "shelter from wind"),
        ("heating_efficiency", "efficiency of the heating"),
        ("distribution_efficiency", "ducts or pipes"),
    ],
)
def test_a_missing_figure_is_named_with_its_next_step(job, field, reason):
    usual_measures(job)
    House.objects.update(**{field: None})
    told = refusals(estimate_measures(job.pk))
    assert reason in told[field]
    assert "on the house record" in told[field]


def test_no_measure_no_weather_and_no_plan_are_refused_in_words(planned):
    make_measure(planned, "air_sealing", {})
    WeatherStation.objects.get().counties.clear()
    told = refusals(estimate_measures(planned.pk))
    assert "Enter the flow at 50 Pa you expect" in told["planned_flow_50_cfm"]
    assert "Assign one on the page of typical years" in told["weather"]
    Measure.objects.all().delete()
    assert "Add the planned measures" in refusals(estimate_measures(planned.pk))["measures"]


def test_more_ceiling_than_the_house_has_is_refused_with_both_areas(job):
    make_measure(job, "insulation", CEILING | {"area_sqft": 5000})
    told = refusals(estimate_measures(job.pk))["ceiling_area"]
    assert "5,000\u202fft²" in told
    assert "1,400\u202fft²" in told


def test_a_budget_is_spent_by_a_worker_once(job, cast, work_off):
    usual_measures(job)
    estimate_measures(job.pk)
    run = workflows.ask_package(job.pk, cast.manager, Decimal(2500))
    assert workflows.ask_package(job.pk, cast.manager, Decimal(2500)) == run
    assert work_off() == 1
    run.refresh_from_db()
    assert run.figures["package"]["cost"] <= 2500
    assert run.computed_at
    assert run_package(run.pk).computed_at == run.computed_at


def test_a_budget_without_an_estimate_is_refused(job, cast):
    with pytest.raises(ActionRefused, match="no estimate with money"):
        workflows.ask_package(job.pk, cast.manager, Decimal(100))


def test_a_weather_file_that_changed_since_is_not_used_for_a_budget(job, cast):
    usual_measures(job)
    estimate = estimate_measures(job.pk)
    stored = estimate.inputs | {"weather": estimate.inputs["weather"] | {"sha256": "other"}}
    MeasuresEstimate.objects.update(inputs=stored)
    run = PackageRun.objects.create(estimate=estimate, budget=10, asked_by=cast.manager)
    with pytest.raises(ActionRefused, match="has changed since"):
        run_package(run.pk)


def test_approved_jobs_keep_their_list(job, cast):
    measure = usual_measures(job)[0]
    type(job).objects.filter(pk=job.pk).update(
        status="approved", approved_at="2026-06-01T12:00Z", inspection_passed_on="2026-05-30"
    )
    for refused in (
        lambda: workflows.keep_measure(measure),
        lambda: workflows.remove_measure(measure.pk),
    ):
        with pytest.raises(ActionRefused, match="list of measures is closed"):
            refused()


def test_a_repair_holds_its_measure(job):
    ceiling = make_measure(job, "insulation", CEILING)
    repair = make_measure(
        job, "no_saving", {}, name="Hatch", category="incidental_repair", repairs_for=ceiling
    )
    with pytest.raises(ActionRefused, match="Hatch is a repair for Insulation"):
        workflows.remove_measure(ceiling.pk)
    workflows.remove_measure(repair.pk)
    workflows.remove_measure(ceiling.pk)
    assert Measure.history.filter(history_type="-").count() == 2


def test_a_second_air_sealing_and_a_repair_for_nothing_are_refused_by_the_database(job):
    make_measure(job, "air_sealing", {})
    for kind, changes in (("air_sealing", {}), ("no_saving", {"category": "incidental_repair"})):
        with pytest.raises(IntegrityError), transaction.atomic():
            make_measure(job, kind, {}, **changes)


@pytest.mark.parametrize(
    ("kind", "properties", "field", "words"),
    [
        ("insulation", CEILING | {"r_after": 0}, "r_after", "not above zero"),
        ("insulation", CEILING | {"framing_share": 0.2}, "__all__", "needed together"),
        ("insulation", {"assembly": "roof"}, "assembly", "none of the choices"),
        ("heating", FURNACE | {"colour": 1}, "colour", "not known"),
        ("duct_sealing", {}, "__all__", "by the efficiency after it"),
        ("duct_sealing", {"efficiency_after": 0.9, "duct_r": 6}, "__all__", "never by both"),
        ("duct_sealing", {"fan_flow_cfm": 900}, "__all__", "never by both or by some"),
    ],
)
def test_wrong_properties_are_refused_by_field(job, kind, properties, field, words):
    measure = Measure(job=job, **about(kind, properties))
    with pytest.raises(ValidationError) as refused:
        measure.full_clean()
    assert words in " ".join(refused.value.message_dict[field])


def test_category_and_kind_must_fit(job):
    measure = Measure(job=job, **about("no_saving", {}))
    with pytest.raises(ValidationError, match="Choose the category that fits"):
        measure.full_clean()


def test_lifetimes_come_from_the_book_and_end_with_what_they_are_attached_to(job):
    make_measure(job, "insulation", CEILING, remaining_life=8)
    make_measure(job, "heating", FURNACE)
    ceiling, furnace = estimate_measures(job.pk).inputs["measures"]
    assert ceiling["lifetime"] == 8
    assert "Remaining life" in ceiling["lifetime_source"]
    assert furnace["lifetime"] == 18
    assert "Rule lifetime.heating" in furnace["lifetime_source"]


def test_a_county_has_one_station(job):
    county = job.house.county
    other = WeatherStation.objects.create(name="Other", format="epw", file="weather/none.epw")
    workflows.assign_station(other.pk, [county])
    assert list(county.weather_stations.all()) == [other]
