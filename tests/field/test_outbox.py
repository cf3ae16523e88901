"""Rules of the queue alone: an entry leaves it by a 2xx of its own and by nothing else."""

import pytest

from .conftest import browser_only

pytestmark = browser_only

RUN = """async ({call, args}) => {
    const outbox = await import("/static/field/outbox.js");
    return outbox[call](...args);
}"""


@pytest.fixture
def outbox(switch_on, live_server):
    """`outbox(name, *args)` calls one rule of the queue."""
    page = switch_on()
    page.goto(f"{live_server.url}/field/")
    return lambda call, *args: page.evaluate(RUN, {"call": call, "args": args})


def entry(key, **changes):
    return {
        "key": key, "sort": "run", "state": "waiting", "made_at": 0, "size": 0, "problems": [],
        "body": {"client_key": key, "note": "Call Odalys", "operator": "Casimir"}, "title": "Test",
        "place": "12 Larkspur Lane", "draft": {"values": {"note": "x", "zone": "Attic"}},
    } | changes  # fmt: skip


def stored(key, status=201):
    return {"http_status": status, "answer": {"client_key": key, "status": "stored", "id": key}}


def states(entries):
    return {one["key"]: one["state"] for one in entries}


def test_answers_are_matched_by_key_not_by_place(outbox):
    batch = [entry("a"), entry("b"), entry("c")]
    body = {"answers": [stored("c"), stored("x"), stored("a")]}
    said = outbox("batchAnswered", batch, {"status": 200, "body": body, "now": 5})
    assert states(said) == {"a": "sent", "b": "waiting", "c": "sent"}


@pytest.mark.parametrize("status", [0, 302, 401, 408, 425, 429, 500, 502, 503])
def test_doubt_leaves_everything_waiting(outbox, status):
    batch = [entry("a"), entry("b")]
    said = outbox("batchAnswered", batch, {"status": status, "body": None, "now": 5})
    assert states(said) == {"a": "waiting", "b": "waiting"}
    assert [one["body"] for one in said] == [one["body"] for one in batch]


@pytest.mark.parametrize("status", [400, 409, 413, 422])
def test_refusal_keeps_the_record_and_its_reasons(outbox, status):
    reasons = {"errors": [{"field": "zone", "message": "The zone is missing."}]}
    said = outbox("answered", entry("a"), {"status": status, "body": reasons, "now": 5})
    assert (said["state"], said["problems"]) == ("refused", reasons["errors"])
    assert said["body"]
    assert said["draft"]


def test_refusal_without_words_still_says_something(outbox):
    said = outbox("answered", entry("a"), {"status": 400, "body": None, "now": 5})
    assert said["problems"][0]["message"]


def test_sent_entry_keeps_no_readings(outbox):
    said = outbox("answered", entry("a"), {"status": 201, "body": {"id": "1"}, "now": 5})
    assert (said["state"], said["body"], said["draft"]) == ("sent", None, None)


def test_batch_holds_fifty_at_most_and_the_oldest_first(outbox):
    entries = [entry(str(number), made_at=100 - number) for number in range(60)]
    batch = outbox("nextBatch", entries)
    assert len(batch) == 50
    assert [one["made_at"] for one in batch] == sorted(one["made_at"] for one in entries)[:50]


def test_batch_stays_within_what_the_server_reads(outbox):
    entries = [entry(str(number), body={"note": "x" * 400_000}) for number in range(5)]
    assert len(outbox("nextBatch", entries)) == 2
    assert len(outbox("nextBatch", [entry("a", body={"note": "x" * 3_000_000})])) == 1


def test_words_go_before_pictures_and_small_pictures_first(outbox):
    entries = [
        entry("large", sort="photo", size=600_000),
        entry("small", sort="photo", size=90_000),
        entry("report", sort="report"),
        entry("read", sort="acknowledgement"),
        entry("run"),
    ]
    order = [one["key"] for one in outbox("oneByOne", entries)]
    assert order == ["read", "report", "small", "large"]


def test_what_was_being_sent_when_the_phone_died_waits_again(outbox):
    said = outbox("recovered", [entry("a", state="sending"), entry("b", state="sent")])
    assert states(said) == {"a": "waiting", "b": "sent"}


def test_parked_entry_keeps_readings_and_no_names(outbox):
    said = outbox("parked", entry("a"))
    assert said["state"] == "parked"
    assert (said["body"]["note"], said["body"]["operator"], said["place"]) == ("", "", "")
    assert said["body"]["client_key"] == "a"
    assert said["draft"]["values"] == {"note": "", "zone": "Attic"}
    assert outbox("parked", entry("b", state="sent")) is None


def test_line_says_what_waits_in_words(outbox):
    moment = {"lastSent": None, "offline": False, "paired": True, "ask": None}
    assert outbox("syncLine", [], moment) == "Nothing to send yet"
    assert outbox("syncLine", [entry("a"), entry("b", state="sending")], moment) == "2 waiting"
    said = outbox("syncLine", [entry("a", state="refused")], moment | {"offline": True})
    assert said == "1 sent back, no signal"
    assert outbox("syncLine", [], moment | {"lastSent": 1}).startswith("All sent, last sent ")
