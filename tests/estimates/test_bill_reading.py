"""Units of bills: what one of each holds, and a volume without its heat content."""

import pytest

from agency.estimates.bridge.units import gas_heat_content, joules_in, units_for

BTU = 1055.05585262
"""[J]  International Table, exact."""


@pytest.mark.parametrize(
    ("fuel", "unit", "btu"),
    [
        ("natural_gas", "therm", 100_000),
        ("electricity", "kWh", 3412.142),
        ("propane", "gal", 91_452),
        ("natural_gas", "MMBtu", 1_000_000),
    ],
)
def test_units_hold_what_the_tables_print(fuel, unit, btu):
    """Therm and million Btu by definition; kWh and propane as printed by EIA."""
    found = joules_in(fuel=fuel, unit=unit, btu_per_cubic_foot=None)
    assert found == pytest.approx(btu * BTU, rel=1e-6)


def test_hundred_cubic_feet_hold_what_the_bill_says():
    """By hand: 100 ft³ of 1,036 Btu are 1.036 therms."""
    found = joules_in(fuel="natural_gas", unit="ccf", btu_per_cubic_foot=1036.0)
    assert found == pytest.approx(1.036 * 100_000 * BTU)
    assert joules_in(fuel="natural_gas", unit="ccf", btu_per_cubic_foot=None) is None


def test_heat_content_by_the_cubic_metre():
    """By hand: 1,000 Btu a cubic foot of 0.028316846592 m³ are 37.26 MJ/m³."""
    assert gas_heat_content(1000.0) == pytest.approx(37.26e6, abs=0.005e6)
    assert gas_heat_content(None) is None


def test_usual_unit_comes_first_and_only_gas_is_sold_by_volume():
    assert units_for("natural_gas")[0] == "therm"
    assert "ccf" in units_for("natural_gas")
    assert "ccf" not in units_for("electricity")
