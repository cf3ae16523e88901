"""Every kind of test through the phone's form: what was read comes out as it is sent."""

import copy
import json
from pathlib import Path
from typing import Any

from django.utils import timezone

from agency.diagnostics.documents import KINDS, parse
from agency.diagnostics.form_definitions import definition_of
from agency.rulebook.shipped import effective_on, shipped_rules

from .conftest import browser_only

pytestmark = browser_only
EXAMPLES = sorted((Path(__file__).parent.parent / "examples").glob("*.json"))
HEAD = ("kind", "client_key", "job", "visit", "phase", "method", "taken_at", "operator", "app",
        "units", "setup", "cautions", "swaps", "fans")  # fmt: skip

ASSEMBLE = """async (cases) => {
    const {assembled, fansRead} = await import("/static/field/documents.js");
    return cases.map(({definition, draft}) => {
        const said = assembled(definition, draft);
        return {...said, fans: fansRead(said.values)};
    });
}"""


def definitions() -> dict[str, Any]:
    rules = list(effective_on(shipped_rules(), timezone.localdate()))
    return {kind: definition_of(kind, rules) for kind in KINDS}


def typed(value: Any, fields: list[dict[str, Any]]) -> Any:
    """Values of a document as someone types them: numbers as text, shares in per cent."""
    by_name = {one["name"]: one for one in fields}
    return {name: _typed(one, by_name[name]) for name, one in value.items() if name in by_name}


def _typed(value: Any, field: dict[str, Any]) -> Any:
    if value is None:
        return ""
    if field["type"] == "list":
        return [typed(one, field["fields"]) for one in value]
    if field["type"] == "group":
        return typed(value, field["fields"])
    if field["type"] == "numbers":
        return [repr(one) for one in value]
    if field["type"] == "number":
        return repr(round(value * 100, 9)) if field["quantity"] == "share" else repr(value)
    return value


def draft_of(data: dict[str, Any], definition: dict[str, Any]) -> dict[str, Any]:
    return {
        "kind": data["kind"],
        "method": data["method"],
        "units": data["units"],
        "reasons": {},
        "values": typed(data, definition["fields"]),
    }


def rounded(value: Any) -> Any:
    """The same with floats to twelve figures: a share typed in per cent may lose the last one."""
    if isinstance(value, dict):
        return {name: rounded(one) for name, one in value.items()}
    if isinstance(value, list):
        return [rounded(one) for one in value]
    return float(f"{value:.12g}") if isinstance(value, float) else value


def test_there_is_an_example_of_every_kind():
    assert {json.loads(one.read_text())["kind"] for one in EXAMPLES} == set(KINDS)


def test_each_example_comes_out_of_the_form_as_it_went_in(switch_on, live_server):
    page = switch_on()
    page.goto(f"{live_server.url}/field/")
    known = definitions()
    documents = [json.loads(one.read_text()) for one in EXAMPLES]
    cases = [
        {"definition": known[one["kind"]], "draft": draft_of(one, known[one["kind"]])}
        for one in documents
    ]
    for document, said in zip(documents, page.evaluate(ASSEMBLE, cases), strict=True):
        assert said["problems"] == [], document["kind"]
        rebuilt = {name: document[name] for name in HEAD if name in document} | said["values"]
        assert rounded(parse(rebuilt).model_dump()) == rounded(parse(document).model_dump())


def test_missing_required_reading_is_named(switch_on, live_server):
    page = switch_on()
    page.goto(f"{live_server.url}/field/")
    known = definitions()
    cases = []
    for one in EXAMPLES:
        data = json.loads(one.read_text())
        draft = draft_of(copy.deepcopy(data), known[data["kind"]])
        draft["values"] = {}
        cases.append({"definition": known[data["kind"]], "draft": draft})
    for case, said in zip(cases, page.evaluate(ASSEMBLE, cases), strict=True):
        kind = case["definition"]["kind"]
        required = [
            field["name"]
            for field in case["definition"]["fields"]
            if field["required"] and field["type"] not in {"group", "list"}
        ]
        named = {problem["path"] for problem in said["problems"]}
        assert set(required) <= named, kind
        assert said["problems"], kind


NUMBERS = [
    ("12.5", 12.5),
    ("-3.2", -3.2),
    ("\u22123.2", -3.2),
    (".5", 0.5),
    ("3,2", 3.2),
    ("0,125", 0.125),
    ("1,234.5", 1234.5),
    ("1,234,567", 1234567),
    (" 1 200 ", 1200),
    ("1,000", None),
    ("1.2.3", None),
    ("1e5", None),
    ("cold", None),
    ("-", None),
    ("NaN", None),
    ("Infinity", None),
]


def test_comma_is_a_decimal_comma_only_where_it_cannot_be_anything_else(switch_on, live_server):
    page = switch_on()
    page.goto(f"{live_server.url}/field/")
    said = page.evaluate(
        """async (all) => {
            const {readNumber} = await import("/static/field/words.js");
            return all.map(one => readNumber(one).value ?? null);
        }""",
        [text for text, _ in NUMBERS],
    )
    assert said == [value for _, value in NUMBERS]


def test_minus_three_point_two_takes_one_tap_beside_its_digits(switch_on, live_server):
    page = switch_on()
    page.goto(f"{live_server.url}/field/")
    turned = page.evaluate(
        """async () => {
            const {turnedSign} = await import("/static/field/words.js");
            return ["", "3.2", "-3.2", "\u22123.2", "+3.2"].map(turnedSign);
        }"""
    )
    assert turned == ["-", "-3.2", "3.2", "3.2", "-3.2"]
