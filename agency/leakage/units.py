"""Conversion factors between the units a crew reads and SI, each named once.

Multiply by a factor to reach SI, divide to come back. All are exact by definition.
"""

from typing import overload

from agency.leakage.ranges import Array

METRE_PER_INCH = 0.0254
"""[m/in]  International yard and pound agreement, 1959; exact."""
METRE_PER_FOOT = 12 * METRE_PER_INCH
"""[m/ft]"""
METRE_PER_MILE = 5280 * METRE_PER_FOOT
"""[m/mi]"""
SQUARE_METRE_PER_SQUARE_INCH = METRE_PER_INCH**2
"""[m²/in²]"""
SQUARE_METRE_PER_SQUARE_FOOT = METRE_PER_FOOT**2
"""[m²/ft²]"""
SQUARE_METRE_PER_SQUARE_CENTIMETRE = 1e-4
"""[m²/cm²]"""
CUBIC_METRE_PER_CUBIC_FOOT = METRE_PER_FOOT**3
"""[m³/ft³]"""

SECOND_PER_MINUTE = 60.0
"""[s/min]"""
SECOND_PER_HOUR = 3600.0
"""[s/h]"""

CUBIC_METRE_PER_SECOND_PER_CFM = CUBIC_METRE_PER_CUBIC_FOOT / SECOND_PER_MINUTE
"""[(m³/s)/cfm]  4.719474432e-4."""
CUBIC_METRE_PER_SECOND_PER_CUBIC_METRE_PER_HOUR = 1 / SECOND_PER_HOUR
"""[(m³/s)/(m³/h)]"""
CUBIC_METRE_PER_SECOND_PER_LITRE_PER_SECOND = 1e-3
"""[(m³/s)/(L/s)]"""

STANDARD_GRAVITY = 9.80665
"""[m/s²]  Third CGPM, 1901; exact."""
PASCAL_PER_INCH_OF_WATER = 1000 * STANDARD_GRAVITY * METRE_PER_INCH
"""[Pa/inH2O]  249.08891. Conventional inch of water, 1000 kg/m³; NIST SP 811 Appendix B prints
249.0889, from memory."""
PASCAL_PER_INCH_OF_MERCURY = 13_595.1 * STANDARD_GRAVITY * METRE_PER_INCH
"""[Pa/inHg]  3386.3886. Conventional inch of mercury, 13 595.1 kg/m³; NIST SP 811 Appendix B
prints 3386.389, from memory."""
PASCAL_PER_KILOPASCAL = 1000.0
"""[Pa/kPa]"""

METRE_PER_SECOND_PER_MPH = METRE_PER_MILE / SECOND_PER_HOUR
"""[(m/s)/mph]  0.44704."""
METRE_PER_SECOND_PER_KILOMETRE_PER_HOUR = 1000 / SECOND_PER_HOUR
"""[(m/s)/(km/h)]"""

JOULE_PER_BTU = 1055.05585262
"""[J/Btu]  International table Btu; NIST SP 811 Appendix B, from memory."""
WATT_PER_BTU_PER_HOUR = JOULE_PER_BTU / SECOND_PER_HOUR
"""[W/(Btu/h)]"""
WATT_PER_TON = 12_000 * WATT_PER_BTU_PER_HOUR
"""Ton of cooling. [W/ton]  12 000 Btu/h, by definition."""

ZERO_CELSIUS = 273.15
"""Kelvin at 0 degC. [K]  Exact by definition."""
ZERO_FAHRENHEIT = 459.67
"""Degrees Fahrenheit between absolute zero and 0 degF. [degF]  Exact by definition."""
KELVIN_PER_FAHRENHEIT = 5 / 9
"""[K/degF]"""
FREEZING_FAHRENHEIT = 32.0
"""[degF]"""


@overload
def kelvin_from_celsius(temperature: float) -> float: ...
@overload
def kelvin_from_celsius(temperature: Array) -> Array: ...
def kelvin_from_celsius(temperature: float | Array) -> float | Array:
    """Absolute temperature [K] of a temperature in degC."""
    return temperature + ZERO_CELSIUS


@overload
def celsius_from_kelvin(temperature: float) -> float: ...
@overload
def celsius_from_kelvin(temperature: Array) -> Array: ...
def celsius_from_kelvin(temperature: float | Array) -> float | Array:
    """Temperature [degC] of an absolute temperature in K."""
    return temperature - ZERO_CELSIUS


@overload
def kelvin_from_fahrenheit(temperature: float) -> float: ...
@overload
def kelvin_from_fahrenheit(temperature: Array) -> Array: ...
def kelvin_from_fahrenheit(temperature: float | Array) -> float | Array:
    """Absolute temperature [K] of a temperature in degF."""
    return (temperature + ZERO_FAHRENHEIT) * KELVIN_PER_FAHRENHEIT


@overload
def fahrenheit_from_kelvin(temperature: float) -> float: ...
@overload
def fahrenheit_from_kelvin(temperature: Array) -> Array: ...
def fahrenheit_from_kelvin(temperature: float | Array) -> float | Array:
    """Temperature [degF] of an absolute temperature in K."""
    return temperature / KELVIN_PER_FAHRENHEIT - ZERO_FAHRENHEIT


@overload
def celsius_from_fahrenheit(temperature: float) -> float: ...
@overload
def celsius_from_fahrenheit(temperature: Array) -> Array: ...
def celsius_from_fahrenheit(temperature: float | Array) -> float | Array:
    """Temperature [degC] of a temperature in degF."""
    return (temperature - FREEZING_FAHRENHEIT) * KELVIN_PER_FAHRENHEIT


@overload
def fahrenheit_from_celsius(temperature: float) -> float: ...
@overload
def fahrenheit_from_celsius(temperature: Array) -> Array: ...
def fahrenheit_from_celsius(temperature: float | Array) -> float | Array:
    """Temperature [degF] of a temperature in degC."""
    return temperature / KELVIN_PER_FAHRENHEIT + FREEZING_FAHRENHEIT
