"""Whole-house ventilation: rate, credit, local deficits and minutes, edition by edition."""

import json
from datetime import UTC, datetime

import pytest

from agency.diagnostics.documents import parse, parse_json
from agency.diagnostics.evaluation import BenchResult, EarlierResult, GeometryFacts
from agency.diagnostics.register import context_of
from agency.errors import DocumentRefused

from .examples import bench, checks_of, evaluate, example, shown
from .test_evaluate_command import run
from .wrong_numbers import assert_every_number_may_be_wrong

NAME = "ventilation_need.json"
CFM = 0.3048**3 / 60
ROOMS = [
    {"room": "Bath", "sort": "bathroom", "flow": 32.0, "window": "none"},
    {"room": "Kitchen", "sort": "kitchen", "flow": 0.0, "window": "opens"},
]
FACTOR = {
    "infiltration_credit": True,
    "weather_factor": 0.5,
    "weather_basis": "table_of_the_standard",
    "weather_station": "Tarn Hollow airfield",
    "weather_edition": "2019",
    "outdoor_share": 1.0,
}


def need(method="ordinary", **changes):
    """1500 ft², 3 bedrooms, one storey of 8.2 ft, an exhaust fan, edition 2019."""
    asked = {
        "house": {"floor_area": 1500.0, "height": 8.2},
        "edition": "2019",
        "bedrooms": 3,
        "fan": "exhaust_or_supply_only",
        "infiltration_credit": False,
    }
    return bench("ventilation_need", method, **{**asked, **changes})


def tightness(cfm, day=1, **changes):
    """A tightness test of the same house."""
    at = datetime(2026, 10, day, tzinfo=UTC)
    return EarlierResult(phase="after", taken_at=at, flow_50=cfm * CFM, **changes)


def flows(evaluation):
    """Figures in cfm."""
    return {
        name: None if one["value"] is None else one["value"] / CFM
        for name, one in shown(evaluation).items()
    }


RATES = [("2010", 45), ("2013", 75), ("2016", 75), ("2019", 75), ("2022", 75)]


@pytest.mark.parametrize(("edition", "cfm"), RATES)
def test_the_rate_of_each_edition(edition, cfm):
    """0.03 x 1500 + 7.5 x (3 + 1) = 75 cfm, 62.2-2013 and later (2013 and 2019 read as restated,
    2016 and 2022 from memory); 0.01 x 1500 + 30 = 45 cfm, 62.2-2010, from memory."""
    evaluation = evaluate(need(edition=edition))
    assert flows(evaluation)["Fan flow needed"] == pytest.approx(cfm, abs=1e-9)
    assert (evaluation.edition, evaluation.answer) == (edition, "found")


def test_more_people_than_bedrooms_need_more():
    """45 + 7.5 x 6 = 90 cfm; one bedroom counts at least: 45 + 7.5 x 2 = 60 cfm; from memory."""
    assert flows(evaluate(need(occupants=6)))["Fan flow needed"] == pytest.approx(90)
    assert flows(evaluate(need(bedrooms=0)))["Fan flow needed"] == pytest.approx(60)
    assert flows(evaluate(need(occupants=1)))["Fan flow needed"] == pytest.approx(75)


def test_the_credit_of_a_balanced_fan_is_the_whole_infiltration():
    """0.052 x 1500 cfm x 0.5 x (8.2/8.2)^0.4 = 39 cfm; 75 - 39 = 36: 62.2-2019 Eqs 4-2 and 4-3,
    read as restated."""
    evaluation = evaluate(need(**FACTOR, fan="balanced"), earlier=(tightness(1500),))
    assert flows(evaluation)["Credit for infiltration"] == pytest.approx(39, abs=1e-9)
    assert flows(evaluation)["Fan flow needed"] == pytest.approx(36, abs=1e-9)


def test_a_fan_that_is_not_balanced_gets_less():
    """φ = 39/75: 39²/75 = 20.28, so 54.72 cfm; 62.2-2019 Eq. 4-2, read as restated. The edition
    of 2013 credits all of it, read."""
    later = evaluate(need(**FACTOR), earlier=(tightness(1500),))
    assert flows(later)["Fan flow needed"] == pytest.approx(54.72, abs=1e-9)
    older = {**FACTOR, "weather_edition": "2013"}
    earlier = evaluate(need(**older, edition="2013"), earlier=(tightness(1500),))
    assert flows(earlier)["Fan flow needed"] == pytest.approx(36, abs=1e-9)


def test_two_storeys_by_the_printed_factor():
    """Factor 1.32 for two storeys, Standard Work Specifications Table A-1, read: 39 x 1.32."""
    tall = need(**FACTOR, fan="balanced")
    tall["house"]["height"] = 16.4
    credit = flows(evaluate(tall, earlier=(tightness(1500),)))["Credit for infiltration"]
    assert credit / 39 == pytest.approx(1.32, abs=0.005)


