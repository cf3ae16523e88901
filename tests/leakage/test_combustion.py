"""Net depressurization and carbon monoxide: worked values, decimals, blanks and clashes of rules.

Every limit here is a test's own; the rule book holds those that apply.
"""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from agency.leakage import combustion
from agency.leakage.combustion import ActionLevel, FlueReading, GasBasis
from agency.leakage.errors import LeakageError, OutOfRange
from agency.leakage.validity import Criterion, Status


def lower(limit, code="net", operator=">="):
    return Criterion(code=code, operator=operator, limit=limit, unit="Pa", rejects=True)


def upper(limit, code="co", operator="<="):
    return Criterion(code=code, operator=operator, limit=limit, unit="ppm", rejects=True)


def test_net_depressurization():
    """-6.1 less -1.3 is -4.8 exactly, which binary fractions are not."""
    found = combustion.net_depressurization(worst=-6.1, baseline=-1.3, resolution=0.1)
    assert found == -4.8


tenths = st.integers(min_value=-500, max_value=500)


@given(worst=tenths, baseline=tenths)
def test_net_depressurization_is_exact_in_tenths(worst, baseline):
    """Whole tenths, done in whole numbers."""
    found = combustion.net_depressurization(
        worst=worst / 10, baseline=baseline / 10, resolution=0.1
    )
    assert Decimal(str(found)) == Decimal(worst - baseline) / 10


def case(settings, baseline=-1.3):
    return combustion.worst_case(settings, baseline=baseline, resolution=0.1)


def test_the_most_negative_setting_is_the_worst():
    found = case({"fans on": -4.0, "fans and handler on": -6.1, "den door shut": -5.0})
    assert (found.setting, found.net, found.not_tested) == ("fans and handler on", -4.8, ())


def test_equality_passes():
    """-6.3 less -1.3 against -5 (ACCA 12 family, from memory)."""
    found = combustion.judge_worst_case(case({"fans on": -6.3}), limits=[lower(-5.0)])
    assert found.status is Status.PASS


def test_the_strictest_limit_holds_and_is_named():
    limits = [lower(-5.0, "programme"), lower(-2.0, "county"), lower(-15.0, "maker")]
    found = combustion.judge_worst_case(case({"fans on": -6.1}), limits=limits)
    assert found.status is Status.REJECT
    assert found.criterion.code == "county"


def test_a_setting_not_read_is_never_a_pass():
    unread = case({"fans on": -3.0, "handler on": None})
    assert unread.not_tested == ("handler on",)
    found = combustion.judge_worst_case(unread, limits=[lower(-5.0)])
    assert found.status is Status.NOT_VERIFIABLE


def test_a_failure_is_seen_though_a_setting_was_not_read():
    unread = case({"fans on": -9.0, "handler on": None})
    assert combustion.judge_worst_case(unread, limits=[lower(-5.0)]).status is Status.REJECT


def test_a_test_not_made_is_not_a_pass():
    found = combustion.judge_worst_case(None, limits=[lower(-5.0)])
    assert found.status is Status.NOT_VERIFIABLE


def test_a_reading_of_zero_is_a_reading():
    assert case({"fans on": 0.0}, baseline=0.0).net == 0


def test_no_reading_at_all_is_refused():
    with pytest.raises(LeakageError, match="at least one setting must be read"):
        case({"fans on": None})


def test_a_baseline_not_read_is_refused():
    with pytest.raises(LeakageError, match="Baseline pressure is not given"):
        case({"fans on": -4.0}, baseline=None)


def test_an_exclusive_limit_is_stricter_than_an_inclusive_one():
    both = [lower(-5.0, "inclusive"), lower(-5.0, "exclusive", ">")]
    assert combustion.strictest(both).code == "exclusive"
    assert combustion.strictest(both[::-1]).code == "exclusive"


limits = st.lists(st.integers(min_value=1, max_value=900), min_size=1, max_size=6)


@given(values=limits, reading=st.integers(min_value=0, max_value=1000))
def test_the_strictest_passes_what_all_pass(values, reading):
    """The definition, over every limit."""
    strict = combustion.strictest([upper(float(value), f"rule {value}") for value in values])
    assert (reading <= strict.limit) == all(reading <= value for value in values)


@pytest.mark.parametrize("criteria", [[], [lower(-5.0), upper(100.0)]])
def test_limits_that_cannot_be_compared_are_refused(criteria):
    with pytest.raises(LeakageError, match="imit"):
        combustion.strictest(criteria)


def air_free(co, oxygen, highest=20.0):
    return combustion.co_air_free(carbon_monoxide=co, oxygen=oxygen, highest_oxygen=highest)


def test_co_air_free():
    """80 ppm at 9 % oxygen: 80 x 20.9/11.9 = 140.504 ppm."""
    assert air_free(80.0, 9.0) == pytest.approx(140.504, abs=5e-4)


