"""The enhanced model against its printed tables, hand sums, a plain count and its own laws."""

import csv
import math
from pathlib import Path

import numpy as np
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.leakage.errors import LeakageError, OutOfRange
from agency.leakage.infiltration_combining import Superposition
from agency.leakage.infiltration_enhanced import (
    ENHANCED_MODEL,
    EnhancedCoefficients,
    Flue,
    Foundation,
    enhanced_coefficients,
    enhanced_flow,
)

GREENSBORO = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"

heights = st.floats(min_value=1, max_value=3)
variants = st.tuples(st.sampled_from(Foundation), st.sampled_from(Flue))
sizes = st.floats(min_value=1e-3, max_value=1)
exponents = st.floats(min_value=0.5, max_value=1)
winds = st.floats(min_value=0, max_value=30)
differences = st.floats(min_value=-40, max_value=60)
superpositions = st.sampled_from(Superposition)


def of(*, storeys=1.0, shelter=3, foundation=Foundation.BASEMENT_OR_SLAB, flue=Flue.NONE):
    return enhanced_coefficients(
        storeys=storeys, shelter_class=shelter, foundation=foundation, flue=flue
    )


def run(**changes):
    case = {
        "coefficient": 0.05, "exponent": 0.67, "coefficients": of(),
        "temperature_difference": 25.0, "mast_wind_speed": 4.0,
        "superposition": Superposition.QUADRATURE,
    }  # fmt: skip
    return enhanced_flow(**{**case, **changes})


def test_one_storey_on_a_slab_without_flue_by_hand():
    """Engineering Reference equation and tables (read): 4 m/s at the eaves, 25 K, class 3.

    By hand with logarithms: hypot(23.334, 30.995) = 38.796 L/s.
    """
    found = run(mast_wind_speed=4 / 0.48)
    assert 1000 * found.flow == pytest.approx(38.796, abs=0.002)
    assert 1000 * found.stack == pytest.approx(23.334, abs=0.002)
    assert 1000 * found.wind == pytest.approx(30.995, abs=0.002)


def test_greensboro_annual_mean_agrees_with_plain_python():
    """TMY3 723170 as shipped with pvlib, 22 °C: 15.56311 L/s by a script with the csv module
    alone; done again here."""
    with GREENSBORO.open(newline="") as file:
        next(file)
        rows = [(float(r["Dry-bulb (C)"]), float(r["Wspd (m/s)"])) for r in csv.DictReader(file)]
    plain = math.fsum(
        50 * math.hypot(0.054 * abs(22 - t) ** 0.67, 0.156 * (0.7 * 0.48 * u) ** 1.34)
        for t, u in rows
    ) / len(rows)
    temperature, wind = np.array(rows).T
    found = run(temperature_difference=22 - temperature, mast_wind_speed=wind).flow.mean()
    assert plain == pytest.approx(15.56311, abs=0.0001)
    assert 1000 * found == pytest.approx(plain, rel=1e-12)


# Input Output Reference tables (read), picked cell by cell; G from memory.
PRINTED = [
    # (storeys, class, foundation, flue), (Cs, Cw, s, G)
    ((1, 1, Foundation.BASEMENT_OR_SLAB, Flue.OPEN), (0.069, 0.142, 1.10, 0.48)),
    ((2, 2, Foundation.BASEMENT_OR_SLAB, Flue.NONE), (0.078, 0.170, 0.90, 0.59)),
    ((3, 3, Foundation.CRAWL_SPACE, Flue.OPEN), (0.107, 0.154, 0.79, 0.67)),
    ((3, 5, Foundation.CRAWL_SPACE, Flue.NONE), (0.098, 0.151, 0.30, 0.67)),
    ((2, 4, Foundation.CRAWL_SPACE, Flue.OPEN), (0.089, 0.142, 0.64, 0.59)),
]


@pytest.mark.parametrize(("house", "printed"), PRINTED)
def test_each_variant_takes_its_own_cell(house, printed):
    storeys, shelter, foundation, flue = house
    found = of(storeys=storeys, shelter=shelter, foundation=foundation, flue=flue)
    figures = (found.stack, found.wind, found.shelter, found.wind_multiplier)
    assert tuple(map(float, figures)) == printed
    assert found.variant == f"{foundation}, {flue}"


