"""A saving measured by bills: figures against an independent library, refusals, what is stored."""

import json
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
import statsmodels.api as sm

from agency.estimates.bridge.bills import analyse_bills
from tests.estimates.bill_cases import (
    AFTER,
    BEFORE,
    ENDED,
    FIRST_DAY,
    NORMAL,
    STARTED,
    THERM,
    WEATHER,
    YEARS,
    bills_of,
    inputs,
    rates,
    rules,
    two_years,
)


@pytest.fixture(scope="module")
def outcome():
    return analyse_bills(inputs())


def named(side):
    return {(one["name"], one["side"]): one for one in side["parameters"]}


def degree_days(start, end, base):
    at = slice((start - FIRST_DAY).days, (end - FIRST_DAY).days)
    return np.maximum(0, base - YEARS[at]).sum()


def test_parameters_agree_with_weighted_least_squares_of_another_library(outcome):
    """statsmodels WLS on the degree days of each bill, at the base that was found."""
    for side, bills in (("before", two_years()[:12]), ("after", two_years()[13:])):
        told = named(outcome.figures[side])
        base = told["base", "heating"]["value"]
        days = np.array([(one.end - one.start).days for one in bills])
        rate = np.array([one.energy for one in bills]) / days
        x = np.array([degree_days(one.start, one.end, base) for one in bills]) / days
        library = sm.WLS(rate, sm.add_constant(x), weights=days).fit()
        assert told["base_load", ""]["value"] == pytest.approx(library.params[0], rel=1e-6)
        assert told["slope", "heating"]["value"] == pytest.approx(library.params[1], rel=1e-6)
        # With p = 3: the base was found from the same bills.
        squares = (days / days.mean() * (rate - library.fittedvalues) ** 2).sum()
        mean = (days * rate).sum() / days.sum()
        expected = np.sqrt(squares / (12 - 3)) / mean
        assert outcome.figures[side]["cv_rmse"] == pytest.approx(expected, rel=1e-6)
        year = 365 * library.params[0] + library.params[1] * np.maximum(0, base - NORMAL).sum()
        assert outcome.figures[side]["normal_year"] == pytest.approx(year, rel=1e-9)


def test_saving_is_the_difference_of_two_normal_years_and_its_range_holds_the_truth(outcome):
    """By hand from the parameters the bills were made of."""
    saving = outcome.figures["saving"]["fuel_units"]
    was = 365 * 0.8 + 0.22 * np.maximum(0, 16.0 - NORMAL).sum()
    now = 365 * 0.8 + 0.15 * np.maximum(0, 15.0 - NORMAL).sum()
    difference = outcome.figures["before"]["normal_year"] - outcome.figures["after"]["normal_year"]
    assert saving["central"] == pytest.approx(difference / THERM)
    assert saving["low"] < was - now < saving["high"]
    assert saving["low"] < saving["central"] < saving["high"]
    assert saving["shown"]["low"] <= saving["low"]
    assert saving["shown"]["high"] >= saving["high"]
    assert outcome.figures["saving"]["share"] == pytest.approx((was - now) / was, abs=0.05)
    assert outcome.figures["saving"]["mmbtu"]["central"] == pytest.approx(difference / THERM / 10)


def test_range_covers_the_true_saving_about_as_often_as_it_says():
    """Derived: of 40 houses with a 90 % range, fewer than 30 covered has a chance below 1 in 500
    (binomial), even when the range holds the truth in only 88 of 100."""
    true = 0.07 * np.maximum(0, 15 - NORMAL).sum() + 0.22 * (
        np.maximum(0, 16.0 - NORMAL).sum() - np.maximum(0, 15.0 - NORMAL).sum()
    )
    covered = 0
    few = rules() | {"bills.trials": replace(rules()["bills.trials"], limit=400.0)}
    first = STARTED - timedelta(days=368)
    for seed in range(40):
        was = bills_of(BEFORE, first, noise=0.08, seed=100 + seed)
        now = bills_of(AFTER, ENDED, noise=0.08, seed=200 + seed)
        found = analyse_bills(inputs(bills=(*was, *now), rules=few))
        saving = found.figures["saving"]["fuel_units"]
        covered += saving["low"] <= true <= saving["high"]
    assert covered >= 30


