"""The check of gauge and hoses on a visit."""

import pytest

from .examples import KNOWN, bench, checks_of, evaluate, shown

VISIT = "5f0a6c1e-7a52-4d0b-9a53-0e1d5b6a0077"


def check(**changes):
    readings = {
        "visit": VISIT,
        "zeros": [{"channel": "A", "reading": 0.1}, {"channel": "B", "reading": -0.2}],
        "hoses": [
            {"hose": "outside", "start": 80.0, "end": 79.5, "seconds": 30.0},
            {"hose": "zone", "start": -75.0, "end": -74.0, "seconds": 60.0},
        ],
    }
    return bench("gauge_check", "zero_and_hoses", **{**readings, **changes})


def test_a_good_gauge_and_good_hoses():
    """Zero within 0.3 Pa and a fall below 1 Pa in 30 s: common practice, no source."""
    evaluation = evaluate(check(), instruments=KNOWN)
    assert (evaluation.answer, evaluation.verdict) == ("met", "valid")
    assert shown(evaluation)["Hose zone: fall in 30 s"]["value"] == pytest.approx(0.5)
    assert evaluation.figures["details"]["serial"] == "QM-G-03"


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"zeros": [{"channel": "A", "reading": -0.4}]}, "gauge-check.zero"),
        (
            {"hoses": [{"hose": "zone", "start": 60.0, "end": 58.9, "seconds": 30.0}]},
            "gauge-check.hose-fall",
        ),
        (
            {"hoses": [{"hose": "zone", "start": 10.0, "end": 10.0, "seconds": 30.0}]},
            "gauge-check.hose-start",
        ),
    ],
)
def test_what_does_not_hold_is_named(changes, code):
    evaluation = evaluate(check(**changes), instruments=KNOWN)
    assert evaluation.answer == "missed"
    assert "advisory" in {one["status"] for one in checks_of(evaluation, code)}


@pytest.mark.parametrize(
    "changes",
    [
        {"hoses": []},
        {"zeros": [{"channel": "A", "reading": None}]},
        {"hoses": [{"hose": "zone", "start": 60.0, "end": None, "seconds": 30.0}]},
    ],
)
def test_a_blank_is_never_a_pass(changes):
    assert evaluate(check(**changes), instruments=KNOWN).answer == "open"
