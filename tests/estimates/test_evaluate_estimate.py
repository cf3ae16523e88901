"""The infiltration estimate of one house: figures, refusals, words and the record of inputs."""

import csv
import json
import math
from dataclasses import replace
from pathlib import Path

import psychrolib
import pvlib
import pytest

from agency.estimates.evaluate import estimate_infiltration
from agency.estimates.inputs import EstimateInputs, LeakageInput, PriceInput, SpreadInput
from agency.estimates.weather import read_epw, read_epw_dropping_gaps, read_tmy3
from tests.estimates.test_weather import WIND, with_value, written

GREENSBORO = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
NO_SPREAD = SpreadInput(
    infiltration_model=0.0, weather_year=0.0, setpoint=0.0, heating_efficiency=0.0,
    cooling_efficiency=0.0,
)  # fmt: skip
GAS = PriceInput(
    fuel="natural_gas", unit="therm", price=1.25, effective_from="2026-07-01", source="tariff sheet"
)
POWER = PriceInput(
    fuel="electricity", unit="kWh", price=0.16, effective_from="2026-07-01", source="tariff sheet"
)


@pytest.fixture(scope="module")
def inputs():
    """A two-storey house in Greensboro, gas furnace, central cooling, real fan-test sizes."""
    return EstimateInputs(
        before=LeakageInput(result="before-1", leakage_area=0.0900, relative_uncertainty=0.06),
        after=LeakageInput(result="after-1", leakage_area=0.0550, relative_uncertainty=0.07),
        shared_uncertainty=0.04,
        storeys=2.0,
        shelter_class=3,
        volume=450.0,
        elevation=None,
        heating_fuel="natural_gas",
        heating_efficiency=0.80,
        cooling_efficiency=3.0,
        distribution_efficiency=0.85,
        heating_setpoint=20.0,
        heating_balance_offset=3.0,
        cooling_setpoint=24.0,
        cooling_humidity=0.5,
        heating_price=GAS,
        electricity_price=POWER,
        spread=SpreadInput(
            infiltration_model=0.2, weather_year=0.08, setpoint=1.0, heating_efficiency=0.05,
            cooling_efficiency=0.1,
        ),
        trials=400,
        seed=20260701,
        weather=read_tmy3(GREENSBORO),
    )  # fmt: skip


def refused(outcome, part):
    return [refusal for refusal in outcome.refusals if refusal["part"] == part]


