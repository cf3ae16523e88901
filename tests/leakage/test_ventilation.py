"""Ventilation a dwelling needs, against printed factors, worked values and identities."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.leakage import ventilation
from agency.leakage.errors import LeakageError
from agency.leakage.exhaust_fans import minutes_per_hour
from agency.leakage.leakage_area import effective_leakage_area, normalized_leakage_62_2
from agency.leakage.ventilation import (
    Dwelling,
    LocalRoom,
    VentilationEdition,
    WeatherFactor,
    existing_dwelling_need,
    ventilation_need,
)

CFM = 0.3048**3 / 60
FOOT = 0.3048
SQFT = FOOT**2
HEIGHT = 8.2 * FOOT

# ASHRAE 62.2-2019, Eqs 4-1 to 4-3 (read in part); share of deficits and window from memory; the
# cap of the superposition factor is common practice, no source.
YEAR_2019 = VentilationEdition(
    edition="ASHRAE 62.2-2019",
    floor_rate=0.03 * CFM / SQFT,
    person_rate=7.5 * CFM,
    fewest_bedrooms=1,
    pressure_factor=0.052,
    reference_height=HEIGHT,
    height_exponent=0.4,
    credit_share=1.0,
    credit_floor_rate=0.0,
    has_superposition=True,
    superposition_cap=1.0,
    credit_cap=None,
    deficit_share=0.25,
    window_credit=20 * CFM,
    source="ASHRAE 62.2-2019, 4.1 and Normative Appendix A",
    provenance="read in part",
)
# 62.2-2013: infiltration in full (read); 62.2-2010: half of what exceeds 0.02 A (from memory).
YEAR_2013 = replace(YEAR_2019, edition="ASHRAE 62.2-2013", has_superposition=False)
YEAR_2010 = replace(
    YEAR_2013,
    edition="ASHRAE 62.2-2010",
    floor_rate=0.01 * CFM / SQFT,
    credit_share=0.5,
    credit_floor_rate=0.02 * CFM / SQFT,
)
HOUSE = Dwelling(
    floor_area=1500 * SQFT,
    bedrooms=3,
    occupants=None,
    infiltration=40 * CFM,
    outdoor_share=1.0,
    is_balanced=False,
)
BATH = LocalRoom(name="bath", required=50 * CFM, measured=32 * CFM, has_operable_window=False)
KITCHEN = LocalRoom(name="kitchen", required=100 * CFM, measured=0.0, has_operable_window=True)


def rate(area, bedrooms, edition=YEAR_2019):
    persons = ventilation.people(bedrooms=bedrooms, edition=edition)
    found = ventilation.whole_house_rate(floor_area=area * SQFT, persons=persons, edition=edition)
    return float(found) / CFM


@pytest.mark.parametrize(("area", "bedrooms", "cfm"), [(2400, 3, 102), (1500, 3, 75)])
def test_whole_house_rate(area, bedrooms, cfm):
    """0.03 A + 7.5 (N + 1), 62.2-2013 and later (read); arithmetic."""
    assert rate(area, bedrooms) == pytest.approx(cfm, abs=1e-9)


def test_the_older_rate():
    """0.01 x 1500 + 7.5 x 4 = 45 cfm, 62.2-2010 (from memory)."""
    assert rate(1500, 3, YEAR_2010) == pytest.approx(45)


def test_metric_and_inch_pound_rates_agree_as_the_standard_rounds_them():
    """0.15 L/(s m²) and 3.5 L/s a person (62.2-2019, Eq. 4-1b, read): 1.4 % apart, not more."""
    metric = replace(YEAR_2019, floor_rate=0.15e-3, person_rate=3.5e-3)
    litres = 1000 * ventilation.whole_house_rate(floor_area=223, persons=4, edition=metric)
    ours = 1000 * ventilation.whole_house_rate(floor_area=223, persons=4, edition=YEAR_2019)
    assert litres == pytest.approx(47.45, abs=1e-9)
    assert ours == pytest.approx(litres, abs=0.8)


def test_people():
    """A bedroom more than there are; a studio counts as one bedroom; those who live there."""
    count = ventilation.people
    assert count(bedrooms=3, edition=YEAR_2019) == 4
    assert count(bedrooms=0, edition=YEAR_2019) == 2
    assert count(bedrooms=2, occupants=6, edition=YEAR_2019) == 6
    assert count(bedrooms=2, occupants=1, edition=YEAR_2019) == 3


# Standard Work Specifications, calculation of infiltration credit, Table A-1 (read).
STOREY_FACTORS = [(1.5, 1.18), (2.0, 1.32), (2.5, 1.44), (3.0, 1.55)]


@pytest.mark.parametrize(("storeys", "printed"), STOREY_FACTORS)
def test_height_factor_agrees_with_the_printed_table(storeys, printed):
    """1.18 is printed for 1.1761: within 0.006, not half a last digit."""
    one, tall = ventilation.annual_infiltration(
        flow_50=1.0, weather_factor=0.5, height=[HEIGHT, storeys * HEIGHT], edition=YEAR_2019
    )
    assert tall / one == pytest.approx(printed, abs=0.006)


def test_an_edition_without_a_factor_gives_no_infiltration():
    """62.2-2010 takes it from ASHRAE 136 (from memory)."""
    other = replace(YEAR_2010, pressure_factor=None)
    with pytest.raises(LeakageError, match=r"62\.2-2010 takes infiltration from another"):
        ventilation.annual_infiltration(flow_50=1.0, weather_factor=0.5, height=2.5, edition=other)


def test_factor_052_follows_from_normalized_leakage():
    """Q_inf [L/s] = NL wsf A / 1.44 (from memory), with n = 0.65."""
    flow_50 = 1.0
    area = effective_leakage_area(flow_50 * (4 / 50) ** 0.65, density=1.2)
    leakage = normalized_leakage_62_2(leakage_area=area, floor_area=150.0, height=HEIGHT)
    by_leakage = float(leakage) * 0.6 * 150.0 / 1.44 / 1000
    found = ventilation.annual_infiltration(
        flow_50=flow_50, weather_factor=0.6, height=HEIGHT, edition=YEAR_2019
    )
    assert found == pytest.approx(by_leakage, rel=0.0125)


def test_unbalanced_fan_gets_less_credit():
    """75 cfm asked, 40 cfm of infiltration: phi = 40/75, credit 21.333, fan 53.667 cfm."""
    found = ventilation_need(HOUSE, edition=YEAR_2019)
    assert found.superposition_factor == pytest.approx(40 / 75)
    assert found.fan_flow / CFM == pytest.approx(53.667, abs=5e-4)
    assert (found.deficits, found.supplement, found.not_tested) == ({}, 0, ())


def test_balanced_fan_gets_it_all():
    found = ventilation_need(replace(HOUSE, is_balanced=True), edition=YEAR_2019)
    assert found.fan_flow / CFM == pytest.approx(35)


def test_2013_credits_in_full_and_2010_half_the_excess():
    """75 - 40 = 35; 45 - (40 - 30)/2 = 40 cfm."""
    assert ventilation_need(HOUSE, edition=YEAR_2013).fan_flow / CFM == pytest.approx(35)
    assert ventilation_need(HOUSE, edition=YEAR_2010).fan_flow / CFM == pytest.approx(40)


def test_attached_dwelling_is_credited_for_what_faces_outdoors():
    found = ventilation_need(replace(HOUSE, outdoor_share=0.4), edition=YEAR_2013)
    assert found.credit / CFM == pytest.approx(16)


def test_credit_is_capped_where_the_edition_caps_it():
    """Two thirds of the rate for new houses (from memory): 50 of 75 cfm."""
    new = replace(YEAR_2013, credit_cap=2 / 3)
    found = ventilation_need(replace(HOUSE, infiltration=90 * CFM), edition=new)
    assert found.credit / CFM == pytest.approx(50)


def test_a_leaky_house_needs_no_fan_and_shows_by_how_much():
    found = ventilation_need(replace(HOUSE, infiltration=90 * CFM), edition=YEAR_2019)
    assert found.superposition_factor == 1
    assert found.balance / CFM == pytest.approx(-15)
    assert found.fan_flow == 0


def test_without_a_fan_test_there_is_no_credit():
    found = ventilation_need(replace(HOUSE, infiltration=None), edition=YEAR_2019)
    assert found.superposition_factor is None
    assert found.fan_flow / CFM == pytest.approx(75)


def test_existing_dwelling():
    """Bath lacks 18, kitchen 100 less a window's 20: 98/4 = 24.5 cfm; 75 + 24.5 - 21.333."""
    found = existing_dwelling_need(HOUSE, rooms=[BATH, KITCHEN], edition=YEAR_2019)
    assert {name: d / CFM for name, d in found.deficits.items()} == pytest.approx(
        {"bath": 18, "kitchen": 80}
    )
    assert found.supplement / CFM == pytest.approx(24.5)
    assert found.fan_flow / CFM == pytest.approx(78.167, abs=5e-4)


