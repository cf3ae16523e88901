"""Share of the plant's heat that ducts deliver, and what better ducts save."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from agency.savings.errors import SavingsError
from agency.savings.infiltration_energy import AIR_HEAT_CAPACITY
from agency.savings.refusals import Array, above_zero, at_least_zero, efficiency, finite, share


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctRun:
    """One side of the ducts, supply or return, outside the rooms it serves."""

    area: ArrayLike
    """Surface outside the conditioned space. [m²]"""
    resistance: ArrayLike
    """Of wall, insulation and films. [m² K/W]"""
    leak_share: ArrayLike
    """Leakage to or from outdoors at operating pressure over fan flow. [-]"""
    surroundings: ArrayLike
    """Indoor less surrounding air; positive where it is colder around the duct. [K]"""


def leak_share(*, leakage_flow: ArrayLike, fan_flow: ArrayLike) -> Array:
    """Leakage to outdoors at operating pressure over fan flow.

    Flow at 25 Pa to outdoors is the usual proxy for the first; common practice, no source.

    Raises
    ------
    SavingsError
        More leakage than the fan moves.
    """
    lost = at_least_zero("Duct leakage", leakage_flow, unit="m³/s")
    moved = above_zero("Fan flow", fan_flow, unit="m³/s")
    return share("Duct leakage over fan flow", lost / moved)


def delivery_effectiveness(
    *,
    supply: DuctRun,
    returns: DuctRun,
    fan_flow: ArrayLike,
    capacity: ArrayLike,
    density: ArrayLike,
) -> Array:
    r"""Share of the heat made that the supply registers bring to the rooms, heating.

    .. math:: B = e^{-A / (R \rho c_p Q)}, \quad \Delta T_e = \frac{P}{\rho c_p Q}

    .. math:: DE = a_s B_s - a_s B_s (1 - a_r B_r) \frac{\Delta T_r}{\Delta T_e}
       - a_s (1 - B_s) \frac{\Delta T_s}{\Delta T_e}

    Parameters
    ----------
    supply, returns : DuctRun
        :math:`a` is 1 less the leak share.
    fan_flow : array_like
        :math:`Q`, more than 0. [m³/s]
    capacity : array_like
        Heat the plant makes :math:`P`, more than 0. [W]
    density : array_like
        Air density :math:`\rho`. [kg/m³]

    Returns
    -------
    ndarray
        Shape of the arguments broadcast. [-]

    Raises
    ------
    SavingsError
        Also when nothing would arrive: such ducts are outside the formula.

    References
    ----------
    .. [1] Form of ASHRAE Standard 152, from memory. I. S. Walker, LBNL-40588, 1998, documents
       the defaults; record read.
    """
    air = above_zero("Air density", density, unit="kg/m³")
    moved = above_zero("Fan flow", fan_flow, unit="m³/s") * air * AIR_HEAT_CAPACITY
    lift = above_zero("Capacity", capacity, unit="W") / moved
    supply_kept, supply_arrives = _kept_and_arriving(supply, moved, "supply")
    return_kept, return_arrives = _kept_and_arriving(returns, moved, "return")
    through_return = (1 - return_kept * return_arrives) * _surroundings(returns) / lift
    through_supply = (1 - supply_arrives) * _surroundings(supply) / lift
    delivered = supply_kept * (supply_arrives * (1 - through_return) - through_supply)
    if np.any(delivered <= 0):
        raise SavingsError(
            f"delivery effectiveness would be {float(np.min(delivered)):.2f}; it must be more "
            "than 0. Check fan flow and capacity against the nameplate, and the duct areas."
        )
    return np.asarray(delivered)


def with_regain(*, delivery: ArrayLike, regain: ArrayLike) -> Array:
    r"""Distribution efficiency when part of what is lost comes back to the rooms.

    .. math:: DE' = DE + F_r (1 - DE)

    Parameters
    ----------
    delivery : array_like
        Delivery effectiveness. [-]
    regain : array_like
        Share :math:`F_r` of the loss that comes back: small from an attic, large from a
        basement. [-]

    References
    ----------
    .. [1] First approximation to ASHRAE Standard 152, from memory.
    """
    arrives = finite("Delivery effectiveness", delivery, unit="")
    return np.asarray(arrives + share("Thermal regain", regain) * (1 - arrives))


def saving_from_better_ducts(*, energy: ArrayLike, before: ArrayLike, after: ArrayLike) -> Array:
    r"""Energy not bought when distribution improves and the rooms need the same heat.

    .. math:: S = E (1 - DE_0 / DE_1)

    Parameters
    ----------
    energy : array_like
        Bought before :math:`E`, not negative. [J]
    before, after : array_like
        Distribution efficiencies, regain included. [-]

    Returns
    -------
    ndarray
        Negative when the ducts got worse. [J]
    """
    used = at_least_zero("Energy", energy, unit="J")
    old = efficiency("Distribution efficiency before", before)
    new = efficiency("Distribution efficiency after", after)
    return np.asarray(used * (1 - old / new))


def _kept_and_arriving(run: DuctRun, moved: Array, side: str) -> tuple[Array, Array]:
    """Share of the air that stays in the duct, and of the lift in temperature that arrives."""
    area = at_least_zero(f"Area of the {side} ducts", run.area, unit="m²")
    resistance = above_zero(f"Resistance of the {side} ducts", run.resistance, unit="m² K/W")
    kept = 1 - share(f"Leak share of the {side} ducts", run.leak_share)
    return np.asarray(kept), np.asarray(np.exp(-area / (resistance * moved)))


def _surroundings(run: DuctRun) -> Array:
    return finite("Indoor less surrounding temperature", run.surroundings, unit="K")
