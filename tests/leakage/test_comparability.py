"""What forbids comparing two tests, what is remarked, and which errors they share."""

from dataclasses import replace

import pytest

from agency.leakage.comparability import Conditions, compare
from agency.leakage.power_law import ExponentSource

BEFORE = Conditions(
    method="ASTM E779-19",
    directions=frozenset({"depressurization"}),
    exponent_source=ExponentSource.FITTED,
    gauge="G-0101",
    fans=frozenset({"F-0107"}),
    configurations=frozenset({"open", "wide"}),
    geometry={"floor_area": 150.0, "volume": 375.0},
    setup={"interior_doors": "open", "attic_hatch": "closed"},
)

# Change of the test after the work, and what the reason must say.
FORBIDDEN = [
    ({"method": "ISO 9972:2015"}, "follows ASTM E779-19, the one after it ISO 9972:2015"),
    ({"directions": frozenset({"pressurization"})}, "of depressurization, the one after it of pre"),
    (
        {"directions": frozenset({"pressurization", "depressurization"})},
        "depressurization and pressurization",
    ),
    ({"exponent_source": ExponentSource.ASSUMED}, "fitted before the work and assumed after"),
    ({"exponent_source": ExponentSource.TWO_POINT}, "of two points after"),
    (
        {"setup": {"interior_doors": "closed", "attic_hatch": "closed"}},
        "Interior doors: open before the work, closed after it",
    ),
]

# Change, remark, correlation of gauge and of fan.
REMARKED = [
    ({"gauge": "G-0102"}, "The gauge is not the same", 0, 1),
    ({"gauge": None}, "The gauge was not recorded for both", 0, 1),
    ({"fans": frozenset({"F-0108"})}, "The fan or its configuration is not the same", 1, 0),
    ({"fans": frozenset()}, "The fan was not recorded for both", 1, 0),
    ({"configurations": frozenset({"narrow"})}, "The fan or its configuration", 1, 0),
    ({"geometry": {"floor_area": 170.0, "volume": 375.0}}, "Floor area is 150 before", 1, 1),
    ({"setup": {"interior_doors": "open"}}, "Attic hatch was not recorded after the work", 1, 1),
    ({"setup": {**BEFORE.setup, "damper": "shut"}}, "Damper was not recorded before", 1, 1),
]


def test_same_conditions_share_everything():
    """Nothing to say."""
    found = compare(before=BEFORE, after=BEFORE)
    assert (found.reasons, found.remarks) == ((), ())
    assert found.systematic_correlation == 1


@pytest.mark.parametrize(("change", "text"), FORBIDDEN)
def test_forbidden(change, text):
    """One reason, in words, with what to do."""
    found = compare(before=BEFORE, after=replace(BEFORE, **change))
    assert len(found.reasons) == 1
    assert text in found.reasons[0]
    assert found.reasons[0].count(". ") == 1


@pytest.mark.parametrize(("change", "text", "gauge", "fan"), REMARKED)
def test_remarked(change, text, gauge, fan):
    """Comparable; the error that is no longer shared does not cancel."""
    found = compare(before=BEFORE, after=replace(BEFORE, **change))
    assert found.reasons == ()
    assert len(found.remarks) == 1
    assert text in found.remarks[0]
    assert (found.gauge_correlation, found.fan_correlation) == (gauge, fan)
    assert found.systematic_correlation == gauge * fan


def test_size_unknown_on_one_side_is_no_change():
    """None is not measured."""
    after = replace(BEFORE, geometry={"floor_area": None})
    assert compare(before=BEFORE, after=after).remarks == ()


def test_every_reason_is_listed():
    """Not only the first."""
    after = replace(BEFORE, method="ISO 9972:2015", setup={"interior_doors": "closed"})
    found = compare(before=BEFORE, after=after)
    assert len(found.reasons) == 2
    assert len(found.remarks) == 1
