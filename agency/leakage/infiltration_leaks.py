"""Coefficients of both infiltration models worked out from where a house's leaks are."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import OutOfRange
from agency.leakage.infiltration import LPS_PER_CM2, BasicCoefficients
from agency.leakage.infiltration_enhanced import EnhancedCoefficients
from agency.leakage.ranges import Array, above, within
from agency.leakage.refusals import at_least
from agency.leakage.scaling import leak_exponent
from agency.leakage.units import STANDARD_GRAVITY

NEUTRAL_EXPONENT = 1.25
"""Exponent of the neutral level's share. [-]  Walker and Wilson 1998, 5/4 from memory; public
implementations, read, have 1.2, which changes the stack flow by at most 2 %."""
WIND_SIZE = 0.19
"""[-]  Walker and Wilson 1998; as in public implementations, read."""
FLUE_WIND_SHARE = 1.5
"""Weight of a flue's own shelter. [-]  As above; with a flue that is 0.2 of the leaks it gives
the printed shelter coefficients of one storey to the last digit, derived."""
MAST_HEIGHT = 10.0
"""Height the wind of a weather station is measured at. [m]  Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakPlaces:
    """Shares of the whole leakage; what is left is in the walls. [-]"""

    ceiling: float
    floor: float
    flue: float

    def __post_init__(self) -> None:
        for name in ("ceiling", "floor", "flue"):
            within(f"Leak share of the {name}", getattr(self, name), low=0, high=1, unit="")
        if self.ceiling + self.floor + self.flue > 1:
            raise OutOfRange(
                quantity="Sum of the leak shares",
                value=self.ceiling + self.floor + self.flue,
                limit="at most 1",
                next_step="Give each as a share of the whole; the walls take the rest.",
            )

    @property
    def level(self) -> float:
        """Ceiling and floor together, R of the models."""
        return self.ceiling + self.floor

    @property
    def lean(self) -> float:
        """Ceiling less floor, X of the models."""
        return self.ceiling - self.floor


@dataclass(frozen=True, slots=True, kw_only=True)
class TerrainWind:
    """Wind at a height over wind at the mast: A (H/10 m)^B."""

    multiplier: float
    exponent: float


def stack_factor(places: LeakPlaces, *, exponent: ArrayLike) -> Array:
    r"""Share of the stack's pressure that drives air, in a house without a flue.

    .. math:: f_s = \frac{1 + nR}{1 + n}
       \left(\frac12 - \frac12 \left(\frac{X^2}{2 - R}\right)^{5/4}\right)^{n+1}

    Parameters
    ----------
    places : LeakPlaces
        :math:`R, X`, without a flue.
    exponent : array_like
        :math:`n`, shape (...). [-]

    Returns
    -------
    ndarray
        Shape (...). [-]

    References
    ----------
    .. [1] I. S. Walker and D. J. Wilson, HVAC&R Research 4(2), 1998, from memory.
    """
    _refuse_flue(places)
    return _stack_of(places, leak_exponent(exponent), places.lean**2)


def stack_factor_with_flue(
    places: LeakPlaces, *, exponent: ArrayLike, flue_height: ArrayLike
) -> Array:
    r"""Share of the stack's pressure that drives air, in a house with an open flue.

    .. math:: M = \min\left(1, \frac{(X + (2n + 1)Y)^2}{2 - R}\right), \quad
       F = nY(Z - 1)^{(3n - 1)/3}
       \left(1 - \frac{3(X_c - X)^2 R^{1 - n}}{2(Z + 1)}\right)

    Parameters
    ----------
    places : LeakPlaces
        :math:`R, X, Y`.
    exponent : array_like
        :math:`n`. [-]
    flue_height : array_like
        Top of the flue over height of the eaves :math:`Z`, both above grade; at least 1. [-]

    Returns
    -------
    ndarray
        [-]

    References
    ----------
    .. [1] I. S. Walker and D. J. Wilson, HVAC&R Research 4(2), 1998, eqs 10-13, from memory;
       as in public implementations, read, but for `NEUTRAL_EXPONENT`.
    """
    n = leak_exponent(exponent)
    tall = at_least("Flue height over height of the eaves", flue_height, low=1, unit="")
    r, x, y = places.level, places.lean, places.flue
    critical = r + 2 * (1 - r - y) / (n + 1) - 2 * y * (tall - 1) ** n
    bend = 1 - 3 * (critical - x) ** 2 * r ** (1 - n) / (2 * (tall + 1))
    by_flue = n * y * (tall - 1) ** ((3 * n - 1) / 3) * bend
    return np.asarray(_stack_of(places, n, (x + (2 * n + 1) * y) ** 2) + by_flue)


