"""Text that is the same wherever it is made, and evidence that comes back as it was."""

import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.jobs.models import Job
from agency.reports.canonical import canonical_text, exact_text, revived, sha256
from agency.reports.evidence import Evidence, gather
from agency.reports.periods import Period


@dataclass(frozen=True)
class Reading:
    value: float | None
    on: date
    jobs: tuple[UUID, ...]


@given(st.floats(allow_nan=False, allow_infinity=False) | st.none())
def test_exact_text_brings_every_digit_back(value: float | None) -> None:
    reading = Reading(value=value, on=date(2026, 5, 12), jobs=(UUID(int=7),))
    assert revived(Reading, exact_text(reading)) == reading


def test_sum_in_another_order_has_the_same_canonical_text() -> None:
    """IEEE 754: 0.1 + 0.2 + 0.3 differs from 0.3 + 0.2 + 0.1 in the last bit."""
    one, other = 0.1 + 0.2 + 0.3, 0.3 + 0.2 + 0.1
    assert one != other
    assert exact_text(one) != exact_text(other)
    assert canonical_text(one) == canonical_text(other)


def test_names_are_sorted_and_nothing_is_spaced() -> None:
    assert canonical_text({"b": 1, "a": ["é", -0.0]}) == '{"a":["é",0.0],"b":1}'


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_no_number_is_refused(value: float) -> None:
    with pytest.raises(ValueError):
        canonical_text({"value": value})


def test_hash_is_that_of_the_standard() -> None:
    """FIPS 180-4, example "abc", from memory."""
    assert sha256("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_evidence_of_a_quarter_comes_back_whole(mixed_quarter: dict[str, Job]) -> None:
    evidence = gather(
        Period.parse("2026-Q2"),
        program=None,
        corrections=(),
        now=datetime(2026, 7, 2, tzinfo=UTC),
    )
    text = exact_text(evidence)
    assert revived(Evidence, text) == evidence
    assert exact_text(revived(Evidence, text)) == text


def test_evidence_names_nobody(mixed_quarter: dict[str, Job]) -> None:
    evidence = gather(
        Period.parse("2026-Q2"), program=None, corrections=(), now=datetime.now(tz=UTC)
    )
    plain: Any = json.loads(exact_text(evidence))
    text = json.dumps(plain)
    for job in mixed_quarter.values():
        assert job.client.name not in text
        assert job.house.address not in text
    assert {rule["code"] for rule in plain["rules"]} >= {"e779.points", "report.smallest_count"}
