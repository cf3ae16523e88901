"""Spillage and draft of a vented appliance, and what all checks of its zone say together.

A screening aid, as `combustion`: limits come in, a blank is never a pass, and local code, the
fuel supplier and a licensed practitioner decide.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.combustion import strictest
from agency.leakage.errors import LeakageError, OutOfRange
from agency.leakage.ranges import Array
from agency.leakage.refusals import at_least, finite, single
from agency.leakage.validity import Criterion, Status, Verdict, judge

GRAVITY = (Status.PASS, Status.ADVISORY, Status.NOT_VERIFIABLE, Status.REJECT)
"""From the lightest to the gravest: what was not seen weighs more than an advisory miss."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpillageTest:
    """What was seen at the draft hood after the burner came on."""

    watched: float
    """How long it was watched. [s]"""
    cleared_after: float | None
    """When spillage ended, 0 where there was none; None where it had not ended. [s]"""


def judge_spillage(test: SpillageTest | None, *, limits: Sequence[Criterion]) -> Verdict:
    """Whether spillage ended in the time allowed.

    Parameters
    ----------
    test : SpillageTest or None
        None where the appliance was not tested. Spillage that had not ended counts as lasting as
        long as it was watched: a miss if that is beyond the limit, else not verifiable.
    limits : sequence of Criterion
        Upper limits for an appliance and a vent in this state, warm or cold. [s]

    Raises
    ------
    OutOfRange
        Ended after the watching ended.

    References
    ----------
    .. [1] BPI-1200, NFPA 54 and IFGC (from memory); times differ and come in as criteria.
    """
    limit = strictest(limits)
    if test is None:
        return judge(None, limit)
    watched = float(at_least("Time watched", test.watched, low=0, unit="s"))
    if test.cleared_after is not None:
        ended = float(at_least("End of spillage", test.cleared_after, low=0, unit="s"))
        if ended > watched:
            raise OutOfRange(
                quantity="End of spillage",
                value=ended,
                unit="s",
                limit=f"at most the {watched:g} s it was watched,",
                next_step="Correct one of the two times.",
            )
        return judge(ended, limit)
    verdict = judge(watched, limit)
    # At the limit itself it had still not ended, so the time it took is longer.
    if verdict.status is Status.PASS and watched < single(limit.code, limit.limit, unit="s"):
        return Verdict(
            status=Status.NOT_VERIFIABLE, measured=None, limit=verdict.limit, criterion=limit
        )
    status = Status.REJECT if limit.rejects else Status.ADVISORY
    return Verdict(status=status, measured=watched, limit=verdict.limit, criterion=limit)


def draft_limit(outdoor_temperature: ArrayLike, *, table: Sequence[tuple[float, float]]) -> Array:
    """Draft asked for at an outdoor temperature, linear between the corners of a rule's table.

    Parameters
    ----------
    outdoor_temperature : array_like
        In the unit of the table, shape (...).
    table : sequence of (temperature, draft)
        Corners by rising temperature, at least one; beyond the ends the end's draft holds, as
        such tables say. [degF or degC], [Pa]

    Returns
    -------
    ndarray
        Vent less zone, below 0, shape (...). [Pa]

    Raises
    ------
    LeakageError
        No table, or temperatures that do not rise.

    References
    ----------
    .. [1] BPI technical standards before BPI-1200, minimum draft (from memory); the corners come
       in from the rule book.
    """
    corners = np.asarray(table, dtype=np.float64)
    rises = corners.ndim == 2 and corners.shape[1] == 2 and np.all(np.diff(corners[:, 0]) > 0)
    if not rises or not np.all(np.isfinite(corners)):
        raise LeakageError(
            "Table of drafts must hold pairs of temperature and draft by rising temperature. "
            "Correct the rule book."
        )
    at = finite("Outdoor temperature", outdoor_temperature, unit="")
    return np.asarray(np.interp(at, corners[:, 0], corners[:, 1]))


def judge_zone(verdicts: Mapping[str, Verdict], *, hazards: Mapping[str, bool | None]) -> Status:
    """The gravest of all that was found; a pass only where everything was looked at and passed.

    Parameters
    ----------
    verdicts : mapping of str to Verdict
        Depressurization, spillage, carbon monoxide, draft: those the programme asks for.
    hazards : mapping of str to bool or None
        Flame roll-out, soot, gas leak, blocked vent and the like: True where seen, False where
        looked for and not seen, None where not looked for. No number overrides one.

    Returns
    -------
    Status
        Not verifiable where nothing at all was given.

    Notes
    -----
    Screening aid: local code, the fuel supplier and a licensed practitioner decide.
    """
    found = [one.status for one in verdicts.values()]
    found += [
        Status.NOT_VERIFIABLE if seen is None else Status.REJECT if seen else Status.PASS
        for seen in hazards.values()
    ]
    if not verdicts or not hazards:
        found.append(Status.NOT_VERIFIABLE)
    return max(found, key=GRAVITY.index)
