"""Moist air against the psychrolib library."""

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.savings.errors import SavingsError
from agency.savings.humidity import (
    humidity_ratio_from_dew_point,
    humidity_ratio_from_relative,
    saturation_pressure,
)

psychrolib.SetUnitSystem(psychrolib.SI)

pressures = st.floats(min_value=60_000, max_value=110_000)


@given(temperature=st.floats(min_value=-60, max_value=60))
def test_saturation_pressure_agrees_with_the_library(temperature):
    """Both print ASHRAE Fundamentals 2017 ch. 1 eq. 5 and 6."""
    expected = psychrolib.GetSatVapPres(temperature)
    assert float(saturation_pressure(temperature)) == pytest.approx(expected, rel=1e-9)


def test_saturation_pressure_at_the_triple_point():
    """611.657 Pa: Guildner, Johnson and Jones 1976, from memory; the curves are good to 0.1 %."""
    assert float(saturation_pressure(0.01)) == pytest.approx(611.657, rel=1e-3)


@given(dew_point=st.floats(min_value=-50, max_value=35), pressure=pressures)
def test_humidity_ratio_from_dew_point_agrees_with_the_library(dew_point, pressure):
    expected = psychrolib.GetHumRatioFromTDewPoint(dew_point, pressure)
    found = humidity_ratio_from_dew_point(dew_point=dew_point, pressure=pressure)
    # The library holds its ratio at 1e-7 or above.
    assert float(found) == pytest.approx(expected, rel=1e-9, abs=1e-7)


@given(
    temperature=st.floats(min_value=-40, max_value=45),
    humidity=st.floats(min_value=0.01, max_value=1),
    pressure=pressures,
)
def test_humidity_ratio_from_relative_agrees_with_the_library(temperature, humidity, pressure):
    expected = psychrolib.GetHumRatioFromRelHum(temperature, humidity, pressure)
    found = humidity_ratio_from_relative(
        temperature=temperature, relative_humidity=humidity, pressure=pressure
    )
    assert float(found) == pytest.approx(expected, rel=1e-9, abs=1e-7)


def test_arrays_cross_the_ice_point():
    temperatures = np.array([-10.0, 0.01, 10.0])
    expected = [psychrolib.GetSatVapPres(float(t)) for t in temperatures]
    assert saturation_pressure(temperatures) == pytest.approx(expected, rel=1e-9)


def test_wrong_units_are_refused():
    with pytest.raises(SavingsError, match="fraction"):
        humidity_ratio_from_relative(temperature=20, relative_humidity=50, pressure=101_325)
    with pytest.raises(SavingsError, match="pascals"):
        humidity_ratio_from_dew_point(dew_point=20, pressure=1013)
    with pytest.raises(SavingsError, match="temperature"):
        saturation_pressure(300)
