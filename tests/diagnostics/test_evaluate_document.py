"""Figures of whole documents against worked values, other libraries, and themselves."""

import copy
import json
import math
from dataclasses import replace
from datetime import date

import numpy as np
import psychrolib
import pytest
import statsmodels.api as sm

from agency.diagnostics.bridge.document import evaluate_document
from agency.diagnostics.documents import parse
from agency.diagnostics.evaluation import EquationFacts, GeometryFacts, InstrumentFacts
from agency.rulebook.shipped import shipped_rules

from .examples import (
    E779,
    ISO,
    ONE_POINT,
    QUICK_RULES,
    evaluate,
    example,
    series_of,
    simple,
    status_of,
)

CFM = 0.3048**3 / 60
# Readings and results worked with statsmodels OLS and by ASTM E779-19 Annex A1 (from memory).
WORKED = [
    (59.8, 0.7280), (50.3, 0.6480), (40.1, 0.5510), (30.2, 0.4640), (20.4, 0.3570), (12.1, 0.2580),
]  # fmt: skip


def test_fitted_series_agrees_with_the_worked_example():
    """n 0.648882 (0.63075 to 0.66701), C 0.0508097, Q50 0.643247 +1.3227/-1.3055 %, Q4, Q75."""
    figures = evaluate(simple(series=[series_of(WORKED)])).figures
    assert figures["exponent"]["value"] == pytest.approx(0.648882, abs=5e-7)
    assert figures["exponent"]["low"] == pytest.approx(0.63075, abs=5e-6)
    assert figures["exponent"]["high"] == pytest.approx(0.66701, abs=5e-6)
    assert figures["coefficient"]["value"] == pytest.approx(0.0508097, abs=5e-8)
    assert figures["r_squared"] == pytest.approx(0.99959505, abs=5e-9)
    flow = figures["flow_50"]
    assert flow["value"] == pytest.approx(0.643247, abs=5e-7)
    assert flow["high"] / flow["value"] - 1 == pytest.approx(0.013227, abs=5e-7)
    assert 1 - flow["low"] / flow["value"] == pytest.approx(0.013055, abs=5e-7)
    assert figures["flows"]["4"]["value"] == pytest.approx(0.124914, abs=5e-7)
    assert figures["flows"]["75"]["value"] == pytest.approx(0.836836, abs=5e-7)


# Whole-chain factors at n = 0.65, derived; E779 with viscosity and ISO 9972 without.
CHAIN = [
    ("depressurization", 21.0, -18.0, 0.0, 0.883),
    ("pressurization", 21.0, -18.0, 0.0, 1.075),
    ("depressurization", 21.0, 35.0, 0.0, 1.043),
    ("depressurization", 20.0, 20.0, 1609.0, 1.029),
    ("pressurization", 20.0, -10.0, 1609.0, 1.086),
    ("depressurization", 20.0, 8.0, 2350.0, 1.005),
]


@pytest.mark.parametrize(("direction", "indoor", "outdoor", "elevation", "factor"), CHAIN)
def test_one_point_goes_through_the_whole_chain(direction, indoor, outdoor, elevation, factor):
    data = simple(method="one_point", series=[series_of([(50.0, 0.5)], direction=direction)])
    data["conditions"] |= {
        "indoor_temperature": indoor,
        "outdoor_temperature": outdoor,
        "elevation": elevation,
    }
    figures = evaluate(data).figures
    assert figures["flow_50"]["value"] / 0.5 == pytest.approx(factor, abs=0.0006)
    assert figures["density_factor"] == pytest.approx(factor, abs=0.0006)


