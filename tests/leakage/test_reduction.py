"""Reduction of one house and of a group against `uncertainties`, simulation and algebra."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from agency.leakage.errors import LeakageError
from agency.leakage.group import GroupTests, group_reduction
from agency.leakage.line import NORMAL_QUANTILE
from agency.leakage.reduction import ErrorPart, Verdict, reduction

DETECTABLE = 1.645
"""One-sided 95 % quantile of the normal distribution. [-]"""
SHARED = [
    ErrorPart(name="instruments", before=0.05, after=0.05, correlation=1.0),
    ErrorPart(name="scatter", before=0.02, after=0.02, correlation=0.0),
]
INDEPENDENT = [ErrorPart(name="all", before=0.05385, after=0.05385, correlation=0.0)]


def reduce(before, after, parts=SHARED, reasons=()):
    """A reduction with the usual factor."""
    return reduction(
        before=before, after=after, parts=parts, detectable_factor=DETECTABLE, reasons=reasons
    )


# Parts, u(D), u(R) in points: 3000 to 2100 cfm, with common instruments and without (derived, and
# by the `uncertainties` package).
WORKED = [(SHARED, 85.96, 1.980), (INDEPENDENT, 197.2, 5.331)]


@pytest.mark.parametrize(("parts", "u_difference", "u_percent"), WORKED)
def test_worked_reduction(parts, u_difference, u_percent):
    """Half the last digit given."""
    got = reduce(3000, 2100, parts)
    assert got.difference.value == 900
    assert got.share.value == pytest.approx(0.30, rel=1e-12)
    assert got.difference.uncertainty == pytest.approx(u_difference, abs=0.05)
    assert 100 * got.share.uncertainty == pytest.approx(u_percent, abs=5e-4)


def test_worked_reduction_by_simulation():
    """JCGM 101, 1e6 trials of true (1 + s) (1 + r): 95 % from 26.0 to 33.8 %."""
    rng = np.random.default_rng(1)
    common = 1 + 0.05 * rng.standard_normal(1_000_000)
    before, after = (q * common * (1 + 0.02 * rng.standard_normal(1_000_000)) for q in (3000, 2100))
    got = reduce(3000, 2100)
    assert got.difference.uncertainty == pytest.approx((before - after).std(), rel=3e-3)
    low, high = np.percentile(1 - after / before, [2.5, 97.5])
    assert (got.share.low, got.share.high) == pytest.approx((low, high), abs=1e-3)
    assert (got.share.low, got.share.high) == pytest.approx((0.260, 0.338), abs=5e-4)


@given(
    before=st.floats(100, 10_000),
    after=st.floats(100, 10_000),
    u_common=st.floats(0.001, 0.2),
    u_before=st.floats(0.001, 0.2),
    u_after=st.floats(0.001, 0.2),
)
def test_reduction_agrees_with_uncertainties(before, after, u_common, u_before, u_after):
    """First-order propagation with a common factor."""
    common = ufloat(1, u_common)
    a, b = before * common * ufloat(1, u_before), after * common * ufloat(1, u_after)
    parts = [
        ErrorPart(name="fan", before=u_common, after=u_common, correlation=1.0),
        ErrorPart(name="scatter", before=u_before, after=u_after, correlation=0.0),
    ]
    got = reduce(before, after, parts)
    assert got.difference.uncertainty == pytest.approx((a - b).std_dev, rel=1e-9)
    assert got.share.uncertainty == pytest.approx((1 - b / a).std_dev, rel=1e-9)


def test_common_error_cancels_in_the_share_alone():
    """A 5 % instrument and nothing else (algebra)."""
    got = reduce(3000, 2100, SHARED[:1])
    assert got.share.uncertainty == 0
    assert got.difference.uncertainty == pytest.approx(0.05 * 900, rel=1e-12)


# Before, after, parts, verdict; with shared instruments u(R) is 0.02 * sqrt(2) * B/A.
VERDICTS = [
    # R / u(R) is 1.86 and 1.35, on either side of the factor (by hand).
    (3000, 2850, SHARED, Verdict.DETECTABLE),
    (3000, 2890, SHARED, Verdict.NOT_DETECTABLE),
    (3000, 2100, SHARED, Verdict.DETECTABLE),
    (3000, 2950, SHARED, Verdict.NOT_DETECTABLE),
    (3000, 2850, INDEPENDENT, Verdict.NOT_DETECTABLE),
    (3000, 3000, [], Verdict.NOT_DETECTABLE),
]


@pytest.mark.parametrize(("before", "after", "parts", "verdict"), VERDICTS)
def test_verdict(before, after, parts, verdict):
    """R against 1.645 u(R)."""
    assert reduce(before, after, parts).verdict == verdict


def test_leakier_house_keeps_its_negative_reduction():
    """Nothing is clipped."""
    got = reduce(2000, 2600)
    assert got.share.value == pytest.approx(-0.30)
    assert got.share.low < got.share.value < got.share.high < 0
    assert got.verdict is Verdict.NOT_DETECTABLE


def test_reasons_forbid_the_verdict_but_keep_the_figures():
    """They are shown beside it."""
    got = reduce(3000, 2100, reasons=["The direction is not the same."])
    assert got.verdict is Verdict.NOT_COMPARABLE
    assert got.reasons == ("The direction is not the same.",)
    assert got.share.value == pytest.approx(0.30)


REFUSED = [
    ((0, 2100, SHARED), "Flow before the work is 0; it must be more than 0"),
    ((3000, float("nan"), SHARED), "Flow after the work"),
    (
        (1, 1, [ErrorPart(name="fan", before=-0.1, after=0.1, correlation=0)]),
        "Standard uncertainty of fan is -0.1; it must be 0 or more",
    ),
    (
        (1, 1, [ErrorPart(name="fan", before=0.1, after=0.1, correlation=1.5)]),
        "Correlation of fan is 1.5; it must be from -1 to 1",
    ),
]


@pytest.mark.parametrize(("arguments", "text"), REFUSED)
def test_refused_in_words(arguments, text):
    """Field, value and limit."""
    with pytest.raises(LeakageError, match=text):
        reduce(*arguments)


def group(before, after, *, random=0.02, systematic=0.05, instruments=("a",), after_with=None):
    """Houses tested with the instruments named, before and after alike unless said."""
    old = GroupTests(flow=before, random=random, systematic=systematic, instruments=instruments)
    new = GroupTests(
        flow=after, random=random, systematic=systematic, instruments=after_with or instruments
    )
    return group_reduction(before=old, after=new, percentiles=[25, 50, 75])


def test_group_of_one_is_the_reduction_of_the_house():
    """Same instruments before and after."""
    one, alone = group([3000], [2100]), reduce(3000, 2100)
    for figure, expected in (
        (one.difference, alone.difference),
        (one.pooled_share, alone.share),
        (one.mean_share, alone.share),
    ):
        assert figure.value == pytest.approx(expected.value, rel=1e-12)
        assert figure.uncertainty == pytest.approx(expected.uncertainty, rel=1e-12)
    assert one.percentiles == pytest.approx({25: 0.30, 50: 0.30, 75: 0.30})


def test_group_with_another_instrument_after_the_work():
    """The common part no longer cancels."""
    one = group([3000], [2100], after_with=["b"])
    expected = reduce(3000, 2100, INDEPENDENT)
    assert one.pooled_share.uncertainty == pytest.approx(expected.share.uncertainty, rel=1e-4)


def test_group_agrees_with_uncertainties():
    """Five houses, two instruments, one of them changed between the tests."""
    before, after = [3000, 2500, 1800, 4000, 2200], [2100, 2300, 1500, 2600, 2250]
    first, second = list("aabba"), list("abbba")
    bias = {name: ufloat(1, 0.05) for name in "ab"}
    old = [q * bias[k] * ufloat(1, 0.02) for q, k in zip(before, first, strict=True)]
    new = [q * bias[k] * ufloat(1, 0.02) for q, k in zip(after, second, strict=True)]
    got = group(before, after, instruments=first, after_with=second)
    pairs = list(zip(old, new, strict=True))
    for figure, oracle in (
        (got.difference, sum(old) - sum(new)),
        (got.pooled_share, 1 - sum(new) / sum(old)),
        (got.mean_share, sum(1 - b / a for a, b in pairs) / 5),
    ):
        assert figure.value == pytest.approx(oracle.nominal_value, rel=1e-12)
        assert figure.uncertainty == pytest.approx(oracle.std_dev, rel=1e-9)
        assert figure.high - figure.value == pytest.approx(NORMAL_QUANTILE * figure.uncertainty)


def test_shared_instrument_does_not_average_out():
    """A hundred houses with one fan keep its 5 % on the sum; with a hundred fans it is 0.5 %."""
    houses = np.full(100, 3000.0)
    same = group(houses, 0.7 * houses, random=0.0, instruments=["a"] * 100)
    many = group(houses, 0.7 * houses, random=0.0, instruments=[f"fan {i}" for i in range(100)])
    assert same.difference.uncertainty / same.difference.value == pytest.approx(0.05, rel=1e-9)
    assert many.difference.uncertainty / many.difference.value == pytest.approx(0.005, rel=1e-9)


def test_percentiles_are_linear_between_houses():
    """Shares 0, 10, 20, 30 % : quartiles 7.5, 15 and 22.5 % (by hand)."""
    got = group([100.0] * 4, [100, 90, 80, 70], instruments=["a"] * 4)
    assert got.percentiles == pytest.approx({25: 0.075, 50: 0.15, 75: 0.225})


GROUPS_REFUSED = [
    ([], [], [], "Number of houses is 0; it must be at least 1"),
    ([3000, 2000], [1000], ["a", "a"], "One test before|one test before"),
    ([3000, -1], [1000, 1000], ["a", "a"], "Flow before the work is -1"),
]


@pytest.mark.parametrize(("before", "after", "instruments", "text"), GROUPS_REFUSED)
def test_group_refused_in_words(before, after, instruments, text):
    """Field, value, limit and next step."""
    with pytest.raises(LeakageError, match=text):
        group(before, after, instruments=instruments)
