"""Numbers, dates and codes read as an American office writes them."""

from datetime import UTC, date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.wording import words

CHICAGO = ZoneInfo("America/Chicago")
THIN = "\u202f"

# 1 ft³/min = 4.719 474 E-04 m³/s: NIST SP 811 (2008), appendix B.8, from memory.
CFM_PRINTED = 4.719474e-4


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (2310, 0, "2,310"),
        (-3.25, 1, "\u22123.3"),
        (0.5, 0, "1"),
        (2.5, 0, "3"),
        (-0.04, 1, "0.0"),
        (Decimal("1234567.891"), 2, "1,234,567.89"),
        (0, 0, "0"),
        (1.005, 2, "1.01"),
    ],
)
def test_number(value, decimals, text):
    assert words.number(value, decimals) == text


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_a_number_that_is_none_is_refused(value):
    with pytest.raises(ValueError, match="finite"):
        words.number(value)


@given(st.floats(min_value=-1e12, max_value=1e12), st.integers(min_value=0, max_value=4))
def test_number_reads_back_within_half_its_last_digit(value, decimals):
    text = words.number(value, decimals).replace(",", "").replace(words.MINUS, "-")
    half = Decimal(1).scaleb(-decimals) / 2
    assert abs(Decimal(text) - Decimal(repr(value))) <= half


def test_missing_is_said_in_words_and_zero_is_a_reading():
    wordings = [
        words.number,
        words.flow,
        words.flow_interval,
        words.percent,
        words.pressure,
        words.pressure_both,
        words.leakage_area,
        words.floor_area,
        words.volume,
        words.air_changes,
        words.temperature,
        words.money,
        words.coded,
    ]
    assert {wording(None) for wording in wordings} == {"not measured"}
    assert words.flow(0) == f"0{THIN}cfm"
    assert words.air_changes(0) == f"0.0{THIN}ACH50"


def test_flow_agrees_with_the_printed_factor():
    assert words.flow(2310 * CFM_PRINTED) == f"2,310{THIN}cfm"
    assert pytest.approx(CFM_PRINTED, abs=0.5e-10) == words.CFM


def test_flow_interval():
    interval = {
        "value": 2310 * CFM_PRINTED,
        "low": 2240 * CFM_PRINTED,
        "high": 2380 * CFM_PRINTED,
    }
    assert words.flow_interval(interval) == f"2,310{THIN}cfm (2,240 to 2,380)"
    assert words.flow_interval({**interval, "low": None}) == f"2,310{THIN}cfm"


@pytest.mark.parametrize(
    ("before", "after", "text"),
    [
        (2310, 1898, f"down 412{THIN}cfm, 18{THIN}%"),
        (1412, 1437, f"up 25{THIN}cfm, 2{THIN}%"),
        (1880, 1880.3, "no change"),
        (0, 12, f"up 12{THIN}cfm"),
        (1880, 0, f"down 1,880{THIN}cfm, 100{THIN}%"),
        (None, 1880, "no difference: one side is not measured"),
        (1880, None, "no difference: one side is not measured"),
    ],
)
def test_difference(before, after, text):
    assert words.difference(before, after, unit="cfm") == text


def test_pressure_beside_inches_of_water():
    """1 inH2O, conventional = 249.0889 Pa: NIST SP 811 (2008), appendix B.8, from memory."""
    assert words.pressure_both(-249.0889) == (
        f"\u2212249.1{THIN}Pa (\u22121.000{THIN}in.\u00a0w.c.)"
    )


def test_areas_volume_and_temperature():
    """645.16 mm² to the square inch and 32 °F at the ice point are exact by definition."""
    assert words.leakage_area(100 * 645.16e-6) == f"100{THIN}in²"
    assert words.floor_area(1408 * 0.09290304) == f"1,408{THIN}ft²"
    assert words.volume(11840 * 0.028316846592) == f"11,840{THIN}ft³"
    assert words.temperature(-40) == f"\u221240{THIN}°F"
    assert words.temperature(100) == f"212{THIN}°F"


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (120.4, 209.6, "$120 to $210 a year"),
        (-40, 110, "\u2212$40 to $110 a year"),
        (99.6, 100.4, "$100 a year"),
        (None, 110, "not measured"),
    ],
)
def test_money_range(low, high, text):
    assert words.money_range(low, high) == text