def test_simplified_uncertainty_follows_its_printed_form(outcome):
    """Guideline 14, from memory: t·a·CV·√((n/n')(1 + 2/n')/m)/F, a by the months reported."""
    from scipy.stats import t

    told, before = outcome.figures["fractional"], outcome.figures["before"]
    r = before["autocorrelation"]
    effective = 12 * (1 - r) / (1 + r)
    months = sum((30, 31, 29, 33, 30, 28, 31, 32, 28, 30, 31, 30)) / (365.25 / 12)
    form = t.ppf(0.84, 9) * before["cv_rmse"]
    form *= np.sqrt(12 / effective * (1 + 2 / effective) / 12) / outcome.figures["saving"]["share"]
    factor = -0.00022 * months**2 + 0.03306 * months + 0.94054
    assert told["simplified_2014"] == pytest.approx(factor * form, rel=1e-6)
    assert told["simplified_2002"] == pytest.approx(1.26 * form, rel=1e-6)
    assert 0 < told["bootstrap"] < 1


def test_same_inputs_give_the_same_row_and_any_change_another_hash(outcome):
    again = analyse_bills(inputs())
    assert (again.input_hash, again.figures) == (outcome.input_hash, outcome.figures)
    colder = replace(WEATHER, means=(WEATHER.means[0] - 1, *WEATHER.means[1:]))
    stricter = rules() | {"bills.fewest_bills": replace(rules()["bills.fewest_bills"], limit=10.0)}
    for changed in ({"model": "5P"}, {"weather": colder}, {"rules": stricter}):
        assert analyse_bills(inputs(**changed)).input_hash != outcome.input_hash


def test_all_of_it_is_plain_json(outcome):
    stored = [outcome.inputs, outcome.figures, outcome.refusals, outcome.checks]
    assert json.loads(json.dumps(stored, allow_nan=False)) == stored


def test_bill_across_the_work_is_on_neither_side(outcome):
    assert outcome.figures["before"]["bills"] == outcome.figures["after"]["bills"] == 12
    (left_out,) = outcome.figures["left_out"]
    assert left_out.endswith("it has days of the work")


def test_bills_outside_the_window_are_named():
    early = bills_of(BEFORE, FIRST_DAY, lengths=(20,))
    found = analyse_bills(inputs(bills=(*early, *two_years())))
    assert any("too far from the work" in one for one in found.figures["left_out"])
    assert found.figures["before"]["bills"] == 12


def test_estimated_bill_is_joined_with_the_next_real_one():
    first = STARTED - timedelta(days=373)
    was = bills_of(BEFORE, first, estimated={3})
    found = analyse_bills(inputs(bills=(*was, *two_years()[13:])))
    points = found.figures["before"]["points"]
    assert len(points) == 11
    assert points[3]["days"] == 33 + 30


def test_estimate_closed_only_by_a_bill_across_the_work_is_of_no_use():
    """The closing bill makes good a guess from before the work with use from after it."""
    bills = list(two_years())
    bills[11] = replace(bills[11], estimated=True)
    found = analyse_bills(inputs(bills=tuple(bills)))
    assert found.figures["before"]["bills"] == 11


def test_missing_days_are_named_and_never_filled():
    at = (STARTED - timedelta(days=100) - FIRST_DAY).days
    means = list(WEATHER.means)
    means[at : at + 3] = [None, None, None]
    found = analyse_bills(inputs(weather=replace(WEATHER, means=tuple(means))))
    (reason,) = found.refusals
    assert reason == (
        "Before the work: 3 daily mean temperatures of Tarn Hollow airfield are not known: "
        "2024-03-02 to 2024-03-04. Enter them; they are never filled in."
    )
    assert found.figures["saving"] is None
    assert found.figures["before"] is None
    assert found.figures["after"]["bills"] == 12