def test_an_attached_dwelling_is_credited_its_share_to_outdoors():
    attached = evaluate(
        need(**{**FACTOR, "outdoor_share": 0.5}, fan="balanced"), earlier=(tightness(1500),)
    )
    assert flows(attached)["Credit for infiltration"] == pytest.approx(19.5, abs=1e-9)


def test_the_latest_tightness_test_that_may_be_reported_counts():
    tests = (
        tightness(3000, day=3, is_reportable=False),
        tightness(1500, day=2),
        tightness(2000, day=1),
    )
    evaluation = evaluate(need(**FACTOR, fan="balanced"), earlier=tests)
    assert flows(evaluation)["Credit for infiltration"] == pytest.approx(39, abs=1e-9)
    note = shown(evaluation)["Credit for infiltration"]["note"]
    assert "test of 2026-10-02" in note
    assert "typed from the standard's table, Tarn Hollow airfield, edition 2019" in note


@pytest.mark.django_db
def test_provisional_and_returned_tests_are_told_apart(make_job, make_run):
    job = make_job()
    runs = [
        make_run(job, verdict=verdict, review=review, taken_at=datetime(2026, 4, day, tzinfo=UTC))
        for day, verdict, review in (
            (1, "valid", "to_review"),
            (2, "provisional", "to_review"),
            (3, "valid", "returned"),
            (4, "valid", "to_review"),
        )
    ]
    context = context_of(runs[-1], parse_json(runs[-1].document))
    assert [one.is_reportable for one in context.earlier] == [True, False, False]


NO_CREDIT = [
    ({"infiltration_credit": False}, "not asked for"),
    ({"weather_factor": None}, "no weather and shielding factor"),
    ({"outdoor_share": None}, "share of the envelope"),
    ({"house": {"floor_area": 1500.0}}, "height of the house not known"),
]


@pytest.mark.parametrize(("changes", "why"), NO_CREDIT)
def test_without_what_it_rests_on_there_is_no_credit(changes, why):
    evaluation = evaluate(need(**{**FACTOR, **changes}), earlier=(tightness(1500),))
    assert flows(evaluation)["Fan flow needed"] == pytest.approx(75)
    figure = shown(evaluation)["Credit for infiltration"]
    assert figure["value"] is None
    assert why in figure["note"]
    assert why in evaluation.figures["words"]


def test_without_a_tightness_test_there_is_no_credit():
    evaluation = evaluate(need(**FACTOR))
    assert flows(evaluation)["Credit for infiltration"] is None
    assert "no tightness test" in evaluation.figures["words"]


@pytest.mark.parametrize("missing", ["weather_station", "weather_edition"])
def test_a_factor_without_its_station_and_edition_is_refused(missing):
    evaluation = evaluate(need(**{**FACTOR, missing: None}), earlier=(tightness(1500),))
    assert evaluation.verdict == "not_computed"
    message = checks_of(evaluation, "reading.refused")[0]["message"]
    assert "station or edition is not given" in message


def test_a_factor_of_another_edition_is_told():
    odd = evaluate(need(**{**FACTOR, "weather_edition": "2016"}), earlier=(tightness(1500),))
    assert checks_of(odd, "ventilation.factor-edition")[0]["status"] == "advisory"
    assert not checks_of(evaluate(need(**FACTOR)), "ventilation.factor-edition")


def test_a_computed_factor_is_labelled_and_advised_against():
    computed = {**FACTOR, "weather_basis": "computed", "weather_edition": None}
    evaluation = evaluate(need(**computed, fan="balanced"), earlier=(tightness(1500),))
    assert "computed, not tabulated" in shown(evaluation)["Credit for infiltration"]["note"]
    assert evaluation.verdict == "advisory"
    assert checks_of(evaluation, "ventilation.factor-computed")


def test_a_factor_of_unknown_origin_is_refused():
    with pytest.raises(DocumentRefused) as refusal:
        parse(need(**{**FACTOR, "weather_basis": None}))
    assert [one.field for one in refusal.value.reasons] == ["weather_basis"]


def test_the_edition_of_2010_takes_its_infiltration_from_elsewhere():
    """ASHRAE 136, from memory: refused, not guessed."""
    old = need(**{**FACTOR, "weather_edition": "2010"}, edition="2010")
    evaluation = evaluate(old, earlier=(tightness(1500),))
    assert evaluation.verdict == "not_computed"
    assert "another standard" in checks_of(evaluation, "reading.refused")[0]["message"]


def test_an_edition_that_was_not_yet_in_force_is_refused():
    early = need(edition="2022", taken_at="2021-10-14T10:20:00-05:00")
    message = checks_of(evaluate(early), "reading.refused")[0]["message"]
    assert "no edition 2022" in message