@pytest.mark.parametrize(
    ("fraction", "decimals", "text"), [(0.18, 0, "18"), (0.285, 0, "29"), (-0.0725, 1, "\u22127.3")]
)
def test_percent_rounds_the_figure_as_it_is_written(fraction, decimals, text):
    assert words.percent(fraction, decimals) == f"{text}{THIN}%"


def test_ranges_and_counts():
    assert words.quantity_range(34.2, 60.6, "therms") == f"34 to 61{THIN}therms"
    assert words.quantity_range(34.2, 34.4, "therms") == f"34{THIN}therms"
    assert words.count(1, "test") == "1\u00a0test"
    assert words.count(1204, "test") == "1,204\u00a0tests"
    assert words.count(0, "house", "houses") == "0\u00a0houses"


@pytest.mark.parametrize(
    ("at", "text", "machine"),
    [
        (
            datetime(2026, 11, 25, 20, 14, tzinfo=UTC),
            "Nov 25, 2026, 2:14\u00a0PM CST",
            "2026-11-25T14:14:00-06:00",
        ),
        (
            datetime(2026, 7, 4, 5, 5, tzinfo=UTC),
            "Jul 4, 2026, 12:05\u00a0AM CDT",
            "2026-07-04T00:05:00-05:00",
        ),
        (
            datetime(2026, 11, 1, 7, 30, tzinfo=UTC),
            "Nov 1, 2026, 1:30\u00a0AM CST",
            "2026-11-01T01:30:00-06:00",
        ),
    ],
)
def test_moments_in_the_office_zone(at, text, machine):
    """The last one is the second 1:30 AM of the night the clocks go back."""
    assert words.moment(at, CHICAGO) == text
    assert words.iso(at, CHICAGO) == machine


def test_days():
    assert words.day(date(2026, 11, 25)) == "Nov 25, 2026"
    assert words.iso(date(2026, 1, 2)) == "2026-01-02"
    assert words.day(None) == "no date"
    assert words.iso(None) == ""


def test_a_time_without_a_zone_is_refused():
    with pytest.raises(ValueError, match="no zone"):
        words.clock(datetime(2026, 11, 25, 14, 14))  # noqa: DTZ001


def test_states_of_one_list_differ_without_colour():
    """Word and edge pattern must tell states apart on a grey print."""
    for together in (
        ["scheduled", "in_progress", "tested_out", "rework", "inspection_passed", "approved"],
        ["to_review", "accepted", "returned", "superseded"],
        ["valid", "advisory", "rejected", "provisional", "not_computed"],
        ["pass", "advisory", "reject", "not_verifiable"],
    ):
        shown = [words.state(code) for code in together]
        assert len({state.word for state in shown}) == len(together)
        assert len({state.edge for state in shown}) == len(together)


def test_unknown_codes_are_spelled_out():
    assert words.state("client_absent").word == "Client absent"
    assert words.coded("e779") == "ASTM E779, several pressures"


@pytest.mark.parametrize(
    ("value", "largest", "shown"),
    [(2135.2, 12954.0, 2000.0), (8.1, 92.9, 8.0), (-374.0, 4304.0, -400.0), (0.0, 0.0, 0.0)],
)
def test_a_rough_figure_keeps_two_digits_of_the_largest(value, largest, shown):
    """12,954 to two digits counts in thousands, 92.9 in ones (arithmetic)."""
    assert words.rough(value, words.round_step(value, largest)) == pytest.approx(shown)


@pytest.mark.parametrize(
    ("code", "told"),
    [
        ("combustion.co.1", "carbon monoxide in a vent"),
        ("combustion.ambient.zone", "carbon monoxide in the air"),
        ("caution.gas", "gas"),
        ("unlatched_hatch", "unlatched hatch"),
    ],
)
def test_hazard_is_told_in_words(code, told):
    assert words.hazard(code) == told