def wind_factor(places: LeakPlaces, *, exponent: ArrayLike) -> Array:
    r"""Share of the wind's pressure that drives air, above a basement or slab.

    .. math:: f_w = 0.19 (2 - n) \left(1 - \left(\frac{X + R}{2}\right)^{1.5 - Y}\right)
       - \frac Y4 (S - 2YS^4), \quad S = \frac{X + R + 2Y}{2}

    Arguments and answer as of `stack_factor`; a flue is allowed.

    References
    ----------
    .. [1] I. S. Walker and D. J. Wilson, HVAC&R Research 4(2), 1998, from memory; as in public
       implementations, read.
    """
    n = leak_exponent(exponent)
    r, x, y = places.level, places.lean, places.flue
    s = (x + r + 2 * y) / 2
    walls = 1 - ((x + r) / 2) ** (1.5 - y)
    return np.asarray(WIND_SIZE * (2 - n) * walls - y / 4 * (s - 2 * y * s**4))


def wind_factor_crawl_space(places: LeakPlaces, *, exponent: ArrayLike) -> Array:
    r"""Share of the wind's pressure that drives air, above a vented crawl space.

    .. math:: f_w = 0.19 (2 - n)
       \left(1 - \left|\frac{X - X_s}{2 - R}\right|^{1.5}\right)
       \left(1 - R \left(\frac n2 + 0.2\right)\right) \left(1 - \frac Y4\right), \quad
       X_s = \frac{1 - R}{5} - 1.5 Y

    Arguments and answer as of `wind_factor`.

    Notes
    -----
    Beyond :math:`X = 1 - 2Y` the model's factor no longer changes (its eq. 25).

    References
    ----------
    .. [1] I. S. Walker and D. J. Wilson, HVAC&R Research 4(2), 1998, eqs 20-25, as in public
       implementations, read.
    """
    n = leak_exponent(exponent)
    r, y = places.level, places.flue
    x = min(places.lean, 1 - 2 * y)
    sheltered = (1 - r) / 5 - 1.5 * y
    lean = 1 - abs((x - sheltered) / (2 - r)) ** 1.5
    return np.asarray(WIND_SIZE * (2 - n) * lean * (1 - r * (n / 2 + 0.2)) * (1 - y / 4))


def shelter_with_flue(places: LeakPlaces, *, shelter: ArrayLike, flue_shelter: ArrayLike) -> Array:
    r"""Shelter of a house and its flue together.

    .. math:: s = s_0 (1 - Y) + 1.5 Y s_f

    Parameters
    ----------
    places : LeakPlaces
        :math:`Y`.
    shelter : array_like
        Of the house without its flue, :math:`s_0`. [-]
    flue_shelter : array_like
        Of the flue's top :math:`s_f`; 1 where it stands in the free wind. [-]

    References
    ----------
    .. [1] As of `wind_factor_crawl_space`.
    """
    house = at_least("Shelter of the house", shelter, low=0, unit="")
    top = at_least("Shelter of the flue", flue_shelter, low=0, unit="")
    return np.asarray(house * (1 - places.flue) + FLUE_WIND_SHARE * places.flue * top)


