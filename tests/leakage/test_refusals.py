"""Refusal of readings that are missing, not finite or below a limit."""

import math

import numpy as np
import pytest

from agency.leakage.errors import OutOfRange
from agency.leakage.refusals import at_least, finite, single


def test_zero_is_a_reading():
    assert at_least("Flow", 0, low=0, unit="m³/s") == 0
    assert finite("Pressure", [0.0, -3.0], unit="Pa").shape == (2,)
    assert single("Pressure", 0.0, unit="Pa") == 0


def test_the_first_bad_element_is_named():
    with pytest.raises(OutOfRange, match=r"Flow is -2 m³/s; it must be at least 0 m³/s"):
        at_least("Flow", np.array([1.0, -2.0, -3.0]), low=0, unit="m³/s")


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_finite_is_refused(value):
    with pytest.raises(OutOfRange):
        at_least("Flow", value, low=0, unit="")
    with pytest.raises(OutOfRange, match="a finite number"):
        finite("Flow", value, unit="")
    with pytest.raises(OutOfRange, match="a finite number"):
        single("Flow", value, unit="")


def test_none_is_not_measured():
    with pytest.raises(OutOfRange, match="Flow is not given"):
        single("Flow", None, unit="m³/s")
