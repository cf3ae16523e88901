"""Raw readings keep every digit they were sent with, and each can be linked to."""

import json

import pytest

from agency.office.layouts import read
from agency.office.readings import as_read, nearest
from tests.builders import make_document


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (-50.1, "\u221250.1"),
        (2310.0, "2,310"),
        (0.0, "0"),
        (None, "not measured"),
        (0.125, "0.125"),
        (1e6, "1,000,000"),
    ],
)
def test_number_is_shown_as_it_was_read(value, text):
    assert as_read(value) == text


def test_column_has_one_number_of_decimals():
    document = make_document()
    document["series"][0]["points"][0]["building_pressure"] = -61.25
    document["series"][0]["points"][1]["building_pressure"] = -53
    table = read(json.dumps(document), []).tables[0]
    texts = [row.cells[0].text for row in table.rows]
    assert texts[:2] == ["\u221261.25", "\u221253.00"]


def test_point_left_out_by_the_crew_says_why():
    document = make_document()
    document["series"][0]["points"][3]["excluded"] = "gust"
    row = read(json.dumps(document), []).tables[0].rows[3]
    assert row.remarks == ["Left out by the crew: gust"]


def test_check_is_repeated_beside_its_reading_unless_met():
    checks = [
        {"field": "series[0].points[1].flow", "status": "advisory", "message": "Odd."},
        {"field": "series[0].points[1].flow", "status": "pass", "message": "Fine."},
    ]
    rows = read(json.dumps(make_document()), checks).tables[0].rows
    assert [list(row.remarks) for row in rows[:3]] == [[], ["Odd."], []]


def test_tenth_point_is_not_taken_for_the_first():
    document = make_document()
    document["series"][0]["points"] += document["series"][0]["points"][:4]
    checks = [{"field": "series[0].points[10].flow", "status": "reject", "message": "Odd."}]
    rows = read(json.dumps(document), checks).tables[0].rows
    assert [row.number for row in rows if row.remarks] == [11]


@pytest.mark.parametrize(
    ("path", "found"),
    [
        ("series[0].points[2].flow", "series[0].points[2].flow"),
        ("series[0].points[2].fans[0].fan_pressure", "series[0].points[2]"),
        ("series[0].points", "series[0]"),
        ("series[7].points[2]", ""),
        ("conditions.wind_speed", "conditions.wind_speed"),
        ("no_such_field", ""),
        ("", ""),
    ],
)
def test_nearest_reading_on_the_page(path, found):
    anchors = read(json.dumps(make_document()), []).anchors
    assert nearest(anchors, path) == found


def test_document_of_another_time_cannot_be_laid_out():
    assert read('{"kind": "of old"}', []) is None