def enhanced_from_factors(
    *,
    stack_factor: ArrayLike,
    wind_factor: ArrayLike,
    exponent: ArrayLike,
    height: ArrayLike,
    indoor_kelvin: ArrayLike,
    density: ArrayLike,
    shelter: ArrayLike,
    wind_multiplier: ArrayLike,
    variant: str,
) -> EnhancedCoefficients:
    r"""Coefficients of the enhanced model from its two factors.

    .. math:: C_s = f_s \left(\frac{\rho g H}{T_i}\right)^n, \quad
       C_w = f_w \left(\frac{\rho}{2}\right)^n

    Parameters
    ----------
    stack_factor, wind_factor : array_like
        :math:`f_s, f_w` of one variant. [-]
    exponent : array_like
        :math:`n`. [-]
    height : array_like
        Grade to eaves :math:`H`, more than 0. [m]
    indoor_kelvin : array_like
        :math:`T_i`. [K]
    density : array_like
        Of the outdoor air :math:`\rho`. [kg/m³]
    shelter, wind_multiplier : array_like
        :math:`s, G` of `enhanced_flow`. [-]
    variant : str
        What the factors stand for, in words.
    """
    n = leak_exponent(exponent)
    air = above("Air density", density, low=0, unit="kg/m³")
    tall = above("Height of the eaves", height, low=0, unit="m")
    per_kelvin = (
        air * STANDARD_GRAVITY * tall / above("Indoor temperature", indoor_kelvin, low=0, unit="K")
    )
    return EnhancedCoefficients(
        stack=np.asarray(np.asarray(stack_factor) * per_kelvin**n),
        wind=np.asarray(np.asarray(wind_factor) * (air / 2) ** n),
        shelter=at_least("Shelter", shelter, low=0, unit=""),
        wind_multiplier=at_least("Wind multiplier", wind_multiplier, low=0, unit=""),
        variant=variant,
    )


def basic_from_places(
    places: LeakPlaces,
    *,
    height: ArrayLike,
    indoor_kelvin: ArrayLike,
    shielding: ArrayLike,
    terrain: TerrainWind,
) -> BasicCoefficients:
    r"""Coefficients of the basic model for a house of its own, not of the table.

    .. math:: f_s = \frac{1 + R/2}{3} \left(1 - \frac{X^2}{(2 - R)^2}\right)^{3/2}
       \sqrt{\frac{g H}{T_i}}, \quad
       f_w = C' (1 - R)^{1/3} A \left(\frac{H}{10\,\mathrm{m}}\right)^B

    Parameters
    ----------
    places : LeakPlaces
        :math:`R, X`, without a flue.
    height : array_like
        Lowest floor to ceiling of the top storey :math:`H`, more than 0. [m]
    indoor_kelvin : array_like
        :math:`T_i`. [K]
    shielding : array_like
        :math:`C'` of the house's surroundings. [-]
    terrain : TerrainWind
        :math:`A, B` of the terrain between mast and house.

    References
    ----------
    .. [1] M. H. Sherman and D. T. Grimsrud, 1980, LBL-10852; M. H. Sherman and M. P. Modera,
       1986; both from memory.
    """
    _refuse_flue(places)
    r, x = places.level, places.lean
    tall = above("Height", height, low=0, unit="m")
    warm = above("Indoor temperature", indoor_kelvin, low=0, unit="K")
    leaks = (1 + r / 2) / 3 * (1 - x**2 / (2 - r) ** 2) ** 1.5
    stack = leaks * np.sqrt(STANDARD_GRAVITY * tall / warm)
    at_height = terrain.multiplier * (tall / MAST_HEIGHT) ** terrain.exponent
    shielded = at_least("Shielding", shielding, low=0, unit="")
    wind = shielded * (1 - r) ** (1 / 3) * at_height
    return BasicCoefficients(
        stack=np.asarray((stack / LPS_PER_CM2) ** 2), wind=np.asarray((wind / LPS_PER_CM2) ** 2)
    )


def _stack_of(places: LeakPlaces, exponent: Array, squared_lean: Array | float) -> Array:
    # At 1 the neutral level stands at the ceiling, and the model lets it rise no further.
    neutral = np.minimum(1.0, squared_lean / (2 - places.level))
    driven = (0.5 - 0.5 * neutral**NEUTRAL_EXPONENT) ** (exponent + 1)
    return np.asarray((1 + exponent * places.level) / (1 + exponent) * driven)


def _refuse_flue(places: LeakPlaces) -> None:
    if places.flue:
        raise OutOfRange(
            quantity="Leak share of the flue",
            value=places.flue,
            limit="0 here",
            next_step="Use the variant with a flue.",
        )
