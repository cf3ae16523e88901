"""Flows put together: superposition, fans, the quick estimate and the effective mean."""

import csv
import math
from pathlib import Path

import numpy as np
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from agency.leakage.errors import LeakageError, OutOfRange
from agency.leakage.infiltration_combining import (
    N_FACTOR,
    effective_mean_air_changes,
    original_superposition,
    quadrature,
    rough_natural_flow,
    with_fans,
)
from agency.leakage.weather_factor import REFERENCE_HOUSE, computed_weather_factor

GREENSBORO = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"

flows = st.floats(min_value=0.0, max_value=2.0)
exponents = st.floats(min_value=0.5, max_value=1.0)
years = arrays(np.float64, 30, elements=st.floats(min_value=0.01, max_value=20))


def test_superpositions_by_hand():
    """3 and 4 at n = 0.5: quadrature 5; original (9 + 16 - 12/3)^0.5 = 4.5826."""
    case = {"stack": 3.0, "wind": 4.0, "exponent": 0.5}
    assert float(quadrature(**case)) == 5
    assert float(original_superposition(**case)) == pytest.approx(math.sqrt(21), rel=1e-12)


@given(stack=flows, wind=flows, n=exponents)
def test_original_is_between_the_larger_cause_less_its_cross_term_and_the_sum(stack, wind, n):
    """Derived: 1 + t - sqrt(t)/3 is least at sqrt(t) = 1/6, where it is 35/36."""
    found = float(original_superposition(stack=stack, wind=wind, exponent=n))
    assert found <= stack + wind + 1e-12
    assert found >= (35 / 36) ** n * max(stack, wind) - 1e-12


@given(infiltration=flows, supply=flows, exhaust=flows)
def test_fans_add_between_quadrature_and_the_plain_sum(infiltration, supply, exhaust):
    found = float(with_fans(infiltration=infiltration, supply=supply, exhaust=exhaust))
    assert found <= infiltration + max(supply, exhaust) + 1e-12
    assert found >= max(infiltration, supply, exhaust) - 1e-12


def test_fans_by_hand():
    """ASHRAE Fundamentals ch. 16, from memory: balanced 30; 30 in, 70 out with leaks of 30."""
    assert float(with_fans(infiltration=0.03, supply=0.03, exhaust=0.03)) == pytest.approx(0.06)
    found = with_fans(infiltration=0.03, supply=0.03, exhaust=0.07)
    assert float(found) == pytest.approx(0.03 + 0.05)


def test_the_quick_estimate_by_its_factors():
    """Climate 15.5, well shielded 1.2, two storeys 0.8: N = 14.88, printed 14.9 (from memory)."""
    found = rough_natural_flow(
        1.5, climate=15.5, storeys=2.0, shielding="well shielded", leaks="normal"
    )
    assert found.divisor == pytest.approx(14.9, abs=0.05)
    assert float(found.flow) == pytest.approx(1.5 / 14.88)


@pytest.mark.parametrize(
    "change", [{"climate": 30.0}, {"storeys": 2.2}, {"shielding": "some"}, {"leaks": "many"}]
)
def test_the_quick_estimate_refuses_what_its_table_lacks(change):
    case = {"climate": 20.0, "storeys": 1.0, "shielding": "normal", "leaks": "normal"}
    with pytest.raises(OutOfRange):
        rough_natural_flow(1.0, **{**case, **change})
    assert N_FACTOR.provenance == "from memory"


@given(rate=st.floats(min_value=0.01, max_value=20))
def test_steady_air_has_itself_as_effective_mean(rate):
    """Derived: the turnover of a steady flow is one over it, whatever the start."""
    assert float(effective_mean_air_changes([rate] * 24)) == pytest.approx(rate, rel=1e-9)


@given(year=years)
def test_the_effective_mean_is_never_above_the_mean(year):
    """Jensen's inequality."""
    assert effective_mean_air_changes(year) <= year.mean() * (1 + 1e-9)


@given(year=years, shift=st.integers(min_value=0, max_value=29))
def test_where_the_year_starts_does_not_matter(year, shift):
    turned = effective_mean_air_changes(np.roll(year, shift))
    assert float(turned) == pytest.approx(float(effective_mean_air_changes(year)), rel=1e-9)


def test_a_still_hour_only_makes_the_air_an_hour_older():
    """By hand: one hour of a = 1 and one still hour, repeated for ever.

    t1 = 1 - 1/e + t2/e and t2 = t1 + 1 give t1 = 1/(1 - 1/e), so the mean is t1 + 1/2.
    """
    found = float(effective_mean_air_changes([1.0, 0.0]))
    assert 1 / found == pytest.approx(1 / (1 - math.exp(-1)) + 0.5, rel=1e-12)


def test_air_that_never_changes_is_refused():
    with pytest.raises(LeakageError, match="Sum of the air changes"):
        effective_mean_air_changes([0.0, 0.0])


def test_greensboro_reference_house():
    """Found before by another script with two passes from the mean: 0.173 against 0.208 per
    hour, factor 0.432, each to its last digit. Constants from memory; no printed factor read."""
    with GREENSBORO.open(newline="") as file:
        next(file)
        rows = [(float(r["Dry-bulb (C)"]), float(r["Wspd (m/s)"])) for r in csv.DictReader(file)]
    temperature, wind = np.array(rows).T
    found = computed_weather_factor(temperature=temperature, wind_speed=wind, house=REFERENCE_HOUSE)
    assert found.effective_air_changes == pytest.approx(0.173, abs=0.0005)
    assert found.mean_air_changes == pytest.approx(0.208, abs=0.0005)
    assert found.value == pytest.approx(0.432, abs=0.0005)
    assert found.label == "computed, not tabulated"
