"""Register flows from the hood's readings to sums and verdicts."""

import json
from pathlib import Path

import pytest

from .examples import bench, checks_of, evaluate, shown
from .wrong_numbers import assert_every_number_may_be_wrong

CFM = 0.3048**3 / 60
EXAMPLE = Path(__file__).parent.parent / "examples" / "register_flows.json"


def registers(*flows, method="powered_hood", design=100.0):
    return bench(
        "register_flows",
        method,
        registers=[
            {"name": f"Room {number}", "side": "supply", "flow": flow, "design_flow": design}
            for number, flow in enumerate(flows)
        ],
    )


def test_the_sum_and_its_interval():
    """JCGM 100:2008, 5.2.2, from memory: 100 + 100 cfm, 6 % shared by the powered hood (read in a
    field study's abstract), 3 % of each reading: u = sqrt(12² + 3² + 3²) = 12.728."""
    figure = shown(evaluate(registers(100.0, 100.0)))["All supply registers"]
    assert figure["value"] / CFM == pytest.approx(200)
    assert (figure["high"] - figure["low"]) / CFM / 2 / 1.959964 == pytest.approx(12.728, abs=5e-4)


def test_a_hood_without_a_fan_is_less_sure():
    powered, plain = (
        shown(evaluate(registers(100.0, method=method)))["All supply registers"]
        for method in ("powered_hood", "capture_hood")
    )
    assert plain["high"] - plain["low"] > 2 * (powered["high"] - powered["low"])


@pytest.mark.parametrize(
    ("flow", "answer"), [(80.0, "met"), (79.9, "missed"), (120.0, "met"), (120.1, "missed")]
)
def test_twenty_per_cent_of_design(flow, answer):
    """Within 20 % of the design flow, ends included: common practice, no source."""
    assert evaluate(registers(flow)).answer == answer


def test_a_blank_register_leaves_no_sum_and_no_pass_and_zero_is_a_reading():
    evaluation = evaluate(registers(100.0, None))
    assert evaluation.answer == "open"
    assert shown(evaluation)["All supply registers"]["value"] is None
    assert checks_of(evaluation, "registers.share-of-design")[1]["field"] == "registers[1].flow"
    assert evaluate(registers(100.0, 0.0)).answer == "missed"


def test_without_a_design_flow_there_is_a_figure_and_no_verdict():
    assert evaluate(registers(100.0, design=None)).answer == "found"


def test_a_negative_flow_is_refused_in_words():
    evaluation = evaluate(registers(-5.0))
    assert evaluation.verdict == "not_computed"
    assert "Flow of a register" in checks_of(evaluation, "reading.refused")[0]["message"]


def test_any_number_may_be_wrong():
    assert_every_number_may_be_wrong(json.loads(EXAMPLE.read_text()))
