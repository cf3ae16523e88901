"""Combustion appliance zone: net depressurization, carbon monoxide, spillage and draft.

A screening aid. Limits come in as criteria with their source; of several the strictest holds, and
what was not read is never a pass. Local code, the fuel supplier and a licensed practitioner
decide; a number that passes never overrides flame roll-out, soot, a gas leak or a blocked vent.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import LeakageError, OutOfRange
from agency.leakage.ranges import Array, within
from agency.leakage.refusals import at_least, finite, single
from agency.leakage.validity import Criterion, Status, Verdict, judge

CAUTION = (
    "Screening aid. Local code, the fuel supplier and a licensed practitioner decide. "
    "The stricter rule applies."
)
"""To be shown beside every figure of this file."""
OXYGEN_IN_AIR = 20.9
"""[%]  By volume, dry air; NFPA 54 annex, from memory."""


def strictest(criteria: Sequence[Criterion]) -> Criterion:
    """The one that the fewest readings pass.

    Parameters
    ----------
    criteria : sequence of Criterion
        For one quantity: all bound it above, or all below; the same unit.

    Returns
    -------
    Criterion
        With its own code, so that the source can be shown.

    Raises
    ------
    LeakageError
        None at all, or criteria that cannot be compared.
    """
    if not criteria:
        raise LeakageError(
            "Limit is not given; at least one must apply. Enter the limit of the programme or of "
            "local code in the rule book before judging the reading."
        )
    upper = all(one.operator in {"<", "<="} for one in criteria)
    lower = all(one.operator in {">", ">="} for one in criteria)
    if not (upper or lower) or len({one.unit for one in criteria}) > 1:
        raise LeakageError(
            f"Limits {', '.join(one.code for one in criteria)} must all be upper or all be lower "
            "limits in one unit. Correct the rule book."
        )

    def severity(one: Criterion) -> tuple[float, bool]:
        limit = single(f"Limit of {one.code}", one.limit, unit=one.unit)
        return (-limit if upper else limit, one.operator in {"<", ">"})

    return max(criteria, key=severity)


def net_depressurization(*, worst: float, baseline: float, resolution: float) -> float:
    r"""Pressure the fans alone make in the zone, rounded as the gauge reads.

    .. math:: p_{net} = p_{worst} - p_{baseline}

    Parameters
    ----------
    worst, baseline : float
        Zone less outside, signed, in the worst case and with everything off. [Pa]
    resolution : float
        What the gauge shows; the difference is rounded to it in decimals, halves away from 0, so
        that equality with a limit can be told. [Pa]

    Returns
    -------
    float
        Below 0 when the zone is depressurized. [Pa]

    Notes
    -----
    Screening aid: local code and a licensed practitioner decide.

    References
    ----------
    .. [1] BPI Building Analyst procedure, combustion safety (read: two summaries).
    """
    readings = (
        single("Worst-case pressure", worst, unit="Pa"),
        single("Baseline pressure", baseline, unit="Pa"),
    )
    step = Decimal(str(float(at_least("Resolution", resolution, low=1e-6, unit="Pa"))))
    exact = Decimal(str(readings[0])) - Decimal(str(readings[1]))
    return float((exact / step).quantize(Decimal(1), rounding=ROUND_HALF_UP) * step)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorstCase:
    """The setting of fans and doors that depressurizes the zone most."""

    setting: str
    pressure: float
    """[Pa]"""
    net: float
    """[Pa]"""
    not_tested: tuple[str, ...]
    """Settings without a reading: the true worst case may be one of them."""


def worst_case(
    settings: Mapping[str, float | None], *, baseline: float, resolution: float
) -> WorstCase:
    """The most negative of the readings, against the baseline.

    Parameters
    ----------
    settings : mapping of str to float or None
        Zone less outside by setting ("handler on, den door shut"); None where not read. [Pa]
    baseline, resolution : float
        As for `net_depressurization`. [Pa]

    Raises
    ------
    LeakageError
        Not one reading.
    """
    read = {
        name: single(f"Pressure with {name}", value, unit="Pa")
        for name, value in settings.items()
        if value is not None
    }
    if not read:
        raise LeakageError(
            "Worst-case pressure is not given; at least one setting must be read. Run the exhaust "
            "fans and read the zone against outside."
        )
    setting = min(read, key=lambda name: read[name])
    return WorstCase(
        setting=setting,
        pressure=read[setting],
        net=net_depressurization(worst=read[setting], baseline=baseline, resolution=resolution),
        not_tested=tuple(name for name, value in settings.items() if value is None),
    )


def judge_worst_case(case: WorstCase | None, *, limits: Sequence[Criterion]) -> Verdict:
    """Net depressurization against the strictest limit.

    Parameters
    ----------
    case : WorstCase or None
        None where the test was not made. A setting without a reading keeps a pass from being
        given; it does not keep a failure from being seen.
    limits : sequence of Criterion
        Lower limits ("net at least -5 Pa"). [Pa]

    References
    ----------
    .. [1] Limits differ by programme and appliance; equality passes (common practice, no source).
    """
    limit = strictest(limits)
    verdict = judge(None if case is None else case.net, limit)
    if case is None or not case.not_tested or verdict.status is not Status.PASS:
        return verdict
    return Verdict(
        status=Status.NOT_VERIFIABLE, measured=case.net, limit=verdict.limit, criterion=limit
    )


def co_air_free(*, carbon_monoxide: ArrayLike, oxygen: ArrayLike, highest_oxygen: float) -> Array:
    r"""Carbon monoxide as it would be without the excess air in the flue gas.

    .. math:: CO_{af} = CO \frac{20.9}{20.9 - O_2}

    Parameters
    ----------
    carbon_monoxide : array_like
        As measured in undiluted flue gas, not negative, shape (...). [ppm]
    oxygen : array_like
        In the same gas, by volume, dry, shape (...). [%]
    highest_oxygen : float
        Oxygen from which the rule book lets the correction be used no more, at most 20.9. [%]

    Returns
    -------
    ndarray
        Shape (...). [ppm]

    Raises
    ------
    OutOfRange
        So much oxygen that the probe stands in air.

    Notes
    -----
    Screening aid: local code and a licensed practitioner decide.

    References
    ----------
    .. [1] Dilution by air (derived); NFPA 54 annex and ANSI Z21 appliance standards (from memory).
    """
    ppm = at_least("Carbon monoxide", carbon_monoxide, low=0, unit="ppm")
    top = float(within("Highest oxygen", highest_oxygen, low=0, high=OXYGEN_IN_AIR, unit="%"))
    percent = at_least("Oxygen", oxygen, low=0, unit="%")
    if np.any(percent >= top):
        raise OutOfRange(
            quantity="Oxygen",
            value=float(np.max(percent)),
            unit="%",
            limit=f"less than {top:g}",
            next_step="Move the probe into the undiluted flue gas and read both again.",
        )
    with np.errstate(over="ignore"):
        corrected = ppm * (OXYGEN_IN_AIR / (OXYGEN_IN_AIR - percent))
    return finite("Air-free carbon monoxide", corrected, unit="ppm")


class GasBasis(StrEnum):
    """What a limit for carbon monoxide refers to."""

    AIR_FREE = "air_free"
    AS_MEASURED = "as_measured"


@dataclass(frozen=True, slots=True, kw_only=True)
class FlueReading:
    """One reading in undiluted flue gas. None means that it was not read."""

    carbon_monoxide: float | None
    """[ppm]"""
    oxygen: float | None
    """[%]"""


def judge_flue(
    reading: FlueReading,
    *,
    basis: GasBasis,
    limits: Sequence[Criterion],
    highest_oxygen: float,
) -> Verdict:
    """Carbon monoxide against the strictest of limits that share one basis.

    Parameters
    ----------
    reading : FlueReading
        Without oxygen an air-free limit is never passed; it is missed where the gas as measured
        is beyond it already, since the air-free figure is never less.
    basis : GasBasis
        What all `limits` refer to; the wrong one is the likeliest error.
    limits : sequence of Criterion
        Upper limits. [ppm]
    highest_oxygen : float
        As for `co_air_free`. [%]

    References
    ----------
    .. [1] Limits by appliance, NFPA 54 annex (from memory); they come in as criteria.
    """
    limit = strictest(limits)
    if reading.carbon_monoxide is None:
        return judge(None, limit)
    as_read = float(at_least("Carbon monoxide", reading.carbon_monoxide, low=0, unit="ppm"))
    if basis is GasBasis.AS_MEASURED:
        return judge(as_read, limit)
    if reading.oxygen is None:
        as_measured = judge(as_read, limit)
        return judge(None, limit) if as_measured.status is Status.PASS else as_measured
    corrected = co_air_free(
        carbon_monoxide=as_read, oxygen=reading.oxygen, highest_oxygen=highest_oxygen
    )
    return judge(float(corrected), limit)


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionLevel:
    """What is to be done from a level of carbon monoxide in the air of the room."""

    level: float
    """Reached at this reading. [ppm]"""
    severity: int
    """Larger is graver."""
    action: str
    is_above_outdoor: bool
    """Whether the level counts from the outdoor reading."""
    source: str


def rise_above_outdoor(*, indoor: float | None, outdoor: float | None) -> float:
    """Carbon monoxide of a room above that outdoors, in decimals as displayed.

    Parameters
    ----------
    indoor, outdoor : float or None
        Readings; None where not taken. Without an outdoor reading the whole indoor reading
        counts, which errs on the safe side. [ppm]

    Returns
    -------
    float
        35.3 less 0.3 is 35, which binary fractions miss. [ppm]

    Raises
    ------
    LeakageError
        No indoor reading: that is not a reading of 0.
    """
    room = "Carbon monoxide in the room"
    inside = float(at_least(room, single(room, indoor, unit="ppm"), low=0, unit="ppm"))
    outside = 0.0 if outdoor is None else outdoor
    outside = float(at_least("Carbon monoxide outdoors", outside, low=0, unit="ppm"))
    return float(Decimal(str(inside)) - Decimal(str(outside)))


def ambient_action(
    *, indoor: float | None, outdoor: float | None, levels: Sequence[ActionLevel]
) -> ActionLevel | None:
    """The gravest action that a reading in the room calls for.

    Parameters
    ----------
    indoor, outdoor : float or None
        Readings; None where not taken. Without an outdoor reading the whole indoor reading
        counts, which errs on the safe side. [ppm]
    levels : sequence of ActionLevel
        Of every rule that applies, at least one.

    Returns
    -------
    ActionLevel or None
        None where no level is reached.

    Raises
    ------
    LeakageError
        No indoor reading: that is not a reading of 0. Or no levels.

    Notes
    -----
    Screening aid: local code and a licensed practitioner decide. When in doubt leave, and call.
    """
    rise = rise_above_outdoor(indoor=indoor, outdoor=outdoor)
    inside = single("Carbon monoxide in the room", indoor, unit="ppm")
    if not levels:
        raise LeakageError("Action level is not given; enter those that apply in the rule book.")
    reached = [one for one in levels if (rise if one.is_above_outdoor else inside) >= one.level]
    return max(reached, key=lambda one: (one.severity, one.level), default=None)
