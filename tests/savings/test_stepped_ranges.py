"""The ranges of a package: their centre, their width and the laws they must keep."""

from dataclasses import replace

import numpy as np
import pytest

from agency.savings.errors import SavingsError
from agency.savings.house_energy import EndUse, energy_bought
from agency.savings.stepped import calibrate, stepped_savings
from agency.savings.stepped_ranges import stepped_ranges
from agency.savings.uncertainty import Spread
from tests.savings.houses import (
    ALL,
    ATTIC,
    COOLED,
    COOLER,
    FURNACE,
    GAS_HEAT,
    HOUSE,
    SEAL,
    SITE,
)

NONE = Spread(
    before=0.0, after=0.0, shared=0.0, infiltration_model=0.0, weather_year=0.0, setpoint=0.0,
    heating_efficiency=0.0, cooling_efficiency=0.0,
)  # fmt: skip
SOME = Spread(
    before=0.06, after=0.07, shared=0.04, infiltration_model=0.2, weather_year=0.08, setpoint=1.0,
    heating_efficiency=0.05, cooling_efficiency=0.1,
)  # fmt: skip
FIVE_PER_CENT_POINT = 1.644854
"""Standard normal table."""


def ranges(changes, spread, *, house=HOUSE, trials=300, seed=2, calibrations=None):
    return stepped_ranges(
        house, changes, SITE, calibrations=calibrations or {}, spread=spread, trials=trials,
        seed=seed,
    )  # fmt: skip


def test_the_central_figures_are_those_of_the_package_itself():
    modelled = float(energy_bought(HOUSE, SITE)[GAS_HEAT][0])
    held = calibrate(modelled=modelled, billed=0.9 * modelled, lowest=0.5, highest=1.5)
    calibrations = {EndUse.HEATING: held}
    package = stepped_savings(HOUSE, ALL, SITE, calibrations=calibrations)
    found = ranges(ALL, SOME, calibrations=calibrations)
    for use, saved in package.saved.items():
        assert found.total[use].central == saved[0]
    for step, (name, figures) in zip(package.steps, found.steps, strict=True):
        assert name == step.name
        assert {use: one.central for use, one in figures.items()} == {
            use: saved[0] for use, saved in step.saved.items()
        }


def test_without_spread_every_trial_is_the_central_case():
    for figures in ranges(ALL, NONE).total.values():
        assert figures.low == figures.central == figures.high


def test_same_seed_same_ranges_other_seed_others():
    first = ranges([SEAL, ATTIC], SOME, seed=7)
    assert ranges([SEAL, ATTIC], SOME, seed=7) == first
    assert ranges([SEAL, ATTIC], SOME, seed=8).total[GAS_HEAT].low != first.total[GAS_HEAT].low


def test_no_measures_save_nothing_in_every_trial():
    for figures in ranges([], SOME).total.values():
        assert (figures.low, figures.central, figures.high) == (0, 0, 0)


def test_weather_alone_gives_the_quantiles_of_the_log_normal():
    """One factor exp(s z) on heating: its ends are exp(-+1.6449 s)."""
    found = ranges([ATTIC], replace(NONE, weather_year=0.1), trials=20_000).total[GAS_HEAT]
    assert found.low / found.central == pytest.approx(np.exp(-0.1 * FIVE_PER_CENT_POINT), rel=0.01)
    assert found.high / found.central == pytest.approx(np.exp(0.1 * FIVE_PER_CENT_POINT), rel=0.01)


def test_leakage_alone_agrees_with_the_gum_for_small_parts():
    """JCGM 100:2008 eq. 13. Without gains the saving is proportional to the area sealed:
    u² = (A1 u1)² + (A2 u2)² less twice what both tests share. Half the width, as logarithms
    lean the two ends alike."""
    spread = replace(NONE, before=0.02, after=0.02, shared=0.015)
    found = ranges([SEAL], spread, house=replace(HOUSE, gains=0.0), trials=20_000).total[GAS_HEAT]
    own = 0.02**2 - 0.015**2
    area = ((0.09**2 + 0.06**2) * own + (0.09 - 0.06) ** 2 * 0.015**2) ** 0.5
    expected = found.central * FIVE_PER_CENT_POINT * area / 0.03
    assert (found.high - found.low) / 2 == pytest.approx(expected, rel=0.02)


def test_what_is_not_sealed_is_not_in_doubt_by_the_leakage_test():
    """Cooling plant only: a leakier house makes its saving larger, but of one sign."""
    found = ranges([COOLER], SOME).total
    assert 0 < found[COOLED].low < found[COOLED].central < found[COOLED].high
    assert found[GAS_HEAT].low == found[GAS_HEAT].high == 0


def test_more_spread_never_narrows_the_range():
    def width(factor):
        spread = replace(SOME, infiltration_model=0.2 * factor, weather_year=0.08 * factor)
        found = ranges([SEAL, ATTIC, FURNACE], spread, trials=4000).total[GAS_HEAT]
        return found.high - found.low

    assert width(0.0) < width(1.0) < width(2.0)


def test_impossible_draws_are_refused():
    with pytest.raises(SavingsError, match="trials"):
        ranges([SEAL], SOME, trials=10)
    with pytest.raises(SavingsError, match="spread of setpoint"):
        ranges([SEAL], replace(SOME, setpoint=-1.0))