def test_half_storeys_lie_midway():
    """Linear between the printed columns: common practice, no source."""
    between, ends = of(storeys=1.5, flue=Flue.OPEN), of(storeys=[1.0, 2.0], flue=Flue.OPEN)
    for name in ("stack", "wind", "shelter", "wind_multiplier"):
        assert float(getattr(between, name)) == pytest.approx(getattr(ends, name).mean())


def test_many_houses_at_once_get_what_each_gets_alone():
    storeys, shelter = np.array([1.0, 2.5, 3.0, 1.2]), np.array([5, 1, 3, 2])
    together = run(coefficients=of(storeys=storeys, shelter=shelter)).flow
    alone = [
        float(run(coefficients=of(storeys=a, shelter=b)).flow)
        for a, b in zip(storeys, shelter, strict=True)
    ]
    assert together == pytest.approx(alone, rel=1e-12)


@pytest.mark.parametrize(("exponent", "outside"), [(0.55, True), (0.6, False), (0.7, False),
                                                  (0.72, True)])  # fmt: skip
def test_an_exponent_the_table_was_not_made_for_is_told_and_used_as_it_is(exponent, outside):
    """0.6 to 0.7: Input Output Reference (read)."""
    found = run(exponent=exponent, mast_wind_speed=0.0)
    assert bool(found.exponent_outside) is outside
    assert float(found.flow) == pytest.approx(0.05 * 0.054 * 25**exponent, rel=1e-12)


@given(variant=variants, storeys=heights, size=sizes, n=exponents, how=superpositions)
def test_more_leakage_brings_more_air_in_proportion(variant, storeys, size, n, how):
    places = of(storeys=storeys, foundation=variant[0], flue=variant[1])
    case = {"exponent": n, "coefficients": places, "superposition": how}
    once = float(run(coefficient=size, **case).flow)
    assert float(run(coefficient=3 * size, **case).flow) == pytest.approx(3 * once, rel=1e-9)


@given(n=exponents, d=differences, u=winds, how=superpositions)
def test_either_cause_alone_is_the_whole_flow(n, d, u, how):
    calm = run(exponent=n, temperature_difference=d, mast_wind_speed=0.0, superposition=how)
    level = run(exponent=n, temperature_difference=0.0, mast_wind_speed=u, superposition=how)
    assert float(calm.flow) == pytest.approx(float(calm.stack), rel=1e-9)
    assert float(level.flow) == pytest.approx(float(level.wind), rel=1e-9)


@given(storeys=heights, variant=variants, shelter=st.integers(min_value=1, max_value=4), u=winds)
def test_more_shelter_never_brings_more_air(storeys, variant, shelter, u):
    case = {"storeys": storeys, "foundation": variant[0], "flue": variant[1]}
    open_field = run(coefficients=of(shelter=shelter, **case), mast_wind_speed=u)
    sheltered = run(coefficients=of(shelter=shelter + 1, **case), mast_wind_speed=u)
    assert sheltered.flow <= open_field.flow


def test_no_drive_gives_no_flow():
    for how in Superposition:
        still = run(temperature_difference=0.0, mast_wind_speed=0.0, superposition=how)
        assert float(still.flow) == 0


@pytest.mark.parametrize(
    ("change", "message"),
    [({"coefficient": -0.1}, "Flow coefficient"), ({"exponent": 0.4}, "Exponent"),
     ({"mast_wind_speed": -1.0}, "Wind speed"), ({"temperature_difference": math.nan}, "Temper")],
)  # fmt: skip
def test_impossible_readings_are_refused(change, message):
    with pytest.raises(LeakageError, match=message):
        run(**change)


@pytest.mark.parametrize(("change", "message"), [({"storeys": 4}, "Storeys"),
                                                 ({"shelter": 2.5}, "Shelter class")])  # fmt: skip
def test_houses_off_the_table_are_refused(change, message):
    with pytest.raises(OutOfRange, match=message):
        of(**change)


def test_the_table_says_where_it_comes_from():
    assert "Input Output Reference" in ENHANCED_MODEL.source
    assert "multiplier from memory" in ENHANCED_MODEL.provenance
    assert isinstance(of(), EnhancedCoefficients)