def test_local_deficits_of_typed_rooms():
    """Bath 50 - 32 = 18; kitchen 100 - 0 - 20 for its window = 80; 98/4 = 24.5; 75 + 24.5 = 99.5
    cfm. Appendix A: requirements read in an article, a quarter and the window from memory."""
    evaluation = evaluate(need("existing_dwelling", rooms=ROOMS))
    figures = flows(evaluation)
    assert figures["Bath: exhaust lacking"] == pytest.approx(18)
    assert figures["Kitchen: exhaust lacking"] == pytest.approx(80)
    assert figures["Fan flow needed"] == pytest.approx(99.5)


def test_local_deficits_of_the_latest_exhaust_test():
    tested = evaluate(
        bench(
            "exhaust_fans",
            "each_fan",
            edition="2019",
            exhausts=[
                {"room": "Bath", "sort": "bathroom", "operation": "on_demand", "window": "none",
                 "measured_by": "powered_hood", "hood_flow": 32.0, "hood_pressure": 0.0},
                {"room": "Kitchen", "sort": "kitchen_hood", "operation": "on_demand",
                 "measured_by": "no_fan", "window": "opens"},
            ],
        )
    )  # fmt: skip
    before = BenchResult(
        kind="exhaust_fans",
        method="each_fan",
        phase="before",
        taken_at=datetime(2026, 10, 1, tzinfo=UTC),
        details=tested.figures["details"],
    )
    evaluation = evaluate(need("existing_dwelling"), bench=(before,))
    assert flows(evaluation)["Fan flow needed"] == pytest.approx(99.5)


def test_without_any_rooms_the_existing_path_names_what_is_missing():
    evaluation = evaluate(need("existing_dwelling"))
    assert evaluation.verdict == "not_computed"
    assert checks_of(evaluation, "reading.missing")[0]["field"] == "rooms"


def test_a_room_that_was_not_measured_counts_as_no_exhaust_and_is_named():
    unknown = [{**ROOMS[0], "flow": None}]
    evaluation = evaluate(need("existing_dwelling", rooms=unknown))
    assert flows(evaluation)["Bath: exhaust lacking"] == pytest.approx(50)
    assert "Not measured, counted as no exhaust: Bath" in evaluation.figures["words"]


FANS = [(150.0, 30.0, "met"), (75.0, 60.0, "met"), (60.0, 75.0, "missed"), (0.0, None, "missed")]


@pytest.mark.parametrize(("cfm", "minutes", "answer"), FANS)
def test_minutes_of_each_hour(cfm, minutes, answer):
    """60 x 75/Q minutes, 62.2-2013 and later, from memory; never cut at 60."""
    evaluation = evaluate(need(fan_flow=cfm))
    figure = shown(evaluation)["Time the fan must run"]["value"]
    assert figure == (None if minutes is None else pytest.approx(minutes))
    assert evaluation.answer == answer


def test_leaks_that_do_more_than_is_asked_leave_nothing_for_a_fan():
    evaluation = evaluate(need(**FACTOR, fan="balanced", fan_flow=0.0), earlier=(tightness(9000),))
    assert flows(evaluation)["Fan flow needed"] == 0.0
    assert "No fan is needed" in evaluation.figures["words"]
    assert evaluation.answer == "met"


def test_the_registers_sizes_come_first():
    """0.03 x 2000 + 30 = 90 cfm, 62.2-2019, read as restated."""
    geometry = GeometryFacts(floor_area_sqft=2000)
    assert flows(evaluate(need(), geometry=geometry))["Fan flow needed"] == pytest.approx(90)


@pytest.mark.parametrize(
    ("changes", "field"), [({"house": None}, "house.floor_area"), ({"bedrooms": None}, "bedrooms")]
)
def test_a_missing_size_is_named(changes, field):
    evaluation = evaluate(need(**changes))
    assert evaluation.verdict == "not_computed"
    assert checks_of(evaluation, "reading.missing")[0]["field"] == field


@pytest.mark.parametrize("bedrooms", [-1, 2.5])
def test_half_a_bedroom_is_refused(bedrooms):
    with pytest.raises(DocumentRefused) as refusal:
        parse(need(bedrooms=bedrooms))
    assert [(one.field, one.code) for one in refusal.value.reasons] == [("bedrooms", "not_a_count")]


def test_whatever_the_numbers_there_is_an_answer_that_can_be_stored():
    assert_every_number_may_be_wrong(example(NAME))


def test_the_command_prints_its_figures():
    done = run(f"tests/examples/{NAME}")
    assert (done.returncode, done.stderr) == (0, "")
    printed = json.loads(done.stdout)
    assert printed["figures"]["shown"][0]["value"] / CFM == pytest.approx(99.5)
