"""Fuels, prices, plant and rounding against published figures and their own laws."""

import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.savings.errors import FuelError, SavingsError
from agency.savings.fuels import BTU, HEAT_CONTENTS, heat_content, unit_of
from agency.savings.money import PriceRow, cost_of, price_on
from agency.savings.plant import bought_energy, refuse_wrong_efficiency
from agency.savings.showing import Range, energy_step, shown_energy, shown_money

GAS = PriceRow(
    fuel="natural_gas", unit="therm", price=1.25, effective_from=date(2026, 7, 1), source="tariff"
)


@pytest.mark.parametrize(
    ("fuel", "unit", "printed"),
    [
        ("electricity", "kWh", 3412),
        ("natural_gas", "therm", 100_000),
        ("propane", "gal", 91_452),
        ("fuel_oil", "gal", 138_500),
        ("wood", "cord", 20_000_000),
        ("kerosene", "gal", 135_000),
    ],
)
def test_heat_contents_as_printed(fuel, unit, printed):
    """US EIA, sample Btu conversion factors (read; kerosene from memory), whole Btu."""
    assert heat_content(fuel=fuel, unit=unit).btu == pytest.approx(printed, abs=0.5)


def test_every_heat_content_names_its_source():
    for content in HEAT_CONTENTS.values():
        assert content.source
        assert content.provenance in {"read", "from memory", "derived"}
        assert unit_of(content.fuel) == content.unit


def test_unknown_fuel_names_the_known_ones():
    with pytest.raises(FuelError, match="natural_gas by the therm"):
        heat_content(fuel="peat", unit="bag")


def test_a_therm_through_an_eighty_per_cent_furnace_by_hand():
    """80,000 Btu in the rooms, 0.80 plant, 1.00 ducts: one therm, $1.25."""
    bought = bought_energy(load=80_000 * BTU, efficiency=0.80, distribution_efficiency=1.0)
    assert float(bought) / BTU == pytest.approx(100_000)
    assert float(cost_of(bought, price=GAS)) == pytest.approx(1.25)


@pytest.mark.parametrize(("plant", "ducts"), [(0, 1), (80, 1), (0.8, 0), (0.8, 1.2), (-1, 1)])
def test_percentages_typed_for_fractions_are_refused(plant, ducts):
    with pytest.raises(SavingsError, match="efficiency is"):
        refuse_wrong_efficiency(efficiency=plant, distribution_efficiency=ducts)


def test_the_newest_price_that_holds_is_taken():
    older = PriceRow(
        fuel="natural_gas", unit="therm", price=1.0, effective_from=date(2025, 7, 1), source="x"
    )
    day = date(2026, 6, 30)
    assert price_on([older, GAS], fuel="natural_gas", day=day) is older
    assert price_on([older, GAS], fuel="natural_gas", day=date(2026, 7, 1)) is GAS


def test_no_price_is_not_a_price_of_nought():
    with pytest.raises(FuelError, match="Enter a price"):
        price_on([GAS], fuel="natural_gas", day=date(2020, 1, 1))
    with pytest.raises(FuelError, match="Enter a price"):
        price_on([GAS], fuel="propane", day=date(2026, 8, 1))


@given(
    energy=st.floats(min_value=-1e12, max_value=1e12),
    price=st.floats(min_value=0.01, max_value=100),
    factor=st.floats(min_value=0.1, max_value=10),
)
def test_cost_is_linear_in_price_and_in_energy(energy, price, factor):
    def cost(joules, dollars):
        row = PriceRow(fuel="propane", unit="gal", price=dollars, source="",
                       effective_from=date(2026, 1, 1))  # fmt: skip
        return float(cost_of(joules, price=row))

    assert cost(energy, price * factor) == pytest.approx(factor * cost(energy, price))
    assert cost(energy * factor, price) == pytest.approx(factor * cost(energy, price))
    assert cost(-energy, price) == -cost(energy, price)


def test_a_price_of_nought_is_refused():
    free = PriceRow(fuel="propane", unit="gal", price=0.0, source="", effective_from=date.min)
    with pytest.raises(FuelError, match="above 0"):
        cost_of(1.0, price=free)


@pytest.mark.parametrize(
    ("figures", "shown"),
    [
        ((123.4, 187.2, 261.0), (120, 190, 270)),
        ((-12.0, 4.9, 31.0), (-20, 0, 40)),
        ((100.0, 145.0, 200.0), (100, 150, 200)),
        ((0.0, 0.0, 0.0), (0, 0, 0)),
    ],
)
def test_money_to_whole_tens_with_the_ends_outwards(figures, shown):
    """By hand."""
    low, central, high = figures
    found = shown_money(Range(low=low, central=central, high=high))
    assert (found.low, found.central, found.high) == shown


@pytest.mark.parametrize(
    ("value", "step"),
    [(1234, 50), (187, 5), (100, 5), (99, 2), (40, 2), (39, 1), (6.0, 0.2), (-187, 5), (0, 0)],
)
def test_energy_step_is_at_most_five_per_cent(value, step):
    """By hand: the largest of 1, 2, 5 times a power of ten within a twentieth."""
    assert energy_step(value) == pytest.approx(step)


@given(
    central=st.floats(min_value=-1e6, max_value=1e6).filter(lambda x: abs(x) > 1e-6),
    below=st.floats(min_value=0, max_value=1),
    above=st.floats(min_value=0, max_value=1),
)
def test_shown_energy_is_near_and_never_narrower(central, below, above):
    figures = Range(
        low=central - below * abs(central), central=central, high=central + above * abs(central)
    )
    shown = shown_energy(figures)
    largest = max(map(abs, (figures.low, central, figures.high)))
    dust = 1e-9 * largest
    assert abs(shown.central - central) <= 0.0251 * largest
    assert shown.low <= figures.low + dust
    assert shown.high >= figures.high - dust
    assert shown.low <= shown.central <= shown.high


def test_a_central_figure_near_zero_gets_no_false_digits():
    """By hand: 5 % of 68 is 3.4, so steps of 2."""
    shown = shown_energy(Range(low=-41.3, central=12.48, high=67.2))
    assert (shown.low, shown.central, shown.high) == (-42, 12, 68)


def test_an_endless_energy_is_refused():
    with pytest.raises(SavingsError, match="finite"):
        energy_step(math.inf)