def test_a_fan_not_measured_counts_as_nothing_and_is_named():
    found = existing_dwelling_need(
        HOUSE, rooms=[replace(BATH, measured=None), KITCHEN], edition=YEAR_2019
    )
    assert found.deficits["bath"] / CFM == pytest.approx(50)
    assert found.not_tested == ("bath",)


@given(
    measured=st.floats(min_value=0, max_value=0.2),
    required=st.floats(min_value=0, max_value=0.2),
    window=st.booleans(),
)
def test_a_deficit_lies_between_nothing_and_what_is_required(measured, required, window):
    room = LocalRoom(name="bath", required=required, measured=measured, has_operable_window=window)
    found = ventilation.local_deficit(room, edition=YEAR_2019)
    assert 0 <= found <= required
    assert found == 0 or measured < required


@given(
    infiltration=st.floats(min_value=0, max_value=0.2), share=st.floats(min_value=0, max_value=1)
)
def test_more_leaks_never_ask_for_a_larger_fan(infiltration, share):
    house = replace(HOUSE, infiltration=infiltration, outdoor_share=share)
    leakier = replace(house, infiltration=infiltration + 0.01)
    for edition in (YEAR_2010, YEAR_2013, YEAR_2019):
        need = ventilation_need(house, edition=edition).fan_flow
        assert ventilation_need(leakier, edition=edition).fan_flow <= need + 1e-12
        assert 0 <= need <= ventilation_need(house, edition=edition).whole_house


