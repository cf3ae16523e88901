"""Heat through assemblies against hand sums in the trade's units and its own laws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from agency.savings.conduction import (
    RESISTANCE_PER_R,
    conductance,
    heat_through,
    mean_transmittance,
    parallel_transmittance,
    series_resistance,
    transmittance_with_defects,
)
from agency.savings.errors import SavingsError
from agency.savings.fuels import BTU

SQUARE_FOOT = 0.3048**2
U_PER_BTU = 1 / RESISTANCE_PER_R
"""[W/(m² K) per Btu/(h ft² °F)]"""

resistances = arrays(np.float64, 3, elements=st.floats(min_value=0.1, max_value=20))
areas = arrays(np.float64, 3, elements=st.floats(min_value=0.1, max_value=200))


def test_one_r_is_0_176110_square_metre_kelvin_per_watt():
    """NIST SP 811 Appendix B prints 1.761102 E-01, from memory."""
    assert pytest.approx(0.1761102, abs=5e-8) == RESISTANCE_PER_R


def test_framed_wall_by_hand():
    """R-11 in 75 %, a stud of R-4.38 in 25 %, R-2.5 of films and sheathing throughout.

    By hand: 0.75/13.5 + 0.25/6.88 = 0.055556 + 0.036337 = 0.091893 Btu/(h ft² °F).
    """
    paths = RESISTANCE_PER_R * np.array([[11.0, 2.5], [4.38, 2.5]])
    found = parallel_transmittance(shares=[0.75, 0.25], resistances=series_resistance(paths))
    assert float(found) / U_PER_BTU == pytest.approx(0.091893, abs=1e-6)


def test_a_small_hole_costs_what_no_averaged_r_would_say():
    """5 % of an attic bare, R-1.5 against R-38, by hand: 0.95/38 + 0.05/1.5 = 0.058333.

    Averaging R would say 1/(0.95 x 38 + 0.05 x 1.5) = 0.02764: less than half.
    """
    found = transmittance_with_defects(
        sound=U_PER_BTU / 38, defective=U_PER_BTU / 1.5, defect_share=0.05
    )
    assert float(found) / U_PER_BTU == pytest.approx(0.058333, abs=1e-6)


def test_heat_through_a_change_by_hand():
    """1,000 ft² from U 0.25 to 0.05, 4,000 °F days: 0.2 x 1000 x 24 x 4000 = 19.2 million Btu."""
    saved = conductance(transmittances=[0.20 * U_PER_BTU], areas=[1000 * SQUARE_FOOT])
    found = heat_through(conductance=saved, degree_days=4000 / 1.8)
    assert float(found) / BTU == pytest.approx(19.2e6, rel=1e-6)


def test_windows_and_doors_count_by_their_whole_unit():
    """By hand: 12 m² of U 2.8 and 2 m² of U 1.5 are 36.6 W/K, 2.614 W/(m² K) on the mean."""
    openings = {"transmittances": [2.8, 1.5], "areas": [12.0, 2.0]}
    assert float(conductance(**openings)) == pytest.approx(36.6)
    assert float(mean_transmittance(**openings)) == pytest.approx(36.6 / 14)


@given(paths=resistances)
def test_parallel_paths_are_never_better_than_their_averaged_resistance(paths):
    """Jensen's inequality: the mean of 1/R is at least 1 over the mean of R."""
    shares = np.array([0.2, 0.3, 0.5])
    found = float(parallel_transmittance(shares=shares, resistances=paths))
    assert found >= 1 / float(shares @ paths) - 1e-12


@given(before=resistances, more=resistances, size=areas, days=st.floats(0, 6000))
def test_zero_change_saves_nothing_and_more_insulation_saves_more(before, more, size, days):
    def heat(resistance):
        return float(
            heat_through(
                conductance=conductance(transmittances=1 / resistance, areas=size),
                degree_days=days,
            )
        )

    assert heat(before) - heat(before.copy()) == 0
    assert heat(before + more) <= heat(before)


def test_many_houses_at_once():
    found = conductance(transmittances=[[1.0, 2.0], [3.0, 4.0]], areas=[10.0, 1.0])
    assert found.tolist() == [12.0, 34.0]


@pytest.mark.parametrize(
    ("work", "message"),
    [
        (lambda: parallel_transmittance(shares=[0.7, 0.2], resistances=[2, 1]), "sum to 0.9"),
        (lambda: parallel_transmittance(shares=[75, 25], resistances=[2, 1]), "not a percentage"),
        (lambda: parallel_transmittance(shares=[0.5, 0.5], resistances=[2, 0]), "Resistance is 0"),
        (lambda: series_resistance([1.0, np.nan]), "finite"),
        (lambda: conductance(transmittances=[1.0], areas=[-2.0]), "Area is -2 m²"),
        (lambda: heat_through(conductance=5.0, degree_days=-1.0), "Degree days"),
        (lambda: mean_transmittance(transmittances=[1.0], areas=[0.0]), "Sum of the areas"),
    ],
)
def test_impossible_assemblies_are_refused(work, message):
    with pytest.raises(SavingsError, match=message):
        work()