def test_days_of_no_bill_may_be_missing():
    means = list(WEATHER.means)
    means[(STARTED - FIRST_DAY).days] = None
    assert analyse_bills(inputs(weather=replace(WEATHER, means=tuple(means)))).refusals == []


REFUSED = [
    ({"bills": ()}, "The account has no bills"),
    ({"work_started_on": None}, "The first working day is not known"),
    ({"work_ended_on": None}, "no final inspection is passed"),
    ({"weather": None}, "No weather station stands for the county"),
    ({"normal": None, "no_normal_because": "The year has gaps."}, "The year has gaps."),
    ({"bills": two_years()[:12]}, "After the work: No whole bill lies on this side"),
    ({"bills": (*two_years()[:8], *two_years()[13:])}, "Before the work: 8 bills; at least 9"),
    ({"bills": (*two_years()[:5], *two_years()[6:])}, "28 days are missing between the bill"),
    ({"bills": two_years(before=rates(load=3, slope=0, base=15) + 0.1 * YEARS)}, "does not rise"),
]


@pytest.mark.parametrize(("changes", "words"), REFUSED)
def test_what_cannot_be_told_is_refused_in_words(changes, words):
    found = analyse_bills(inputs(**changes))
    assert any(words in one for one in found.refusals), found.refusals
    assert not (found.figures or {}).get("saving")
    assert all(one[0].isupper() and one.endswith(".") for one in found.refusals)


def test_few_short_bills_are_too_few_days():
    """Twelve weeks hold twelve bills and no winter."""
    short = bills_of(BEFORE, STARTED - timedelta(days=84), lengths=(7,) * 12, noise=0.05)
    found = analyse_bills(inputs(bills=(*short, *two_years()[13:])))
    assert any("cover 84 days; at least 270" in one for one in found.refusals)


def test_no_saving_has_no_fraction_but_a_range():
    found = analyse_bills(inputs(bills=two_years(after=rates(load=0.8, slope=0.25, base=16.5))))
    saving = found.figures["saving"]["fuel_units"]
    assert saving["high"] < 0
    assert found.figures["fractional"]["bootstrap"] is None
    assert "must be above 0" in found.figures["fractional"]["reason"]
    assert "more than before" in found.figures["words"][0]


def test_loose_bills_break_the_rule_of_the_model():
    found = analyse_bills(inputs(bills=two_years(noise=0.6)))
    unmet = [one for one in found.checks if one["status"] == "reject"]
    assert any(one["code"] == "bills.cv_rmse_long" for one in unmet)


def test_checks_say_value_limit_and_where_the_rule_is_from(outcome):
    assert {one["code"] for one in outcome.checks} == {
        "bills.fewest_bills",
        "bills.fewest_days",
        "bills.cv_rmse_long",
        "bills.fsu_level",
    }
    assert all(one["status"] == "pass" for one in outcome.checks)
    assert all(one["provenance"] for one in outcome.checks)


def test_five_parameters_find_both_sides():
    """The slopes put in, within a fifth: two bases and two slopes from twelve noisy bills."""
    was = rates(load=20, slope=1.2, base=14.0, cooling=2.0)
    now = rates(load=20, slope=0.9, base=13.5, cooling=1.8)
    bills = two_years(before=was, after=now, noise=0.02)
    bills = tuple(replace(one, energy=one.energy / THERM * 3.6e6) for one in bills)
    found = analyse_bills(inputs(fuel="electricity", model="5P", bills=bills))
    assert found.refusals == []
    told = named(found.figures["before"])
    assert told["slope", "heating"]["value"] / 3.6e6 == pytest.approx(1.2, rel=0.2)
    assert told["slope", "cooling"]["value"] / 3.6e6 == pytest.approx(2.0, rel=0.2)
    assert found.figures["unit"]["name"] == "kWh"