def test_minutes_of_an_installed_fan():
    """53.667 of 80 cfm: 40.25 minutes an hour."""
    need = ventilation_need(HOUSE, edition=YEAR_2019)
    found = minutes_per_hour(required=need.fan_flow, installed=80 * CFM)
    assert found.minutes == pytest.approx(40.25, abs=5e-3)


def test_enclosed_kitchen():
    """5 air changes of 9 x 12 x 8 ft: 72 cfm."""
    found = ventilation.flow_for_air_changes(air_changes=5, volume=9 * 12 * 8 * FOOT**3)
    assert found / CFM == pytest.approx(72, rel=1e-12)


def test_a_weather_factor_says_where_it_was_read():
    """An invented value: no table was at hand."""
    factor = WeatherFactor(value=0.5, station="Quillmoor County Airport", edition="2019")
    assert factor.value == 0.5
    for change in ({"station": " "}, {"edition": ""}, {"value": 0.0}, {"value": math.nan}):
        with pytest.raises(LeakageError, match="Weather and shielding factor"):
            replace(factor, **change)


def test_rooms_are_each_listed_once():
    for rooms in ([], [BATH, BATH]):
        with pytest.raises(LeakageError, match="each kitchen and bathroom"):
            existing_dwelling_need(HOUSE, rooms=rooms, edition=YEAR_2019)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"outdoor_share": 1.2}, "Share of the envelope to outdoors is 1.2"),
        ({"floor_area": 0.0}, "Floor area is 0 m²"),
        ({"bedrooms": -1}, "Number of bedrooms is -1"),
        ({"infiltration": -0.01}, "Infiltration is -0.01"),
    ],
)
def test_impossible_dwellings_are_refused(change, words):
    with pytest.raises(LeakageError, match=words):
        ventilation_need(replace(HOUSE, **change), edition=YEAR_2019)
