"""From heat needed in the rooms to energy bought: the plant and the ducts or pipes."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.savings.errors import SavingsError

Array = NDArray[np.float64]

HIGHEST_EFFICIENCY = 10.0
"""Above it a percentage was typed for a fraction. [-]  Common practice, no source."""


def bought_energy(
    *, load: ArrayLike, efficiency: ArrayLike, distribution_efficiency: ArrayLike
) -> Array:
    """Energy bought to meet a load in the rooms.

    Parameters
    ----------
    load : float or array
        [J]
    efficiency : float or array
        Heat out (or heat moved) per energy in, 0.80 or 3.0. [-]
    distribution_efficiency : float or array
        Share of the plant's heat that reaches the rooms; 1 without ducts or pipes. [-]

    Returns
    -------
    array
        [J]
    """
    plant = np.asarray(efficiency, dtype=np.float64)
    ducts = np.asarray(distribution_efficiency, dtype=np.float64)
    return np.asarray(np.asarray(load, dtype=np.float64) / (plant * ducts))


def refuse_wrong_efficiency(*, efficiency: float, distribution_efficiency: float) -> None:
    """Refuse efficiencies that cannot be fractions.

    Raises
    ------
    SavingsError
        Names the value and the limit.
    """
    if not 0 < efficiency <= HIGHEST_EFFICIENCY:
        raise SavingsError(
            f"efficiency is {efficiency:g}; it must be above 0 and at most "
            f"{HIGHEST_EFFICIENCY:g}. Give heat out per energy in: 0.80, not 80."
        )
    if not 0 < distribution_efficiency <= 1:
        raise SavingsError(
            f"distribution efficiency is {distribution_efficiency:g}; it must be above 0 and at "
            "most 1. Give the share that reaches the rooms: 0.85, not 85."
        )