@given(co=st.floats(min_value=0, max_value=2000), air=st.floats(min_value=0, max_value=0.9))
def test_diluting_flue_gas_with_air_changes_nothing(co, air):
    """Gas without oxygen and with `co` ppm, of which a share is replaced by air; mass balance."""
    assert air_free(co * (1 - air), 20.9 * air) == pytest.approx(co, rel=1e-9)


def test_sensitivity_near_air():
    """At 18 % oxygen 0.2 % of it is 7 % of the figure: the uncertainties package, 3.2."""
    oracle = 50.0 * 20.9 / (20.9 - ufloat(18.0, 0.2))
    assert oracle.nominal_value == pytest.approx(air_free(50.0, 18.0))
    steps = air_free(50.0, [17.999, 18.001])
    assert (steps[1] - steps[0]) / 0.002 * 0.2 == pytest.approx(oracle.std_dev, rel=1e-5)


@pytest.mark.parametrize("oxygen", [20.0, 20.0001, 20.9, 25.0, -1.0, float("nan")])
def test_a_probe_in_air_is_refused(oxygen):
    with pytest.raises(OutOfRange, match="Oxygen is"):
        air_free(80.0, oxygen)


def test_a_rule_cannot_let_air_through():
    with pytest.raises(LeakageError, match="Move the probe"):
        air_free(80.0, 20.9, highest=20.9)


def flue(co, oxygen, basis, *values):
    return combustion.judge_flue(
        FlueReading(carbon_monoxide=co, oxygen=oxygen),
        basis=basis,
        limits=[upper(value) for value in values],
        highest_oxygen=20.0,
    )


def test_the_basis_decides():
    """150 ppm at 9 % is 263 ppm air-free: over a limit of 200, as measured it is not."""
    assert flue(150.0, 9.0, GasBasis.AIR_FREE, 200.0).status is Status.REJECT
    assert flue(150.0, 9.0, GasBasis.AS_MEASURED, 200.0).status is Status.PASS
    assert flue(150.0, 9.0, GasBasis.AIR_FREE, 400.0, 200.0).criterion.limit == 200


def test_no_oxygen_no_air_free_verdict():
    assert flue(50.0, None, GasBasis.AIR_FREE, 200.0).status is Status.NOT_VERIFIABLE
    assert flue(50.0, None, GasBasis.AS_MEASURED, 200.0).status is Status.PASS
    assert flue(None, 9.0, GasBasis.AIR_FREE, 200.0).status is Status.NOT_VERIFIABLE


def test_too_much_as_measured_is_too_much_air_free():
    """20.9/(20.9 - O2) is never less than 1: derived."""
    assert flue(250.0, None, GasBasis.AIR_FREE, 200.0).status is Status.REJECT
    assert flue(200.0, None, GasBasis.AIR_FREE, 200.0).status is Status.NOT_VERIFIABLE


# 35 from a 2005 training standard (read) and 70 (BPI-1200 and IRC Appendix D, from memory).
LEVELS = [
    ActionLevel(
        level=level, severity=severity, action=action, is_above_outdoor=True, source="see above"
    )
    for level, severity, action in ((9, 1, "advise"), (35, 2, "stop"), (70, 3, "leave"))
]


@pytest.mark.parametrize(
    ("indoor", "outdoor", "action"),
    [(8.0, 0.0, None), (9.0, 0.0, "advise"), (40.0, 2.0, "stop"), (35.3, 0.3, "stop"),
     (36.0, 2.0, "advise"), (71.0, None, "leave"), (0.0, 3.0, None)],
)  # fmt: skip
def test_action(indoor, outdoor, action):
    """35.3 less 0.3 reaches 35, in decimals; without an outdoor reading all of it counts."""
    found = combustion.ambient_action(indoor=indoor, outdoor=outdoor, levels=LEVELS)
    assert (found and found.action) == action


def test_clashing_rules_give_the_graver_action():
    stricter = ActionLevel(
        level=30, severity=3, action="leave", is_above_outdoor=False, source="a county's own"
    )
    found = combustion.ambient_action(indoor=36.0, outdoor=0.0, levels=[*LEVELS, stricter])
    assert found is stricter


def test_no_reading_in_the_room_is_not_a_reading_of_zero():
    with pytest.raises(LeakageError, match="Carbon monoxide in the room is not given"):
        combustion.ambient_action(indoor=None, outdoor=0.0, levels=LEVELS)
    with pytest.raises(LeakageError, match="Action level is not given"):
        combustion.ambient_action(indoor=5.0, outdoor=0.0, levels=[])


def test_the_caution_defers():
    for words in ("Local code", "licensed practitioner", "stricter rule"):
        assert words in combustion.CAUTION
