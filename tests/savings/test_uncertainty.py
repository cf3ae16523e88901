"""The range of a saving: its centre, its ends, and the laws it must keep."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agency.savings.errors import SavingsError
from agency.savings.infiltration_energy import Hours
from agency.savings.uncertainty import (
    Cooling,
    Heating,
    Leakage,
    Spread,
    cooling_savings,
    draw,
    heating_savings,
    range_of,
)

NONE = Spread(
    before=0.0, after=0.0, shared=0.0, infiltration_model=0.0, weather_year=0.0, setpoint=0.0,
    heating_efficiency=0.0, cooling_efficiency=0.0,
)  # fmt: skip
SOME = Spread(
    before=0.06, after=0.07, shared=0.04, infiltration_model=0.2, weather_year=0.08, setpoint=1.0,
    heating_efficiency=0.05, cooling_efficiency=0.1,
)  # fmt: skip
LEAKAGE = Leakage(before=0.08, after=0.05, storeys=1.5, shelter_class=3)
HEATING = Heating(setpoint=20.0, balance_offset=3.0, efficiency=0.8, distribution_efficiency=0.9)
COOLING = Cooling(
    setpoint=24.0, indoor_relative_humidity=0.5, pressure=98_000, efficiency=3.0,
    distribution_efficiency=0.9,
)  # fmt: skip
YEAR = Hours(
    temperature=np.linspace(-20.0, 36.0, 120),
    wind_speed=np.resize([1.0, 3.0, 6.0, 2.0], 120),
    humidity_ratio=np.linspace(0.001, 0.018, 120),
)
DENSITY = 1.15

areas = st.floats(min_value=0.005, max_value=0.3)


def heating(leakage, spread=NONE, *, plant=HEATING, trials=200, seed=1):
    draws = draw(leakage, spread, trials=trials, seed=seed)
    return heating_savings(draws, leakage, plant, hours=YEAR, density=DENSITY)


def cooling(leakage, spread=NONE, *, plant=COOLING, trials=200, seed=1):
    draws = draw(leakage, spread, trials=trials, seed=seed)
    return cooling_savings(draws, leakage, plant, hours=YEAR, density=DENSITY)


@given(area=areas)
@settings(deadline=None)
def test_zero_change_saves_exactly_zero(area):
    same = replace(LEAKAGE, before=area, after=area)
    for saved in (heating(same), cooling(same)):
        assert (saved == 0).all()
    assert range_of(heating(same, SOME)).central == 0


@given(before=areas, after=areas)
@settings(deadline=None)
def test_the_sign_of_the_saving_is_the_sign_of_the_reduction(before, after):
    leakage = replace(LEAKAGE, before=before, after=after)
    expected = np.sign(before - after)
    assert np.sign(heating(leakage)[0]) == expected
    assert np.sign(cooling(leakage)[0]) == expected


@given(before=areas, after=areas, less=st.floats(min_value=0.001, max_value=0.99))
@settings(deadline=None)
def test_less_leakage_after_never_saves_less(before, after, less):
    leakage = replace(LEAKAGE, before=before, after=after)
    tighter = replace(leakage, after=after * less)
    assert heating(tighter)[0] > heating(leakage)[0]
    assert cooling(tighter)[0] > cooling(leakage)[0]


@given(before=areas, after=areas)
@settings(deadline=None)
def test_undoing_the_work_gives_the_opposite(before, after):
    leakage = replace(LEAKAGE, before=before, after=after)
    undone = replace(LEAKAGE, before=after, after=before)
    assert heating(undone)[0] == pytest.approx(-heating(leakage)[0], rel=1e-12)


def test_a_better_plant_saves_less_in_proportion():
    better = replace(HEATING, efficiency=0.96)
    assert heating(LEAKAGE)[0] / heating(LEAKAGE, plant=better)[0] == pytest.approx(0.96 / 0.8)


def test_without_spread_all_trials_are_the_central_case():
    figures = range_of(heating(LEAKAGE))
    assert figures.low == pytest.approx(figures.central, rel=1e-12)
    assert figures.high == pytest.approx(figures.central, rel=1e-12)


def test_same_seed_same_range_other_seed_another():
    first, again = heating(LEAKAGE, SOME, seed=7), heating(LEAKAGE, SOME, seed=7)
    assert (first == again).all()
    assert (first != heating(LEAKAGE, SOME, seed=8))[1:].all()


def test_model_spread_alone_gives_the_quantiles_of_the_log_normal():
    """One factor exp(s z): the ends are exp(-+1.6449 s), the normal table's 5 % point."""
    spread = replace(NONE, infiltration_model=0.2)
    figures = range_of(heating(LEAKAGE, spread, trials=40_000))
    assert figures.low / figures.central == pytest.approx(np.exp(-1.6449 * 0.2), rel=0.01)
    assert figures.high / figures.central == pytest.approx(np.exp(1.6449 * 0.2), rel=0.01)


def test_leakage_spread_agrees_with_the_gum_for_small_parts():
    """JCGM 100:2008 eq. 13: u² = (A1 u1)² + (A2 u2)² less twice the shared product."""
    spread = replace(NONE, before=0.02, after=0.02, shared=0.015)
    draws = draw(LEAKAGE, spread, trials=100_000, seed=3)
    own = 0.02**2 - 0.015**2
    expected = (0.08**2 + 0.05**2) * own + (0.08 - 0.05) ** 2 * 0.015**2
    assert draws.area_saved[1:].std() == pytest.approx(expected**0.5, rel=0.02)


def test_what_both_tests_share_narrows_the_range():
    apart = range_of(heating(LEAKAGE, replace(SOME, shared=0.0), trials=20_000))
    alike = range_of(heating(LEAKAGE, replace(SOME, shared=0.06), trials=20_000))
    assert alike.high - alike.low < apart.high - apart.low


def test_an_unclear_reduction_has_a_range_across_zero():
    nearly = replace(LEAKAGE, before=0.0505)
    figures = range_of(heating(nearly, SOME, trials=2000))
    assert figures.low < 0 < figures.central < figures.high


@pytest.mark.parametrize(
    ("change", "message"),
    [({"before": -0.1}, "spread of before"), ({"shared": 0.5}, "shared part"),
     ({"setpoint": float("nan")}, "spread of setpoint")],
)  # fmt: skip
def test_impossible_spreads_are_refused(change, message):
    with pytest.raises(SavingsError, match=message):
        draw(LEAKAGE, replace(SOME, **change), trials=200, seed=1)


def test_other_impossible_inputs_are_refused():
    with pytest.raises(SavingsError, match="trials"):
        draw(LEAKAGE, SOME, trials=50, seed=1)
    with pytest.raises(SavingsError, match="leakage area after"):
        draw(replace(LEAKAGE, after=-0.1), SOME, trials=200, seed=1)
    with pytest.raises(SavingsError, match="balance offset"):
        heating(LEAKAGE, plant=replace(HEATING, balance_offset=-1.0))
    with pytest.raises(SavingsError, match=r"0\.80, not 80"):
        heating(LEAKAGE, plant=replace(HEATING, efficiency=80.0))
    with pytest.raises(SavingsError, match="relative humidity"):
        cooling(LEAKAGE, plant=replace(COOLING, indoor_relative_humidity=50.0))
