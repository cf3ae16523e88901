"""Rounding of estimates for people: no digits that the estimate cannot carry."""

import math
from dataclasses import dataclass

from agency.savings.errors import SavingsError

MONEY_STEP = 10.0
"""Estimated money is shown to this many dollars. [$]  Common practice, no source."""
ENERGY_SHARE = 0.05
"""Estimated energy is shown to steps of at most this share of the range. [-]  As above."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """A figure with the two ends of its range."""

    low: float
    central: float
    high: float


def shown_money(figures: Range) -> Range:
    """Money to whole tens of dollars."""
    return _shown(figures, MONEY_STEP)


def shown_energy(figures: Range) -> Range:
    """Energy to a step of 1, 2 or 5 times a power of ten, at most 5 % of the largest figure.

    Not of the central one: a central figure near zero would ask for digits its range denies.
    """
    return _shown(figures, max(map(energy_step, (figures.low, figures.central, figures.high))))


def energy_step(value: float) -> float:
    """The largest of 1, 2, 5, 10, 20 ... that is at most 5 % of `value`; 0 for 0."""
    if not math.isfinite(value):
        raise SavingsError(f"an energy to be shown is {value}; it must be a finite number.")
    share = abs(value) * ENERGY_SHARE
    if share == 0:
        return 0.0
    decade = 10.0 ** math.floor(math.log10(share))
    # A share such as 0.3 stands a hair below its decade multiple in binary.
    return max((m * decade for m in (1, 2, 5) if m * decade <= share * (1 + 1e-12)), default=decade)


def _shown(figures: Range, step: float) -> Range:
    """The ends are rounded outwards, so that the range shown is never the narrower one."""
    if step == 0:
        return figures
    return Range(
        low=_step_down(figures.low, step),
        central=_step_nearest(figures.central, step),
        high=-_step_down(-figures.high, step) + 0.0,
    )


def _step_down(value: float, step: float) -> float:
    steps = value / step
    nearest = round(steps)
    # 0.3 / 0.1 is 2.9999999999999996: a whole step must stay where it is.
    whole = nearest if math.isclose(steps, nearest, rel_tol=1e-12) else math.floor(steps)
    return _times(whole, step)


def _step_nearest(value: float, step: float) -> float:
    half_up = math.floor(abs(value) / step + 0.5)
    return _times(int(math.copysign(half_up, value)), step)


def _times(whole: int, step: float) -> float:
    """The multiple without binary dust: 7 x 0.05 is 0.35."""
    return whole * step if step >= 1 else whole / round(1 / step)
