"""The basic infiltration model against its printed tables, hand sums and its own laws."""

import csv
import math
from pathlib import Path

import numpy as np
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.leakage.errors import LeakageError
from agency.leakage.infiltration import (
    BASIC_MODEL,
    basic_coefficients,
    basic_flow,
    basic_mean_flow,
)

INCH2 = 0.00064516
CFM = 0.3048**3 / 60
MPH = 0.44704
GREENSBORO = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"

areas = st.floats(min_value=1e-4, max_value=1.0)
differences = st.floats(min_value=-40, max_value=60)
winds = st.floats(min_value=0, max_value=30)
heights = st.floats(min_value=1, max_value=3)
shelters = st.integers(min_value=1, max_value=5)


def flow(*, area, storeys, shelter, difference, wind):
    return float(
        basic_flow(
            leakage_area=area,
            coefficients=basic_coefficients(storeys=storeys, shelter_class=shelter),
            temperature_difference=difference,
            wind_speed=wind,
        )
    )


def test_one_storey_class_3_by_hand():
    """Engineering Reference equation and tables (read): 500 cm², 20 K, 4 m/s.

    By hand: 500 sqrt(0.000145 x 20 + 0.000174 x 16) = 500 sqrt(0.005684) = 37.6962 L/s.
    """
    litres = 1000 * flow(area=0.05, storeys=1, shelter=3, difference=20, wind=4)
    assert litres == pytest.approx(37.6962, abs=0.001)


def test_two_storeys_agree_with_the_inch_pound_table():
    """ASHRAE I-P coefficients 0.0299 and 0.0051 (from memory): 100 in², 40 °F, 10 mph.

    By hand: 100 sqrt(0.0299 x 40 + 0.0051 x 100) = 130.6139 cfm; the two tables are rounded
    apart, hence 0.6 cfm.
    """
    metric = flow(area=100 * INCH2, storeys=2, shelter=4, difference=40 / 1.8, wind=10 * MPH)
    assert metric / CFM == pytest.approx(130.6139, abs=0.6)


INCH_POUND_STACK = (0.0150, 0.0299, 0.0449)
INCH_POUND_WIND = {
    1: (0.0119, 0.0157, 0.0184),
    2: (0.0092, 0.0121, 0.0143),
    3: (0.0065, 0.0086, 0.0101),
    4: (0.0039, 0.0051, 0.0060),
    5: (0.0012, 0.0016, 0.0018),
}


@pytest.mark.parametrize("shelter", sorted(INCH_POUND_WIND))
@pytest.mark.parametrize("storeys", [1, 2, 3])
def test_every_coefficient_agrees_with_the_inch_pound_tables(storeys, shelter):
    """I-P tables of ASHRAE Fundamentals 2001 ch. 26, from memory.

    Wind within half a last digit of both tables. The metric stack column is whole multiples of
    its rounded first entry, which puts the two tables up to 0.6 % apart: hence 1 %.
    """
    lps_per_cm2 = (CFM * 1000) / (INCH2 * 1e4)
    found = basic_coefficients(storeys=storeys, shelter_class=shelter)
    stack = INCH_POUND_STACK[storeys - 1] * lps_per_cm2**2 * 1.8
    wind = INCH_POUND_WIND[shelter][storeys - 1] * lps_per_cm2**2 / MPH**2
    assert float(found.stack) == pytest.approx(stack, rel=0.01)
    assert float(found.wind) == pytest.approx(wind, abs=0.00005 * lps_per_cm2**2 / MPH**2 + 5e-7)


@pytest.mark.parametrize(("storeys", "low", "high"), [(1.5, 1, 2), (2.5, 2, 3)])
def test_half_storeys_lie_midway(storeys, low, high):
    """Linear between the printed columns: common practice, no source."""
    between = basic_coefficients(storeys=storeys, shelter_class=2)
    ends = basic_coefficients(storeys=[low, high], shelter_class=2)
    assert float(between.stack) == pytest.approx(ends.stack.mean())
    assert float(between.wind) == pytest.approx(ends.wind.mean())


def test_greensboro_annual_mean_agrees_with_plain_python():
    """TMY3 723170 as shipped with pvlib, 500 cm², one storey, class 3, 22 °C indoors.

    28.04216 L/s was found by a script with the csv module alone; done again here.
    """
    with GREENSBORO.open(newline="") as file:
        next(file)
        rows = [(float(r["Dry-bulb (C)"]), float(r["Wspd (m/s)"])) for r in csv.DictReader(file)]
    plain = math.fsum(
        500 * math.sqrt(0.000145 * abs(22 - t) + 0.000174 * u * u) for t, u in rows
    ) / len(rows)
    temperature, wind = np.array(rows).T
    found = basic_mean_flow(
        leakage_area=np.array([0.05]),
        coefficients=basic_coefficients(storeys=[1.0], shelter_class=3),
        indoor_temperature=22.0,
        outdoor_temperature=temperature,
        wind_speed=wind,
    )
    assert plain == pytest.approx(28.04216, abs=0.0001)
    assert 1000 * found[0] == pytest.approx(plain, rel=1e-12)


