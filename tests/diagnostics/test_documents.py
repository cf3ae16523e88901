"""Reading a test-run document: what is accepted, and how each mistake is named."""

import copy
import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agency.diagnostics.documents import KINDS, parse, parse_json
from agency.diagnostics.forms.envelope import EnvelopeDocument
from agency.errors import DocumentRefused

from .examples import E779, ISO, ONE_POINT, example


def refused(data):
    with pytest.raises(DocumentRefused) as refusal:
        parse(data)
    return {reason.field: reason for reason in refusal.value.reasons}


def refused_text(text):
    with pytest.raises(DocumentRefused) as refusal:
        parse_json(text)
    (reason,) = refusal.value.reasons
    return reason


def put(path, value, *, name=E779):
    """The example with one value replaced, added or (with ...) removed."""
    data = example(name)
    *steps, last = path
    here = data
    for step in steps:
        here = here[step]
    if value is ...:
        del here[last]
    else:
        here[last] = value
    return data


@pytest.mark.parametrize("name", [E779, ISO, ONE_POINT])
def test_examples_are_read(name):
    document = parse(example(name))
    assert isinstance(document, EnvelopeDocument)
    assert document == parse_json(json.dumps(example(name)))
    assert document.kind in KINDS


def test_readings_are_kept_to_the_last_digit():
    text = json.dumps(put(["series", 0, "points", 0, "building_pressure"], -61.10000000000001))
    document = parse_json(text)
    assert document.series[0].points[0].building_pressure == -61.10000000000001


