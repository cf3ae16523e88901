"""What goes wrong in the field, one test each: it is seen, said, and never put right by itself."""

from datetime import UTC, date, datetime, timedelta

import pytest

from agency.diagnostics.documents import parse
from agency.diagnostics.evaluation import EarlierResult, InstrumentFacts
from agency.errors import DocumentRefused

from .examples import checks_of, evaluate, example, series_of, simple, status_of

CFM = 0.3048**3 / 60
DAY = datetime(2026, 10, 1, 15, 0, tzinfo=UTC)
POINTS = [
    (60.2, 0.722), (49.8, 0.641), (40.1, 0.553), (30.3, 0.463), (20.2, 0.352), (14.1, 0.281),
]  # fmt: skip


def ordinary(**changes):
    return simple(series=[series_of(POINTS)], **changes)


def earlier(flow_50, *, phase="before", taken_at=DAY):
    return EarlierResult(phase=phase, taken_at=taken_at, flow_50=flow_50)


def asked(evaluation, code):
    """The one open question of that code, with all it must say."""
    (check,) = checks_of(evaluation, code)
    assert check["status"] == "advisory"
    assert check["severity"] == "question"
    assert check["field"]
    assert check["measured"] is not None
    assert check["limit"]
    assert check["next_step"]
    assert evaluation.verdict == "provisional"
    return check


def test_an_ordinary_test_raises_no_question():
    evaluation = evaluate(ordinary())
    assert not [check for check in evaluation.checks if check["severity"] == "question"
                and check["status"] == "advisory"]  # fmt: skip


@pytest.mark.parametrize(
    ("ratio", "code"),
    [(1.699, "review.ratio-cubic-metres"), (0.472, "review.ratio-litres")],
)
def test_flow_noted_in_another_unit(ratio, code):
    """1 cfm is 1.699 m³/h and 0.472 L/s (exact factors)."""
    plain = evaluate(ordinary()).flow_50
    evaluation = evaluate(ordinary(), earlier=(earlier(plain / ratio),))
    assert asked(evaluation, code)["measured"] == pytest.approx(ratio)
    assert evaluation.flow_50 == pytest.approx(plain)


def test_half_the_flow_after_the_work_is_no_wrong_unit():
    plain = evaluate(ordinary()).flow_50
    data = ordinary(phase="after")
    evaluation = evaluate(data, earlier=(earlier(plain / 0.472),))
    assert not checks_of(evaluation, "review.ratio-litres")


def test_flow_without_a_unit_is_refused():
    data = ordinary()
    data["units"]["flow"] = None
    with pytest.raises(DocumentRefused) as refusal:
        parse(data)
    (reason,) = refusal.value.reasons
    assert (reason.field, reason.code) == ("units.flow", "unit_missing")


def test_before_and_after_swapped_by_the_day_of_work():
    before = evaluate(ordinary(), work_started_on=date(2026, 10, 10))
    assert asked(before, "order.before-work")["measured"] == -4
    after = evaluate(ordinary(phase="after"), work_started_on=date(2026, 10, 20))
    assert asked(after, "order.after-work")["measured"] == -6


def test_before_and_after_swapped_by_their_days_and_flows():
    late = DAY + timedelta(days=60)
    evaluation = evaluate(ordinary(phase="after"), earlier=(earlier(0.3, taken_at=late),))
    asked(evaluation, "order.sequence")
    asked(evaluation, "order.leakier-after")


def test_gauge_past_its_calibration_is_provisional():
    gauge = InstrumentFacts(serial="QM-G-03", due_on=date(2026, 9, 30))
    evaluation = evaluate(ordinary(), instruments={"QM-G-03": gauge})
    check = asked(evaluation, "calibration.overdue")
    assert check["measured"] == 14
    assert "2026-09-30" in check["message"]
    on_time = InstrumentFacts(serial="QM-G-03", due_on=date(2026, 10, 14))
    evaluation = evaluate(ordinary(), instruments={"QM-G-03": on_time})
    assert status_of(evaluation, "calibration.overdue") == {"pass"}


def test_flow_at_25_noted_as_flow_at_50():
    """Q25/Q50 = 0.637 for n = 0.65 (algebra)."""
    data = simple(method="one_point", series=[series_of([(50.0, 0.4)])])
    plain = evaluate(data).flow_50
    evaluation = evaluate(data, earlier=(earlier(plain / 0.637),))
    asked(evaluation, "review.ratio-25")


def test_a_flow_needs_its_pressure():
    data = ordinary()
    del data["series"][0]["points"][0]["building_pressure"]
    with pytest.raises(DocumentRefused, match=r"series\[0\].points\[0\].building_pressure"):
        parse(data)


