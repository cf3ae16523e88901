"""Conversion factors against the constants scipy ships and against printed values."""

import numpy as np
import pytest
from scipy import constants

from agency.leakage import units

# Name of our factor, value by scipy.constants (CODATA and exact definitions, read).
BY_SCIPY = [
    ("METRE_PER_INCH", constants.inch),
    ("METRE_PER_FOOT", constants.foot),
    ("METRE_PER_MILE", constants.mile),
    ("METRE_PER_SECOND_PER_MPH", constants.mph),
    ("METRE_PER_SECOND_PER_KILOMETRE_PER_HOUR", constants.kmh),
    ("STANDARD_GRAVITY", constants.g),
    ("ZERO_CELSIUS", constants.zero_Celsius),
    ("KELVIN_PER_FAHRENHEIT", constants.degree_Fahrenheit),
    ("SECOND_PER_MINUTE", constants.minute),
    ("SECOND_PER_HOUR", constants.hour),
    ("CUBIC_METRE_PER_SECOND_PER_LITRE_PER_SECOND", constants.liter),
]

# Name, printed value, half its last digit, where printed.
PRINTED = [
    # NIST SP 811 (2008), Appendix B, from memory.
    ("CUBIC_METRE_PER_SECOND_PER_CFM", 4.719474e-4, 5e-11),
    ("PASCAL_PER_INCH_OF_WATER", 249.0889, 5e-5),
    ("PASCAL_PER_INCH_OF_MERCURY", 3386.389, 5e-4),
    ("SQUARE_METRE_PER_SQUARE_FOOT", 9.290304e-2, 5e-9),
    ("CUBIC_METRE_PER_CUBIC_FOOT", 2.831685e-2, 5e-9),
]


@pytest.mark.parametrize(("name", "value"), BY_SCIPY)
def test_factor_agrees_with_scipy(name, value):
    """scipy.constants; equal but for rounding in the last place."""
    assert getattr(units, name) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(("name", "printed", "half_digit"), PRINTED)
def test_factor_agrees_with_print(name, printed, half_digit):
    """NIST SP 811, to half the last printed digit."""
    assert getattr(units, name) == pytest.approx(printed, abs=half_digit)


def test_cubic_foot_a_minute_is_exact():
    """From the inch of 25.4 mm: 12³ in³ / 60 s (derived, in whole numbers)."""
    exact = 12**3 * 254**3 / (60 * 10_000**3)
    assert pytest.approx(exact, rel=1e-15) == units.CUBIC_METRE_PER_SECOND_PER_CFM


def test_square_metre_in_square_inches():
    """1 m² is 1550.0031 in² (derived from the inch)."""
    square_inches = 1 / units.SQUARE_METRE_PER_SQUARE_INCH
    assert square_inches == pytest.approx(1550.0031, abs=5e-5)


@pytest.mark.parametrize("celsius", [-40.0, 0.0, 20.0, 37.5, 100.0])
def test_temperatures_agree_with_scipy(celsius):
    """scipy.constants.convert_temperature."""

    def scipy_says(value, old, new):
        return pytest.approx(constants.convert_temperature(value, old, new), abs=1e-10)

    fahrenheit = float(constants.convert_temperature(celsius, "C", "F"))
    kelvin = float(constants.convert_temperature(celsius, "C", "K"))
    assert units.fahrenheit_from_celsius(celsius) == scipy_says(celsius, "C", "F")
    assert units.celsius_from_fahrenheit(fahrenheit) == scipy_says(fahrenheit, "F", "C")
    assert units.kelvin_from_celsius(celsius) == scipy_says(celsius, "C", "K")
    assert units.celsius_from_kelvin(kelvin) == scipy_says(kelvin, "K", "C")
    assert units.kelvin_from_fahrenheit(fahrenheit) == scipy_says(fahrenheit, "F", "K")
    assert units.fahrenheit_from_kelvin(kelvin) == scipy_says(kelvin, "K", "F")


def test_temperatures_of_many_hours_at_once():
    """An array goes through as an array."""
    assert np.array_equal(units.kelvin_from_celsius(np.array([0.0, 1.0])), [273.15, 274.15])