def test_central_figures_agree_with_plain_python_and_another_library(inputs):
    """TMY3 723170 by the csv module, humidity by psychrolib, the trade's 1.08 and 4,842.

    Cubic feet a minute, °F and Btu throughout, so that no conversion is shared either.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    with GREENSBORO.open(newline="") as file:
        next(file)
        rows = list(csv.DictReader(file))
    pressure = math.fsum(100 * float(row["Pressure (mbar)"]) for row in rows) / len(rows)
    inside = psychrolib.GetHumRatioFromRelHum(24.0, 0.5, pressure)
    thin = psychrolib.GetStandardAtmPressure(273.0) / 101_325
    heat = cool = 0.0
    for row in rows:
        t, u = float(row["Dry-bulb (C)"]), float(row["Wspd (m/s)"])
        inside_t = 20.0 if t < 17 else 24.0
        litres = 350 * math.sqrt(0.000290 * abs(inside_t - t) + 0.000231 * u * u)
        cfm = litres / 0.47194745
        if t < 17:
            heat += 1.08 * thin * cfm * (17 - t) * 1.8
        elif t > 24:
            outside = psychrolib.GetHumRatioFromTDewPoint(
                float(row["Dew-point (C)"]), 100 * float(row["Pressure (mbar)"])
            )
            cool += 1.08 * thin * cfm * (t - 24) * 1.8
            cool += 4842 * thin * cfm * max(0.0, outside - inside)
    figures = estimate_infiltration(inputs).figures
    therms = heat / (0.80 * 0.85 * 100_000)
    kilowatt_hours = cool / (3.0 * 0.85 * 3412.142)
    heating, cooling = figures["heating"], figures["cooling"]
    assert heating["fuel_units"]["central"] == pytest.approx(therms, rel=1e-4)
    assert cooling["fuel_units"]["central"] == pytest.approx(kilowatt_hours, rel=1e-3)
    assert heating["mmbtu"]["central"] == pytest.approx(therms / 10, rel=1e-4)
    assert heating["dollars"]["central"] == pytest.approx(therms * 1.25, rel=1e-4)
    total = figures["total"]["dollars"]["central"]
    assert total == pytest.approx(therms * 1.25 + kilowatt_hours * 0.16, rel=1e-3)


def test_every_range_is_in_order_and_shown_no_narrower(inputs):
    figures = estimate_infiltration(inputs).figures
    for part in ("heating", "cooling", "total"):
        for name in ("fuel_units", "mmbtu", "dollars"):
            found = figures[part].get(name)
            if found is not None:
                assert found["low"] < found["central"] < found["high"]
                assert found["shown"]["low"] <= found["low"]
                assert found["shown"]["high"] >= found["high"]
    assert figures["total"]["dollars"]["shown"]["central"] % 10 == 0


def test_the_outcome_is_plain_json_and_says_what_it_rests_on(inputs):
    outcome = estimate_infiltration(inputs)
    stored = json.loads(json.dumps([outcome.inputs, outcome.figures, outcome.refusals]))
    assert stored == [outcome.inputs, outcome.figures, outcome.refusals]
    assert outcome.refusals == []
    assert "Sherman" in outcome.method
    assert "ASHRAE" in outcome.edition
    assert len(outcome.weather) <= 240
    assert inputs.weather.sha256 in outcome.weather
    assert outcome.inputs["weather"]["sha256"] == inputs.weather.sha256
    assert outcome.inputs["elevation_from"] == "weather station"
    assert "as measured" in outcome.inputs["wind_convention"]
    assert figures_source(outcome)["year"] is None


def figures_source(outcome):
    return outcome.figures["heating"]["heat_content"]


def test_same_inputs_same_hash_and_figures(inputs):
    first, again = estimate_infiltration(inputs), estimate_infiltration(inputs)
    assert first == again


@pytest.mark.parametrize(
    "change",
    [{"seed": 2}, {"storeys": 1.5}, {"elevation": 300.0}, {"heating_price": replace(GAS, price=2)},
     {"before": LeakageInput(result="x", leakage_area=0.09, relative_uncertainty=0.06)}],
)  # fmt: skip
def test_any_changed_input_changes_the_hash(inputs, change):
    before, after = (estimate_infiltration(i) for i in (inputs, replace(inputs, **change)))
    assert before.input_hash != after.input_hash


def test_mean_natural_flow_and_air_changes_fit_each_other(inputs):
    """Air changes an hour = 3,600 flow over volume."""
    found = estimate_infiltration(inputs).figures["infiltration"]
    for when in ("before", "after"):
        assert found["air_changes"][when] == pytest.approx(3600 * found[when] / 450)
    assert found["before"] / found["after"] == pytest.approx(0.09 / 0.055)


def test_no_change_saves_nothing(inputs):
    same = replace(inputs, after=inputs.before, spread=NO_SPREAD)
    figures = estimate_infiltration(same).figures
    assert figures["heating"]["mmbtu"]["central"] == 0
    assert figures["total"]["dollars"]["central"] == 0


def test_a_leakier_house_keeps_its_negative_saving(inputs):
    worse = replace(inputs, before=inputs.after, after=inputs.before)
    outcome = estimate_infiltration(worse)
    assert outcome.figures["total"]["dollars"]["high"] < 0
    assert "leaks more than before" in outcome.figures["words"][0]


def test_an_unclear_change_is_said_to_be_unclear(inputs):
    near = replace(inputs.after, leakage_area=0.056)
    outcome = estimate_infiltration(replace(inputs, before=near))
    assert outcome.figures["total"]["dollars"]["low"] < 0
    assert "cannot tell" in outcome.figures["words"][0]


def test_money_is_linear_in_price(inputs):
    dear = replace(inputs, heating_price=replace(GAS, price=2.50))
    cheap = estimate_infiltration(inputs).figures["heating"]["dollars"]
    assert estimate_infiltration(dear).figures["heating"]["dollars"]["low"] == pytest.approx(
        2 * cheap["low"]
    )


def test_a_higher_house_saves_less(inputs):
    high = estimate_infiltration(replace(inputs, elevation=2000.0)).figures
    ratio = (
        high["heating"]["mmbtu"]["central"]
        / (estimate_infiltration(inputs).figures["heating"]["mmbtu"]["central"])
    )
    expected = psychrolib.GetStandardAtmPressure(2000) / psychrolib.GetStandardAtmPressure(273)
    assert ratio == pytest.approx(expected, rel=1e-4)


def test_no_cooling_equipment_means_no_cooling_figure(inputs):
    outcome = estimate_infiltration(replace(inputs, cooling_efficiency=None))
    assert outcome.figures["cooling"] is None
    assert outcome.figures["total"]["mmbtu"]["central"] == pytest.approx(
        outcome.figures["heating"]["mmbtu"]["central"]
    )
    (refusal,) = outcome.refusals
    assert "no cooling equipment" in refusal["reason"]
    assert refusal["next_step"]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"weather": None}, "weather"),
        ({"storeys": None}, "storeys"),
        ({"shelter_class": None}, "shelter"),
        (
            {"before": LeakageInput(result="", leakage_area=None, relative_uncertainty=None)},
            "before.leakage_area",
        ),
        (
            {"after": LeakageInput(result="", leakage_area=0.05, relative_uncertainty=None)},
            "after.relative_uncertainty",
        ),
    ],
)
def test_what_nothing_can_be_done_without(inputs, change, field):
    outcome = estimate_infiltration(replace(inputs, **change))
    assert outcome.figures == {}
    (refusal,) = outcome.refusals
    assert (refusal["part"], refusal["field"]) == ("estimate", field)
    assert refusal["next_step"].endswith(".")
    assert len(outcome.input_hash) == 64


@pytest.mark.parametrize(
    ("change", "part", "field"),
    [
        ({"heating_fuel": ""}, "heating", "heating_fuel"),
        ({"heating_fuel": "peat"}, "heating", "heating_efficiency"),
        ({"heating_efficiency": None}, "heating", "heating_efficiency"),
        ({"heating_efficiency": 80.0}, "heating", "heating_efficiency"),
        ({"volume": None}, "air_change", "volume"),
        ({"heating_price": None}, "money", "heating_price"),
        ({"heating_price": POWER}, "money", "heating_price"),
        ({"electricity_price": None}, "money", "cooling_price"),
    ],
)
def test_what_single_parts_cannot_do_without(inputs, change, part, field):
    outcome = estimate_infiltration(replace(inputs, **change))
    (refusal,) = outcome.refusals
    assert (refusal["part"], refusal["field"]) == (part, field)
    assert outcome.figures["cooling"] is not None
    if part == "money":
        assert outcome.figures["total"]["dollars"] is None
        assert outcome.figures["total"]["mmbtu"] is not None


def test_unknown_ducts_stop_heating_and_cooling(inputs):
    outcome = estimate_infiltration(replace(inputs, distribution_efficiency=None))
    assert outcome.figures == {}
    assert refused(outcome, "heating")
    assert refused(outcome, "cooling")


def test_a_house_taller_than_the_table_is_refused_in_words(inputs):
    (refusal,) = estimate_infiltration(replace(inputs, storeys=4.0)).refusals
    assert "4: storeys must be 1 to 3" in refusal["reason"]


def test_hours_left_out_are_told(inputs, tmp_path):
    lines = _demo_lines()
    gappy = written(tmp_path, with_value(lines, row=100, field=WIND, value="999"))
    outcome = estimate_infiltration(replace(inputs, weather=read_epw_dropping_gaps(gappy)))
    assert outcome.figures["hours_left_out"] == 1
    assert any("left out" in sentence for sentence in outcome.figures["words"])
    assert "row 100" in outcome.inputs["weather"]["quality"]


def test_a_year_with_relative_humidity_only_gives_nearly_the_same(inputs, tmp_path):
    """The demonstration file holds whole per cents, so only nearly."""
    lines = _demo_lines()
    whole = read_epw(written(tmp_path, lines))
    dry = [
        ",".join([*f[:7], "99.9", *f[8:]]) if i >= 8 else line
        for i, line in enumerate(lines)
        for f in [line.split(",")]
    ]
    relative = read_epw(written(tmp_path, dry))
    found = [
        estimate_infiltration(replace(inputs, weather=year)).figures["cooling"]["mmbtu"]["central"]
        for year in (whole, relative)
    ]
    assert found[0] == pytest.approx(found[1], rel=0.03)


def _demo_lines():
    from agency.estimates.demo_weather import demo_epw

    return demo_epw(seed=11).splitlines()
