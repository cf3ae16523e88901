"""What a programme realized: two averages by hand, their ranges, and what cannot be told."""

import json

import pytest

from agency.estimates.bill_inputs import HomeSaving, LeftOut, RealizationInputs
from agency.estimates.bridge.realization import realize


def home(job, predicted, measured, fuel="natural_gas"):
    return HomeSaving(
        job=job, number=f"QC-{job}", fuel=fuel, predicted=predicted, measured=measured,
        low=measured - 2, high=measured + 2, estimate="e", analysis="a",
    )  # fmt: skip


HOMES = (home("1", 20.0, 15.0), home("2", 10.0, 10.0), home("3", 5.0, -1.0))


def inputs(*homes):
    left_out = (LeftOut(job="9", number="QC-9", fuel="natural_gas", reason="Added load."),)
    return RealizationInputs(
        program="QM-26-01", homes=homes, left_out=left_out, confidence=0.9, trials=1000
    )


def test_both_averages_by_hand():
    """24 / 35; (0.75 + 1 - 0.2) / 3."""
    group = realize(inputs(*HOMES))["figures"]["groups"]["all"]
    assert group["homes"] == 3
    assert group["ratio_of_sums"]["central"] == pytest.approx(24 / 35)
    assert group["mean_of_ratios"]["central"] == pytest.approx(1.55 / 3)
    for rate in (group["ratio_of_sums"], group["mean_of_ratios"]):
        assert rate["low"] < rate["central"] < rate["high"]


def test_home_of_two_fuels_counts_once_with_the_sum_of_both():
    """(15 + 3 + 10) / (20 + 4 + 10); two homes."""
    found = realize(inputs(HOMES[0], home("1", 4.0, 3.0, "electricity"), HOMES[1]))
    groups = found["figures"]["groups"]
    assert groups["all"]["homes"] == 2
    assert groups["all"]["ratio_of_sums"]["central"] == pytest.approx(28 / 34)
    assert groups["natural_gas"]["ratio_of_sums"]["central"] == pytest.approx(25 / 30)
    assert groups["electricity"] is None


def test_one_home_is_no_group():
    found = realize(inputs(HOMES[0]))
    assert found["figures"]["groups"]["all"] is None
    assert found["refusals"] == ["1 home may count; a rate with a range needs 2. Wait for more."]


def test_no_home_says_so():
    found = realize(inputs())
    assert found["figures"] == {}
    assert found["refusals"]


def test_row_is_plain_json_with_its_homes_and_hash():
    found = realize(inputs(*HOMES))
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert [one["job"] for one in found["inputs"]["homes"]] == ["1", "2", "3"]
    assert found["inputs"]["left_out"][0]["reason"] == "Added load."
    assert realize(inputs(*HOMES))["input_hash"] == found["input_hash"]
    assert realize(inputs(*HOMES[:2]))["input_hash"] != found["input_hash"]