def test_swapped_hoses_are_asked_about_and_mixed_signs_refused():
    plain = evaluate(ordinary())
    data = ordinary()
    for point in data["series"][0]["points"]:
        point["building_pressure"] *= -1
    turned = evaluate(data)
    asked(turned, "reading.direction")
    assert turned.flow_50 == pytest.approx(plain.flow_50)
    data["series"][0]["points"][0]["building_pressure"] *= -1
    mixed = evaluate(data)
    assert mixed.verdict == "not_computed"
    assert status_of(mixed, "reading.sign") == {"reject"}
    assert mixed.flow_50 is None


def test_phone_clock_is_wrong():
    received = datetime(2026, 10, 14, 16, 0, tzinfo=UTC)
    small = evaluate(ordinary(), received_at=received, clock_ahead_by_seconds=360.0)
    assert status_of(small, "clock.difference") == {"advisory"}
    assert not checks_of(small, "clock.difference-large")
    large = evaluate(ordinary(), received_at=received, clock_ahead_by_seconds=-3600.0)
    assert asked(large, "clock.difference-large")["measured"] == 60
    future = evaluate(ordinary(), received_at=received - timedelta(days=1))
    asked(future, "clock.future")
    # The phone's clock was as far ahead as the test seems to lie in the future.
    even = evaluate(
        ordinary(), received_at=received - timedelta(days=1), clock_ahead_by_seconds=86_400.0
    )
    assert not checks_of(even, "clock.future")


def test_volume_in_cubic_metres_blocks_air_changes():
    data = ordinary()
    data["units"]["length"] = "ft"
    data["house"] = {"floor_area": 1480.0, "volume": 335.0, "height": 16.0}
    evaluation = evaluate(data)
    asked(evaluation, "house.volume-metric")
    assert evaluation.figures["ach50"] is None
    answered = evaluate(data, confirmed=frozenset({"house.volume-metric"}))
    assert answered.figures["ach50"] is not None
    assert answered.verdict != "provisional"


def test_fan_read_outside_its_configurations_range():
    data = example()
    data["series"][0]["points"][0]["fans"][0]["fan_pressure"] = 480.0
    evaluation = evaluate(data)
    (check,) = checks_of(evaluation, "reading.fan-range-high")
    assert check["status"] == "reject"
    assert "25 to 300 Pa" in check["message"]
    assert check["field"] == "series[0].points[0].fans[0].fan_pressure"
    assert evaluation.figures["series"][0]["points"][0]["used"] is False


def test_wrong_fan_configuration_is_suggested_and_not_changed():
    """A point keyed one configuration off jumps by ln(K1/K2) (derived)."""
    data = example()
    point = data["series"][0]["points"][3]
    keyed = dict(point["fans"][0])
    point["fans"][0]["configuration"] = "middle"
    evaluation = evaluate(data)
    (check,) = [
        one
        for one in checks_of(evaluation, "reading.residual")
        if one["field"] == "series[0].points[3]"
    ]
    assert "configuration wide it would fit" in check["message"]
    # 62/190 - 1 is -67 %.
    assert "-67" in check["message"]
    drawn = evaluation.figures["series"][0]["points"][3]["flow"]
    point["fans"][0] = keyed
    right = evaluate(data).figures["series"][0]["points"][3]["flow"]
    assert drawn / right == pytest.approx(62 / 190, rel=0.05)


def test_fan_without_a_flow_equation():
    data = example()
    data["fans"][0]["equations"] = []
    evaluation = evaluate(data)
    assert evaluation.verdict == "not_computed"
    assert {check["field"] for check in checks_of(evaluation, "reading.equation")} >= {
        "series[0].points[0].fans[0].configuration"
    }


def test_baseline_missing_widens_the_result():
    data = ordinary()
    data["series"][0] |= {"baseline_before": None, "baseline_after": None}
    evaluation = evaluate(data)
    asked(evaluation, "reading.baseline-missing")
    assert evaluation.figures["uncertainty"]["other"] > (
        2 * evaluate(ordinary()).figures["uncertainty"]["other"]
    )


def test_building_pressure_entered_as_baseline():
    data = ordinary()
    data["series"][0]["baseline_after"] = {"mean": -50.0, "seconds": 60}
    evaluation = evaluate(data)
    (check,) = checks_of(evaluation, "reading.baseline-size")
    assert check["measured"] == 50
    assert check["severity"] == "question"


def test_test_made_by_another_crew():
    asked(evaluate(ordinary(), made_by_job_crew=False), "job.crew")
    assert not checks_of(evaluate(ordinary(), made_by_job_crew=True), "job.crew")
    assert not checks_of(evaluate(ordinary()), "job.crew")


