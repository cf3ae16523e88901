"""Addresses that are one dwelling, and those that are not."""

import pytest

from agency.houses.matching import parcel_key, street_key, unit_key


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("27 Heron Pond Rd.", "27 heron pond road"),
        ("14 N Ferris St", "14 North Ferris Street"),
        ("9 St. Osric St", "9 Saint Osric Street"),
        ("3 Quarryman’s Row", "3 Quarrymans Row"),
        ("118 Co Road 18", "118 County Rd 18"),
        ("5  Larkspur   Ln", "5 Larkspur Lane"),
        ("7 ÅSGATAN AVE", "7 åsgatan Avenue"),
    ],
)
def test_the_same_street_address(one, other):
    """Postal shortenings: common practice, no source."""
    assert street_key(one) == street_key(other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("27 Heron Pond Road", "29 Heron Pond Road"),
        ("27 Heron Pond Road", "27 Heron Pond Lane"),
        ("27 N Ferris Street", "27 S Ferris Street"),
        ("1 23rd Street", "12 3rd Street"),
    ],
)
def test_another_street_address(one, other):
    assert street_key(one) != street_key(other)


def test_units_and_parcels_without_their_words_and_marks():
    assert unit_key("Apt. 2B") == unit_key("UNIT 2-b") == "2b"
    assert unit_key("") == ""
    assert unit_key("Apt 2") != unit_key("Apt 12")
    assert parcel_key("12-0440-7") == parcel_key("1204407")