POINT = ["series", 0, "points", 0]
PRESSURE = [*POINT, "building_pressure"]
REFUSED = [
    (PRESSURE, True, "series[0].points[0].building_pressure", "not_a_number"),
    (PRESSURE, "-50", "series[0].points[0].building_pressure", "text_for_number"),
    (PRESSURE, "1,850", "series[0].points[0].building_pressure", "ambiguous_number"),
    (PRESSURE, "−50", "series[0].points[0].building_pressure", "no_reading"),
    (PRESSURE, None, "series[0].points[0].building_pressure", "not_a_number"),
    (PRESSURE, [50], "series[0].points[0].building_pressure", "not_a_number"),
    (PRESSURE, 10**400, "series[0].points[0].building_pressure", "not_finite"),
    (PRESSURE, ..., "series[0].points[0].building_pressure", "missing"),
    ([*POINT, "presure"], 5, "series[0].points[0].presure", "unknown_field"),
    ([*POINT, "flow"], 2000.0, "series[0].points[0]", "fans_or_flow"),
    ([*POINT, "fans"], [], "series[0].points[0]", "fans_or_flow"),
    ([*POINT, "seconds"], 0, "series[0].points[0].seconds", "not_positive"),
    ([*POINT, "excluded"], "  ", "series[0].points[0]", "excluded_without_reason"),
    ([*POINT, "excluded"], False, "series[0].points[0].excluded", "wrong_type"),
    ([*POINT, "fans", 0, "serial"], "X", "series[0].points[0].fans[0].serial", "fan_not_listed"),
    ([*POINT, "fans", 0, "serial"], "", "series[0].points[0].fans[0].serial", "too_short"),
    (["series", 0, "points"], [], "series[0].points", "too_short"),
    (["series", 0, "direction"], "down", "series[0].direction", "not_a_choice"),
    (["series", 1, "direction"], "depressurization", "series[1].direction", "direction_twice"),
    (["series", 0, "baseline_before"], {"mean": 1.0, "samples": [1.0]},
     "series[0].baseline_before", "samples_or_mean"),
    (["series", 0, "baseline_before"], {"seconds": 30}, "series[0].baseline_before",
     "samples_or_mean"),
    (["series", 0, "baseline_before", "samples"], [0.1] * 3601,
     "series[0].baseline_before.samples", "too_long"),
    (["series"], [], "series", "too_short"),
    (["units", "pressure"], "psi", "units.pressure", "not_a_choice"),
    (["units", "pressure"], None, "units.pressure", "not_a_choice"),
    (["units", "temperature"], None, "units.temperature", "unit_missing"),
    (["units", "length"], None, "units.length", "unit_missing"),
    (["units", "wind_speed"], None, "units.wind_speed", "unit_missing"),
    (["conditions", "barometric_pressure"], 98.0, "units.barometer", "unit_missing"),
    (["conditions", "indoor_humidity"], 45, "conditions.indoor_humidity", "out_of_range"),
    (["conditions"], None, "conditions", "wrong_type"),
    (["house", "floor_area"], 0, "house.floor_area", "not_positive"),
    (["house", "volume"], -3, "house.volume", "not_positive"),
    (["gauge", "baseline_subtracted"], ..., "gauge.baseline_subtracted", "missing"),
    (["gauge", "baseline_subtracted"], "no", "gauge.baseline_subtracted", "wrong_type"),
    (["fans", 0, "equations", 0, "coefficient"], 0, "fans[0].equations[0].coefficient",
     "not_positive"),
    (["fans", 0, "equations", 0, "highest_pressure"], 20, "fans[0].equations[0]", "range_order"),
    (["fans", 0, "equations", 1, "configuration"], "open", "fans[0]", "equation_twice"),
    (["client_key"], "12", "client_key", "not_a_uuid"),
    (["client_key"], 12, "client_key", "not_a_uuid"),
    (["taken_at"], "2026-10-14T10:20:00", "taken_at", "no_time_zone"),
    (["taken_at"], "2026-10-14", "taken_at", "not_a_time"),
    (["taken_at"], "2026-02-30T10:20:00Z", "taken_at", "not_a_time"),
    (["taken_at"], 1_760_000_000, "taken_at", "not_a_time"),
    (["taken_at"], "0001-01-01T00:00:00+23:59", "taken_at", "not_a_time"),
    (["method"], "E779", "method", "not_a_choice"),
    (["phase"], "pre", "phase", "not_a_choice"),
    (["kind"], "smoke", "kind", "unknown_kind"),
    (["kind"], ..., "kind", "unknown_kind"),
    (["kind"], ["envelope"], "kind", "unknown_kind"),
    (["note"], "x" * 4001, "note", "too_long"),
    (["setup", "attic_hatch"], True, "setup.attic_hatch", "wrong_type"),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value", "field", "code"), REFUSED)
def test_each_mistake_is_named_at_its_field(path, value, field, code):
    reasons = refused(put(path, value))
    assert field in reasons, list(reasons)
    reason = reasons[field]
    assert reason.code == code
    assert reason.message
    assert reason.next_step
    json.dumps(reason.as_dict(), allow_nan=False)


def test_every_mistake_is_listed_at_once():
    data = put(PRESSURE, "OL")
    data["method"] = "best"
    del data["gauge"]
    assert set(refused(data)) == {
        "series[0].points[0].building_pressure", "method", "gauge"
    }  # fmt: skip


def test_an_ambiguous_number_is_explained_in_both_readings():
    reason = refused(put(PRESSURE, "1,850"))["series[0].points[0].building_pressure"]
    assert "1850" in reason.message
    assert "1.850" in reason.message
    assert reason.value == "1,850"


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_numbers_that_are_none_are_refused_at_their_field(value):
    reasons = refused(put(PRESSURE, value))
    assert reasons["series[0].points[0].building_pressure"].code == "not_finite"


def test_zero_and_null_are_different():
    document = parse(put(["conditions", "wind_speed"], 0))
    assert document.conditions.wind_speed == 0
    assert parse(put(["conditions", "wind_speed"], None)).conditions.wind_speed is None


BAD_TEXT = [
    ("", "not_json"),
    ("{", "not_json"),
    ("\ufeff{}", "byte_order_mark"),
    (b"\xef\xbb\xbf{}", "byte_order_mark"),
    (b"\xff\xfe", "not_utf8"),
    ('{"kind": 1, "kind": 2}', "name_twice"),
    ('{"kind": NaN}', "not_finite"),
    ('{"kind": -Infinity}', "not_finite"),
    ('{"kind": 1e999}', "not_finite"),
    ('{"kind": ' + "9" * 5000 + "}", "not_finite"),
    ("[" * 100_000, "too_deep"),
    ("[" * 20 + "]" * 20, "too_deep"),
    ("[]", "not_an_object"),
    ('"envelope"', "not_an_object"),
    ('{"note": "\\ud800"}', "unreadable_text"),
    ('{"note": "\\u0000"}', "unreadable_text"),
    ("[" + "1," * 70_000 + "1]", "too_large"),
    (" " * 2_000_001, "too_large"),
]


@pytest.mark.parametrize(("text", "code"), BAD_TEXT)
def test_text_that_is_no_document(text, code):
    reason = refused_text(text)
    assert reason.code == code
    assert reason.next_step


PLAIN = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)


@settings(max_examples=200, deadline=None)
@given(data=st.data())
def test_whatever_stands_in_a_field_is_read_or_refused(data):
    """Never any other error, and every reason can be written as JSON."""
    document = copy.deepcopy(example())
    path = data.draw(st.sampled_from([one[0] for one in REFUSED]))
    here = document
    for step in path[:-1]:
        here = here[step]
    here[path[-1]] = data.draw(PLAIN)
    try:
        parse(document)
    except DocumentRefused as refusal:
        json.dumps([one.as_dict() for one in refusal.reasons], allow_nan=False)