def test_iso_series_agrees_with_statsmodels_and_psychrolib():
    """ISO 9972 chain rebuilt from two libraries: air by psychrolib, line by statsmodels."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    data = example(ISO)
    air = data["conditions"]
    inside, outside = (
        1
        / psychrolib.GetMoistAirVolume(
            temperature, psychrolib.GetHumRatioFromRelHum(temperature, humidity, 98_100.0), 98_100.0
        )
        * (1 + psychrolib.GetHumRatioFromRelHum(temperature, humidity, 98_100.0))
        for temperature, humidity in (
            (air["indoor_temperature"], air["indoor_humidity"]),
            (air["outdoor_temperature"], air["outdoor_humidity"]),
        )
    )
    series = data["series"][0]
    baseline = np.mean(
        [np.mean(series[f"baseline_{when}"]["samples"]) for when in ("before", "after")]
    )
    equations = {one["configuration"]: one for one in data["fans"][0]["equations"]}
    pressures, flows = [], []
    for point in series["points"]:
        fan = point["fans"][0]
        indicated = (
            equations[fan["configuration"]]["coefficient"] * CFM * fan["fan_pressure"] ** 0.5
        )
        flows.append(indicated * math.sqrt(1.2041 / inside) * inside / outside)
        pressures.append(baseline - point["building_pressure"])
    line = sm.OLS(np.log(flows), sm.add_constant(np.log(pressures))).fit()
    at_50 = line.get_prediction([[1.0, math.log(50)]]).summary_frame(alpha=0.05)
    reference = (outside / 1.204) ** (1 - line.params[1])
    figures = evaluate(data).figures
    assert figures["exponent"]["value"] == pytest.approx(line.params[1], rel=1e-9)
    assert figures["flow_50"]["value"] == pytest.approx(
        math.exp(at_50["mean"].iloc[0]) * reference, rel=3e-4
    )
    assert figures["flow_50"]["high"] / figures["flow_50"]["value"] == pytest.approx(
        math.exp(at_50["mean_ci_upper"].iloc[0] - at_50["mean"].iloc[0]), rel=1e-9
    )


def test_both_directions_are_averaged_at_each_pressure():
    """C 0.05, n 0.66 and C 0.056, n 0.64: 2422.58 and 469.48 m³/h at 50 and 4 Pa (algebra)."""
    pressures = (60, 50, 40, 30, 20, 10)
    down, up = (
        series_of([(p, c * p**n) for p in pressures], direction=direction)
        for direction, c, n in (("depressurization", 0.05, 0.66), ("pressurization", 0.056, 0.64))
    )
    figures = evaluate(simple(series=[up, down])).figures
    assert 3600 * figures["flow_50"]["value"] == pytest.approx(2422.58, abs=0.005)
    assert 3600 * figures["flows"]["4"]["value"] == pytest.approx(469.48, abs=0.005)
    assert figures["exponent"]["value"] is None
    assert figures["coefficient"]["value"] is None
    assert [one["direction"] for one in figures["series"]] == ["depressurization", "pressurization"]


def test_two_point_exponent():
    """Q 1.0 at 50 Pa and 0.41 at 12.5 Pa: n 0.643152 (ASTM E1827 form, from memory)."""
    points = [(50.0, 1.0), (12.5, 0.41)]
    evaluation = evaluate(simple(method="two_point", series=[series_of(points)]))
    assert evaluation.figures["exponent_source"] == "two_point"
    assert evaluation.figures["exponent"]["value"] == pytest.approx(0.643152, abs=5e-7)
    assert evaluation.figures["exponent"]["low"] is None


def test_areas_and_air_changes_of_the_house():
    """1500 m³/h at 50 Pa, 150 m², 375 m³, 2.5 m: ELA 313.03 cm², n50 4 1/h (by hand)."""
    data = simple(method="one_point", series=[series_of([(50.0, 1500 / 3600)])])
    figures = evaluate(data).figures
    assert figures["ela"] * 1e4 == pytest.approx(313.03, abs=0.01)
    assert figures["ach50"] == pytest.approx(4.0, rel=1e-12)
    assert figures["sla"] == pytest.approx(0.031303 / 150, abs=1e-8)
    assert figures["permeability"] == pytest.approx(1500 / 400, rel=1e-12)
    assert figures["nl"] == pytest.approx(0.20869, abs=0.0001)
    assert figures["eqla"] / figures["ela"] == pytest.approx(1.878, abs=0.0006)


@pytest.mark.parametrize(
    ("pressure", "factor", "percent"), [(35, 1.261, 2.9), (25, 1.569, 5.5), (15, 2.187, 9.6)]
)
def test_a_low_one_point_test_is_extrapolated_and_says_so(pressure, factor, percent):
    """(50/P)^0.65 and 0.08 ln(50/P) (derived)."""
    near = evaluate(simple(method="one_point", series=[series_of([(50.0, 0.4)])]))
    far = evaluate(simple(method="one_point", series=[series_of([(float(pressure), 0.4)])]))
    assert far.flow_50 / near.flow_50 == pytest.approx(factor, abs=0.0006)
    wider = far.figures["uncertainty"]["other"]
    assert 100 * wider == pytest.approx(percent, abs=0.15)
    assert status_of(far, "resnet380.pressure") == {"advisory"}
    assert far.verdict == "advisory"


def test_below_15_pascal_a_one_point_test_is_rejected_with_its_numbers():
    evaluation = evaluate(simple(method="one_point", series=[series_of([(14.9, 0.2)])]))
    assert evaluation.verdict == "rejected"
    assert evaluation.flow_50 is not None


def test_monte_carlo_agrees_with_the_gum():
    """JCGM 101, 8: both ways of propagation within a tenth of each other on a near-linear model."""
    figures = evaluate_document(parse(example()), rules=shipped_rules()).figures
    drawn = figures["monte_carlo"]["flow_50"]
    half = (drawn["high"] - drawn["low"]) / 2 / figures["flow_50"]["value"]
    # Rectangular calibration error: the 95 % ends lie at 1.65, not 1.96, standard uncertainties.
    assert 1.6 < half / figures["uncertainty"]["flow_50"] < 2.0


def test_evaluating_twice_gives_the_very_same():
    first, second = evaluate(example()), evaluate(example())
    assert first == second


def test_the_hash_follows_what_a_figure_rests_on():
    base = evaluate(example()).input_hash
    noted = evaluate({**example(), "note": "other words", "operator": "Someone Else"})
    assert noted.input_hash == base
    moved = example()
    moved["series"][0]["points"][0]["building_pressure"] -= 0.1
    assert evaluate(moved).input_hash != base
    rules = [replace(one, high=0.9) if one.code == "e779.exponent" else one for one in QUICK_RULES]
    assert evaluate_document(parse(example()), rules=rules).input_hash != base


@pytest.mark.parametrize("name", [E779, ISO, ONE_POINT])
def test_stored_figures_are_plain_json(name):
    evaluation = evaluate(example(name))
    text = json.dumps([evaluation.figures, evaluation.checks, evaluation.steps], allow_nan=False)
    assert "NaN" not in text


@pytest.mark.parametrize("name", [E779, ISO, ONE_POINT])
def test_every_step_and_every_check_names_its_source(name):
    evaluation = evaluate(example(name))
    provenances = {"read", "from memory", "derived", "common practice, no source"}
    for one in [*evaluation.steps, *evaluation.checks]:
        assert one["source"]
        assert one["provenance"] in provenances
    for check in evaluation.checks:
        assert check["message"]
        assert check["next_step"] or check["status"] == "pass"


def in_other_units(data):
    """The example in inches of water, m³/h, degC, metres and m/s (exact factors)."""
    data = copy.deepcopy(data)
    data["units"] |= {
        "pressure": "inH2O", "flow": "m3/h", "temperature": "degC", "length": "m",
        "wind_speed": "m/s",
    }  # fmt: skip
    air, house = data["conditions"], data["house"]
    for name in ("indoor_temperature", "outdoor_temperature"):
        air[name] = (air[name] - 32) / 1.8
    air["elevation"] *= 0.3048
    air["wind_speed"] *= 0.44704
    for name, power in (("floor_area", 2), ("volume", 3), ("height", 1), ("envelope_area", 2)):
        house[name] *= 0.3048**power
    inch = 249.08891
    for series in data["series"]:
        for when in ("before", "after"):
            samples = series[f"baseline_{when}"]["samples"]
            series[f"baseline_{when}"]["samples"] = [value / inch for value in samples]
        for point in series["points"]:
            point["building_pressure"] /= inch
            point["fans"][0]["fan_pressure"] /= inch
    for fan in data["fans"]:
        for equation in fan["equations"]:
            equation["coefficient"] *= CFM * 3600
            equation["flow_unit"] = "m3/h"
    return data


def test_the_units_of_the_document_change_nothing():
    here, there = evaluate(example()), evaluate(in_other_units(example()))
    for name in ("ach50", "ela", "nl", "sla", "permeability"):
        assert there.figures[name] == pytest.approx(here.figures[name], rel=1e-9)
    assert there.flow_50 == pytest.approx(here.flow_50, rel=1e-9)


def test_the_order_of_points_and_of_series_changes_nothing():
    turned = example()
    turned["series"].reverse()
    for series in turned["series"]:
        series["points"].reverse()
    here, there = evaluate(example()), evaluate(turned)
    assert there.figures["flows"]["50"]["value"] == pytest.approx(here.flow_50, rel=1e-12)
    assert there.figures["flow_50"]["high"] == pytest.approx(here.figures["flow_50"]["high"])


def test_two_fans_at_one_station_add_up():
    """A second equal fan doubles the flow of every point."""
    double = example()
    double["fans"].append({**copy.deepcopy(double["fans"][0]), "serial": "QM-F-08"})
    for series in double["series"]:
        for point in series["points"]:
            point["fans"].append({**point["fans"][0], "serial": "QM-F-08"})
    one, two = evaluate(example()), evaluate(double)
    assert two.flow_50 == pytest.approx(2 * one.flow_50, rel=1e-12)
    # Two calibrations that err apart: the fan's share falls by the square root of two.
    shares = [evaluation.figures["uncertainty"]["fan"] for evaluation in (one, two)]
    assert shares[0] / shares[1] == pytest.approx(math.sqrt(2), rel=1e-6)


def test_the_registers_calibration_and_sizes_come_first():
    equation = EquationFacts(
        configuration="wide", coefficient=380.0, exponent=0.5, lowest_pressure=25,
        highest_pressure=300, flow_unit="cfm", air_density=1.2041,
    )  # fmt: skip
    fan = InstrumentFacts(serial="QM-F-07", due_on=date(2027, 1, 1), equations=(equation,))
    evaluation = evaluate(
        example(),
        instruments={"QM-F-07": fan},
        geometry=GeometryFacts(volume_cuft=2 * 11_840.0),
    )
    plain = evaluate(example())
    assert evaluation.flow_50 == pytest.approx(2 * plain.flow_50, rel=1e-12)
    assert evaluation.figures["ach50"] == pytest.approx(plain.figures["ach50"], rel=1e-12)


def test_an_excluded_point_is_kept_and_drawn_but_not_used():
    data = example()
    data["series"][0]["points"][0]["excluded"] = "gust"
    figures = evaluate(data).figures
    point = figures["series"][0]["points"][0]
    assert (point["used"], point["excluded"]) == (False, "gust")
    assert point["flow"] is not None
    assert figures["points_used"] == 13


def test_a_gauge_that_subtracts_the_baseline_is_not_corrected_again():
    data = simple(series=[series_of(WORKED, baseline=-2.0)])
    data["gauge"]["baseline_subtracted"] = True
    for point in data["series"][0]["points"]:
        point["building_pressure"] += 2.0
    assert evaluate(data).figures["flow_50"]["value"] == pytest.approx(0.643247, abs=5e-7)


def test_a_gauge_that_corrects_density_is_not_corrected_again():
    """Only the mass balance and the reference state remain: rho_in/rho_out times the factor."""
    data = simple(method="one_point", series=[series_of([(50.0, 0.5)])])
    data["conditions"] |= {"outdoor_temperature": 0.0}
    plain = evaluate(data).flow_50
    data["gauge"]["density_corrected"] = True
    assert evaluate(data).flow_50 == pytest.approx(plain, rel=1e-12)
    data["conditions"] |= {"indoor_temperature": 30.0}
    corrected = evaluate(data).flow_50
    data["gauge"]["density_corrected"] = False
    # sqrt(rho0 / rho_in) of air at 30 against 20 degC: sqrt(303 / 293).
    assert evaluate(data).flow_50 / corrected == pytest.approx(math.sqrt(303 / 293), rel=1e-9)


REJECTED = [
    ("e779.points", lambda data: [
        point.update(excluded="gust") for point in data["series"][0]["points"][:3]
    ]),
    ("e779.exponent", lambda data: [
        point.update(flow=0.02 * abs(point["building_pressure"]) ** 0.45)
        for point in data["series"][0]["points"]
    ]),
    ("e779.temperature-height", lambda data: data["conditions"].update(outdoor_temperature=-35.0)
     or data["house"].update(height=6.0)),
]  # fmt: skip


@pytest.mark.parametrize(("code", "spoil"), REJECTED)
def test_a_rejected_test_still_carries_its_numbers(code, spoil):
    data = simple(series=[series_of([*WORKED, (16.0, 0.309)])])
    spoil(data)
    if code == "e779.points":
        data["series"][0]["points"] = data["series"][0]["points"][:6]
    evaluation = evaluate(data)
    assert status_of(evaluation, code) == {"reject"}
    assert evaluation.verdict == "rejected"
    assert evaluation.flow_50 is not None


def test_iso_rejects_a_flutter_that_the_mean_hides():
    """ISO 9972:2015: each signed mean within 5 Pa, though the mean of all is 0."""
    data = simple(method="iso9972", series=[series_of(WORKED)])
    data["series"][0]["baseline_before"]["samples"] = [8.0, -8.0] * 6
    evaluation = evaluate(data)
    assert status_of(evaluation, "iso9972.zero-flow") == {"reject"}
    data["series"][0]["baseline_before"] = {"mean": 0.0, "seconds": 60}
    assert status_of(evaluate(data), "iso9972.zero-flow") == {"not_verifiable"}


def test_the_older_edition_is_used_for_a_test_of_its_time():
    data = simple(taken_at="2015-10-14T10:20:00-05:00", series=[series_of(WORKED)])
    assert evaluate(data).edition == "10"
