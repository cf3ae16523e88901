"""Putting air flows together: stack and wind, leaks and fans, the hours of a year."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import OutOfRange
from agency.leakage.ranges import Array, above, within
from agency.leakage.refusals import at_least
from agency.leakage.scaling import leak_exponent

CROSS_SHARE = 1 / 3
"""Pressure that stack and wind take from each other, of the geometric mean of both. [-]
Walker and Wilson 1998, from memory."""


class Superposition(StrEnum):
    """How the flow by stack and the flow by wind make one flow."""

    QUADRATURE = "quadrature"
    """Root of the sum of squares, as the enhanced model of ASHRAE Fundamentals has it."""
    ORIGINAL = "original"
    """By pressures less a cross term, as the Alberta model was published."""


def quadrature(*, stack: ArrayLike, wind: ArrayLike, exponent: ArrayLike) -> Array:
    r"""Flow by stack and wind together; the exponent plays no part.

    .. math:: Q = \sqrt{Q_s^2 + Q_w^2}

    Parameters
    ----------
    stack, wind : array_like
        Flow of each alone, not negative, shapes that broadcast to (...). [m³/s]
    exponent : array_like
        Taken so that both superpositions are called alike. [-]

    Returns
    -------
    ndarray
        Shape (...). [m³/s]

    References
    ----------
    .. [1] US DOE building simulation, Engineering Reference, "Infiltration by Flow
       Coefficient", read.
    """
    del exponent
    return np.hypot(*_both(stack, wind))


def original_superposition(*, stack: ArrayLike, wind: ArrayLike, exponent: ArrayLike) -> Array:
    r"""Flow by stack and wind together, by pressures and their cross term.

    .. math:: Q = \left(Q_s^{1/n} + Q_w^{1/n} - \tfrac13 (Q_s Q_w)^{1/(2n)}\right)^n

    Arguments and answer as of `quadrature`.

    References
    ----------
    .. [1] I. S. Walker and D. J. Wilson, HVAC&R Research 4(2), 1998, from memory.
    """
    by_stack, by_wind = _both(stack, wind)
    n = leak_exponent(exponent)
    cross = CROSS_SHARE * (by_stack * by_wind) ** (0.5 / n)
    return np.asarray((by_stack ** (1 / n) + by_wind ** (1 / n) - cross) ** n)


SUPERPOSITIONS: Mapping[Superposition, Callable[..., Array]] = {
    Superposition.QUADRATURE: quadrature,
    Superposition.ORIGINAL: original_superposition,
}


def with_fans(*, infiltration: ArrayLike, supply: ArrayLike, exhaust: ArrayLike) -> Array:
    r"""Air flow of a house whose fans run, balanced part added, the rest in quadrature.

    .. math:: Q = \min(Q_{in}, Q_{out}) + \sqrt{Q_{inf}^2 + (Q_{in} - Q_{out})^2}

    Parameters
    ----------
    infiltration : array_like
        Flow through the leaks with the fans off, not negative. [m³/s]
    supply, exhaust : array_like
        All fans that blow in and all that blow out, not negative. Ducts that leak to outdoors
        count here while the blower runs: supply leaks as exhaust, return leaks as supply. [m³/s]

    Returns
    -------
    ndarray
        Shape of the arguments broadcast. [m³/s]

    References
    ----------
    .. [1] US DOE building simulation, Engineering Reference, "ZoneAirBalance:OutdoorAir", read
       in part; the quadrature: ASHRAE Fundamentals ch. 16, from memory.
    """
    leaks = at_least("Infiltration", infiltration, low=0, unit="m³/s")
    blown_in = at_least("Supply flow", supply, low=0, unit="m³/s")
    blown_out = at_least("Exhaust flow", exhaust, low=0, unit="m³/s")
    unbalanced = blown_in - blown_out
    return np.asarray(np.minimum(blown_in, blown_out) + np.hypot(leaks, unbalanced))


def effective_mean_air_changes(air_changes: ArrayLike) -> Array:
    r"""Air changes that would keep a steady pollutant at the year's mean: by mean turnover time.

    .. math:: \tau_i = \frac{1 - e^{-a_i}}{a_i} + \tau_{i-1} e^{-a_i}, \quad
       a_e = \frac{1}{\overline{\tau}}

    Parameters
    ----------
    air_changes : array_like
        Air changes :math:`a` of each hour, not negative, shape (..., hours). [1/h]

    Returns
    -------
    ndarray
        Never above the mean of the hours, shape (...). [1/h]

    Raises
    ------
    OutOfRange
        When the air never changes: its turnover has no end.

    Notes
    -----
    The hours are taken to repeat, so the first follows the last and no start has to be chosen.

    References
    ----------
    .. [1] W. J. N. Turner and M. H. Sherman, HVAC&R Research 18(6), 2012, LBNL-5795E; recursion
       from memory.
    """
    changes = at_least("Air changes", air_changes, low=0, unit="1/h")
    above("Sum of the air changes", changes.sum(axis=-1), low=0, unit="1/h")
    kept = np.exp(-changes)
    # (1 - exp(-a))/a, whose limit at still air is the hour itself.
    added = np.divide(-np.expm1(-changes), changes, out=np.ones_like(changes), where=changes > 0)
    from_nothing, _ = _turnover(np.zeros(changes.shape[:-1]), added, kept)
    never_left = np.exp(-changes.sum(axis=-1))
    _, mean = _turnover(from_nothing / (1 - never_left), added, kept)
    return np.asarray(1 / mean)


@dataclass(frozen=True, slots=True, kw_only=True)
class NFactorTable:
    """Factors that divide a flow at 50 Pa for a first guess of the natural flow."""

    method: str
    height: Mapping[float, float]
    """By storeys."""
    shielding: Mapping[str, float]
    leaks: Mapping[str, float]
    climate: tuple[float, float]
    """Lowest and highest climate factor of the map."""
    source: str
    provenance: str


N_FACTOR = NFactorTable(
    method="N-factor (flow at 50 Pa divided)",
    height={1.0: 1.0, 1.5: 0.9, 2.0: 0.8, 3.0: 0.7},
    shielding={"well shielded": 1.2, "normal": 1.0, "exposed": 0.9},
    leaks={"small cracks": 1.4, "normal": 1.0, "large holes": 0.7},
    climate=(14.0, 26.0),
    source="M. H. Sherman, Energy and Buildings 10, 1987; A. Meier, Home Energy, 1986",
    provenance="from memory",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoughNaturalFlow:
    """A quick estimate of the natural air flow; never a credit for ventilation."""

    flow: Array
    """[m³/s]"""
    divisor: float
    method: str


def rough_natural_flow(
    flow_50: ArrayLike, *, climate: float, storeys: float, shielding: str, leaks: str
) -> RoughNaturalFlow:
    r"""Estimate the yearly mean natural flow from a fan test alone.

    .. math:: Q = Q_{50} / N, \quad N = C H S L

    Parameters
    ----------
    flow_50 : array_like
        Flow at 50 Pa, not negative, shape (...). [m³/s]
    climate : float
        Factor :math:`C` read off the map of the method, within `N_FACTOR.climate`. [-]
    storeys : float
        1, 1.5, 2 or 3, the heights of the table. [-]
    shielding, leaks : str
        Words of the table.

    Raises
    ------
    OutOfRange
        A word or height the table does not hold, a climate factor off the map.

    References
    ----------
    .. [1] See ``N_FACTOR.source``.
    """
    low, high = N_FACTOR.climate
    divisor = (
        float(within("Climate factor", climate, low=low, high=high, unit=""))
        * _of(N_FACTOR.height, storeys, "Storeys")
        * _of(N_FACTOR.shielding, shielding, "Shielding")
        * _of(N_FACTOR.leaks, leaks, "Leaks")
    )
    flow = at_least("Flow at 50 Pa", flow_50, low=0, unit="m³/s") / divisor
    return RoughNaturalFlow(flow=np.asarray(flow), divisor=divisor, method=N_FACTOR.method)


def _turnover(start: Array, added: Array, kept: Array) -> tuple[Array, Array]:
    """Turnover time after the last hour, and its mean over all. [h]"""
    turnover, total = start, np.zeros_like(start)
    for hour in range(added.shape[-1]):
        turnover = added[..., hour] + turnover * kept[..., hour]
        total = total + turnover
    return turnover, total / added.shape[-1]


def _both(stack: ArrayLike, wind: ArrayLike) -> tuple[Array, Array]:
    return (
        at_least("Flow by stack", stack, low=0, unit="m³/s"),
        at_least("Flow by wind", wind, low=0, unit="m³/s"),
    )


def _of(table: Mapping[Any, float], key: float | str, name: str) -> float:
    if key not in table:
        raise OutOfRange(
            quantity=name,
            value=key,
            limit="one of " + ", ".join(f"{known}" for known in table),
            next_step="Choose the nearest of these, or use a model that goes by weather.",
        )
    return table[key]