def test_blocks_of_houses_give_what_single_houses_give():
    """37 houses cross the block border; each must get its own answer."""
    rng = np.random.default_rng(5)
    area = rng.uniform(0.01, 0.2, 37)
    storeys, shelter = rng.uniform(1, 3, 37), rng.integers(1, 6, 37)
    indoors, outdoors = rng.uniform(18, 24, 37), rng.uniform(-20, 35, 48)
    wind = rng.uniform(0, 12, 48)
    together = basic_mean_flow(
        leakage_area=area,
        coefficients=basic_coefficients(storeys=storeys, shelter_class=shelter),
        indoor_temperature=indoors,
        outdoor_temperature=outdoors,
        wind_speed=wind,
    )
    for i in range(37):
        alone = [
            flow(area=area[i], storeys=storeys[i], shelter=shelter[i],
                 difference=indoors[i] - t, wind=u)
            for t, u in zip(outdoors, wind, strict=True)
        ]  # fmt: skip
        assert together[i] == pytest.approx(math.fsum(alone) / 48, rel=1e-12)


def test_no_drive_gives_no_flow():
    assert flow(area=0.1, storeys=2, shelter=1, difference=0, wind=0) == 0


@given(area=areas, storeys=heights, shelter=shelters, difference=differences, wind=winds)
def test_flow_is_proportional_to_area_and_blind_to_the_sign_of_the_difference(
    area, storeys, shelter, difference, wind
):
    base = flow(area=area, storeys=storeys, shelter=shelter, difference=difference, wind=wind)
    double = flow(
        area=2 * area, storeys=storeys, shelter=shelter, difference=-difference, wind=wind
    )
    assert double == pytest.approx(2 * base, rel=1e-12)


@given(area=areas, storeys=heights, shelter=shelters, difference=differences, wind=winds)
def test_stack_and_wind_add_in_quadrature(area, storeys, shelter, difference, wind):
    case = {"area": area, "storeys": storeys, "shelter": shelter}
    both = flow(**case, difference=difference, wind=wind)
    stack = flow(**case, difference=difference, wind=0)
    windy = flow(**case, difference=0, wind=wind)
    assert both == pytest.approx(math.hypot(stack, windy), rel=1e-9)


@given(storeys=heights, shelter=st.integers(min_value=1, max_value=4), wind=winds)
def test_more_shelter_never_brings_more_flow(storeys, shelter, wind):
    case = {"area": 0.05, "storeys": storeys, "difference": 10, "wind": wind}
    assert flow(**case, shelter=shelter + 1) <= flow(**case, shelter=shelter)


@given(storeys=st.floats(min_value=1, max_value=2.9), shelter=shelters, wind=winds)
def test_taller_houses_leak_at_least_as_much(storeys, shelter, wind):
    case = {"area": 0.05, "shelter": shelter, "difference": 10, "wind": wind}
    assert flow(**case, storeys=storeys + 0.1) >= flow(**case, storeys=storeys)


@pytest.mark.parametrize("storeys", [0.5, 3.5, math.nan])
def test_storeys_off_the_table_are_refused(storeys):
    with pytest.raises(LeakageError, match="storeys must be 1 to 3"):
        basic_coefficients(storeys=storeys, shelter_class=3)


@pytest.mark.parametrize("shelter", [0, 6, 2.5])
def test_unknown_shelter_is_refused(shelter):
    with pytest.raises(LeakageError, match="shelter class"):
        basic_coefficients(storeys=1, shelter_class=shelter)


@pytest.mark.parametrize(
    ("name", "value"),
    [("leakage_area", -0.01), ("wind_speed", -1), ("wind_speed", math.nan),
     ("temperature_difference", math.inf)],
)  # fmt: skip
def test_bad_readings_are_refused(name, value):
    readings = {"leakage_area": 0.05, "temperature_difference": 10, "wind_speed": 3}
    with pytest.raises(LeakageError, match=name.replace("_", " ")):
        basic_flow(
            coefficients=basic_coefficients(storeys=1, shelter_class=3),
            **{**readings, name: value},
        )


def test_the_table_says_where_it_comes_from():
    assert "as measured" in BASIC_MODEL.wind_convention
    assert "Input Output Reference" in BASIC_MODEL.source
    assert BASIC_MODEL.wind.keys() == BASIC_MODEL.shelter_classes.keys()