def test_numbers_too_neat_to_be_readings():
    exact = [(float(p), 0.05 * p**0.65) for p in (60, 50, 40, 30, 20, 12)]
    evaluation = evaluate(simple(series=[series_of(exact)]))
    for code in ("reading.residual-smallest", "reading.exponent-exact"):
        assert status_of(evaluation, code) == {"advisory"}
    repeated = evaluate(simple(series=[series_of([*POINTS, POINTS[0]])]))
    assert status_of(repeated, "reading.repeated") == {"advisory"}
    plain = evaluate(ordinary()).flow_50
    copied = evaluate(ordinary(phase="after"), earlier=(earlier(plain),))
    assert status_of(copied, "review.same-as-earlier") == {"advisory"}


@pytest.mark.parametrize("factor", [0.01, 30.0])
def test_decimal_slip(factor):
    """Leakage more than 3 standard deviations of ln from the usual of US houses."""
    slipped = [(pressure, flow * factor) for pressure, flow in POINTS]
    evaluation = evaluate(simple(series=[series_of(slipped)]))
    assert asked(evaluation, "review.decimal-slip")["measured"] > 3


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("1,850", "ambiguous_number"),
        ("1.850", "ambiguous_number"),
        ("1850", "text_for_number"),
        ("OL", "no_reading"),
        ("", "no_reading"),
    ],
)
def test_text_where_a_number_belongs(text, code):
    data = ordinary()
    data["series"][0]["points"][0]["flow"] = text
    with pytest.raises(DocumentRefused) as refusal:
        parse(data)
    (reason,) = refusal.value.reasons
    assert (reason.field, reason.code) == ("series[0].points[0].flow", code)
    assert reason.next_step


@pytest.mark.parametrize("flow", [0.0, -0.2])
def test_no_flow_is_not_computed(flow):
    data = ordinary()
    data["series"][0]["points"][2]["flow"] = flow
    evaluation = evaluate(data)
    assert evaluation.verdict == "not_computed"
    (check,) = checks_of(evaluation, "input.flow")
    assert check["field"] == "series[0].points[2].flow"


def test_fan_pressure_of_zero_is_no_flow():
    data = example()
    data["series"][0]["points"][0]["fans"][0]["fan_pressure"] = 0.0
    evaluation = evaluate(data)
    assert evaluation.verdict == "not_computed"
    assert status_of(evaluation, "input.lowest-fan-pressure") == {"reject"}


def test_indoor_temperature_in_celsius_named_fahrenheit():
    data = example()
    data["conditions"] |= {"indoor_temperature": 20.0}
    evaluation = evaluate(data)
    check = asked(evaluation, "air.indoor-temperature")
    assert "Was it read in °C?" in check["message"]
    assert evaluation.figures["density_factor"] is None
    assert all(one["density_factor"] is None for one in evaluation.figures["series"])
    answered = evaluate(data, confirmed=frozenset({"air.indoor-temperature"}))
    assert answered.figures["series"][0]["density_factor"] is not None


def test_missing_temperature_leaves_the_flow_as_read():
    data = ordinary()
    data["conditions"]["outdoor_temperature"] = None
    evaluation = evaluate(data)
    check = asked(evaluation, "air.density")
    assert "outdoor temperature" in check["message"]
    assert evaluation.flow_50 is not None


@pytest.mark.parametrize(
    ("field", "value", "unit", "code"),
    [
        ("indoor_temperature", 140.0, ("temperature", "degF"), "input.indoor-temperature"),
        ("outdoor_temperature", -41.0, ("temperature", "degC"), "input.outdoor-temperature"),
        ("barometric_pressure", 29.9, ("barometer", "kPa"), "input.barometric-pressure"),
        ("elevation", 5280.0, ("length", "m"), "input.elevation"),
        ("wind_speed", -1.0, ("wind_speed", "m/s"), "input.wind-speed"),
    ],
)
def test_values_no_instrument_meets(field, value, unit, code):
    data = ordinary()
    data["conditions"][field] = value
    data["units"][unit[0]] = unit[1]
    evaluation = evaluate(data)
    assert evaluation.verdict == "not_computed"
    (check,) = checks_of(evaluation, code)
    assert check["field"] == f"conditions.{field}"
    assert check["next_step"]


def test_barometer_reduced_to_sea_level():
    """101.3 kPa entered at 1600 m: the standard atmosphere has 83.5 kPa there (ISO 2533)."""
    data = ordinary()
    data["conditions"] |= {"barometric_pressure": 101.3, "elevation": 1600.0}
    data["units"]["barometer"] = "kPa"
    assert asked(evaluate(data), "air.pressure-elevation")["measured"] == pytest.approx(
        1.213, abs=0.001
    )


def test_old_app_shows_another_figure():
    data = ordinary()
    plain = evaluate(data).flow_50
    data["app"] = {"version": "0.9", "maths_version": "2025.1", "flow_50": plain * 1.02}
    evaluation = evaluate(data)
    (check,) = checks_of(evaluation, "review.preview-difference")
    assert check["measured"] == pytest.approx(0.02)
    assert "2025.1" in check["message"]
    assert evaluation.flow_50 == pytest.approx(plain)
