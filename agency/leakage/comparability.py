"""Whether a test before the work and one after it measured the same thing, and with what shared.

A reason forbids the comparison; a remark goes beside it. What was not recorded is remarked on, not
taken for different.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from agency.leakage.power_law import ExponentSource

METHOD_REASON = (
    "The test before the work follows {before}, the one after it {after}. "
    "Compute both by one method."
)
DIRECTION_REASON = (
    "The test before the work is of {before}, the one after it of {after}. "
    "Compare tests of the same direction."
)
EXPONENT_REASON = (
    "The exponent is {before} before the work and {after} after it. Compute both in the same way."
)
SETUP_REASON = (
    "{item}: {before} before the work, {after} after it. "
    "Repeat the test with the house set up as before."
)
SETUP_REMARK = "{item} was not recorded {when} the work."
GAUGE_REMARK = "The gauge is not the same: its error does not cancel in the reduction."
FAN_REMARK = (
    "The fan or its configuration is not the same: its error does not cancel in the reduction."
)
UNKNOWN_REMARK = (
    "The {instrument} was not recorded for both tests: its error is taken not to cancel."
)
GEOMETRY_REMARK = (
    "{item} is {before:g} before the work and {after:g} after it. "
    "Compare flows, not figures that are divided by it."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What has to match between two tests."""

    method: str
    """Standard and edition the figures follow."""
    directions: frozenset[str]
    exponent_source: ExponentSource
    gauge: str | None
    """Serial number; None where it was not recorded."""
    fans: frozenset[str]
    """Serial numbers; empty where they were not recorded."""
    configurations: frozenset[str]
    geometry: Mapping[str, float | None]
    """Sizes by name, one unit each for both tests."""
    setup: Mapping[str, str]
    """Coded answers by question."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparability:
    """What stands between two tests. No reasons: they can be compared."""

    reasons: tuple[str, ...]
    remarks: tuple[str, ...]
    gauge_correlation: float
    """1 where the gauge's error is common to both tests, 0 where it is not or is not known."""
    fan_correlation: float
    """The same of the fans in their configurations."""

    @property
    def systematic_correlation(self) -> float:
        """1 where all instruments are common to both tests, otherwise 0."""
        return self.gauge_correlation * self.fan_correlation


def compare(*, before: Conditions, after: Conditions) -> Comparability:
    """What forbids comparing two tests, what to say beside it, and which errors they share.

    Parameters
    ----------
    before, after : Conditions
        The two tests.

    Returns
    -------
    Comparability
        Reasons and remarks in words, in a fixed order.

    References
    ----------
    .. [1] A different method, direction, fit or set-up changes more than the error of the
       instruments: programme abstracts of the AIVC (read); the rule itself is common practice.
    """
    reasons = [*_method_reasons(before, after), *_setup_reasons(before, after)]
    gauge, gauge_remark = _shared_gauge(before, after)
    fan, fan_remark = _shared_fan(before, after)
    remarks = [gauge_remark, fan_remark, *_geometry_remarks(before, after)]
    return Comparability(
        reasons=tuple(reasons),
        remarks=tuple(text for text in [*remarks, *_setup_remarks(before, after)] if text),
        gauge_correlation=float(gauge),
        fan_correlation=float(fan),
    )


def _method_reasons(before: Conditions, after: Conditions) -> list[str]:
    pairs = (
        (METHOD_REASON, before.method, after.method),
        (DIRECTION_REASON, _listed(before.directions), _listed(after.directions)),
        (
            EXPONENT_REASON,
            _in_words(before.exponent_source.value),
            _in_words(after.exponent_source.value),
        ),
    )
    return [text.format(before=old, after=new) for text, old, new in pairs if old != new]


def _setup_reasons(before: Conditions, after: Conditions) -> list[str]:
    return [
        SETUP_REASON.format(
            item=_title(item),
            before=_in_words(before.setup[item]),
            after=_in_words(after.setup[item]),
        )
        for item in sorted(before.setup.keys() & after.setup.keys())
        if before.setup[item] != after.setup[item]
    ]


def _setup_remarks(before: Conditions, after: Conditions) -> list[str]:
    remarks = []
    for item in sorted(before.setup.keys() ^ after.setup.keys()):
        when = "after" if item in before.setup else "before"
        remarks.append(SETUP_REMARK.format(item=_title(item), when=when))
    return remarks


def _geometry_remarks(before: Conditions, after: Conditions) -> list[str]:
    remarks = []
    for item in sorted(before.geometry.keys() & after.geometry.keys()):
        old, new = before.geometry[item], after.geometry[item]
        if old is not None and new is not None and old != new:
            remarks.append(GEOMETRY_REMARK.format(item=_title(item), before=old, after=new))
    return remarks


def _shared_gauge(before: Conditions, after: Conditions) -> tuple[bool, str]:
    if not before.gauge or not after.gauge:
        return False, UNKNOWN_REMARK.format(instrument="gauge")
    same = before.gauge == after.gauge
    return same, "" if same else GAUGE_REMARK


def _shared_fan(before: Conditions, after: Conditions) -> tuple[bool, str]:
    recorded = (before.fans, after.fans, before.configurations, after.configurations)
    if not all(recorded):
        return False, UNKNOWN_REMARK.format(instrument="fan")
    same = before.fans == after.fans and before.configurations == after.configurations
    return same, "" if same else FAN_REMARK


def _listed(directions: frozenset[str]) -> str:
    return " and ".join(sorted(directions))


def _in_words(code: str) -> str:
    return {"two_point": "of two points"}.get(code, code.replace("_", " "))


def _title(item: str) -> str:
    return item.replace("_", " ").capitalize()
