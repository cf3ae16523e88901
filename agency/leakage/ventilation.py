"""Ventilation a dwelling needs: whole-house rate, credit for infiltration, path for old dwellings.

Every number that differs between editions comes in with the edition, from the rule book.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import LeakageError, OutOfRange
from agency.leakage.ranges import Array, above
from agency.leakage.refusals import at_least, single
from agency.leakage.units import SECOND_PER_HOUR


@dataclass(frozen=True, slots=True, kw_only=True)
class VentilationEdition:
    """Numbers of one edition of the ventilation standard, with where they come from."""

    edition: str
    floor_rate: float
    """Whole-house flow per floor area. [m³/(s m²)]"""
    person_rate: float
    """Whole-house flow per person. [m³/s]"""
    fewest_bedrooms: int
    """What a dwelling with fewer counts as having. [-]"""
    pressure_factor: float | None
    """Annual infiltration over flow at 50 Pa, weather factor and height 1; None where the edition
    takes its infiltration from another standard. [-]"""
    reference_height: float
    """[m]"""
    height_exponent: float
    credit_share: float
    """Share of the infiltration that is credited. [-]"""
    credit_floor_rate: float
    """Infiltration per floor area that the rate takes for granted, not credited. [m³/(s m²)]"""
    has_superposition: bool
    """Whether a fan that is not balanced gets less credit the smaller the infiltration."""
    superposition_cap: float | None
    """Highest superposition factor; None where the edition has none. [-]"""
    credit_cap: float | None
    """Highest infiltration credited as a share of the whole-house rate; None for none. [-]"""
    deficit_share: float
    """Share of the local deficits added to the rate of an existing dwelling. [-]"""
    window_credit: float
    """Taken off the deficit of a room with a window that opens. [m³/s]"""
    source: str
    provenance: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherFactor:
    """Weather and shielding factor as typed from a table, with where it was read."""

    value: float
    station: str
    edition: str

    def __post_init__(self) -> None:
        above("Weather and shielding factor", self.value, low=0, unit="")
        if not (self.station.strip() and self.edition.strip()):
            raise LeakageError(
                "Weather and shielding factor: station or edition is not given; both must be. "
                "Copy them from the page of the standard the number was read on."
            )


def people(*, bedrooms: int, occupants: int | None = None, edition: VentilationEdition) -> int:
    """People the whole-house rate is for: a bedroom more than there are, or those who live there.

    Parameters
    ----------
    bedrooms : int
        Not negative.
    occupants : int, optional
        Known number; None where not known.
    edition : VentilationEdition

    Returns
    -------
    int
        The larger of the two.

    References
    ----------
    .. [1] ASHRAE 62.2, whole-dwelling ventilation rate (from memory).
    """
    rooms = int(at_least("Number of bedrooms", bedrooms, low=0, unit=""))
    by_bedrooms = max(rooms, edition.fewest_bedrooms) + 1
    if occupants is None:
        return by_bedrooms
    return max(by_bedrooms, int(at_least("Number of occupants", occupants, low=0, unit="")))


def whole_house_rate(
    *, floor_area: ArrayLike, persons: ArrayLike, edition: VentilationEdition
) -> Array:
    r"""Ventilation rate of a dwelling before any credit.

    .. math:: Q_{tot} = a A_f + b N

    Parameters
    ----------
    floor_area : array_like
        Conditioned floor area :math:`A_f`, more than 0, shape (...). [m²]
    persons : array_like
        From `people`, :math:`N`, shape (...). [-]
    edition : VentilationEdition
        Rates :math:`a` and :math:`b`.

    Returns
    -------
    ndarray
        Shape (...). [m³/s]

    References
    ----------
    .. [1] ASHRAE 62.2-2013, 4.1.1; 62.2-2019, Eq. 4-1 (read in part).
    """
    area = above("Floor area", floor_area, low=0, unit="m²")
    heads = at_least("Number of people", persons, low=0, unit="")
    return np.asarray(edition.floor_rate * area + edition.person_rate * heads)


def annual_infiltration(
    *,
    flow_50: ArrayLike,
    weather_factor: ArrayLike,
    height: ArrayLike,
    edition: VentilationEdition,
) -> Array:
    r"""Effective annual infiltration from a fan test.

    .. math:: Q_{inf} = k\,Q_{50}\,wsf\,(H / H_r)^z

    Parameters
    ----------
    flow_50 : array_like
        Flow at 50 Pa, not negative, shape (...). [m³/s]
    weather_factor : array_like
        Weather and shielding factor :math:`wsf`, more than 0, shape (...). [-]
    height : array_like
        Lowest floor above grade to highest ceiling :math:`H`, more than 0, shape (...). [m]
    edition : VentilationEdition
        :math:`k, H_r, z`.

    Returns
    -------
    ndarray
        Shape (...). [m³/s]

    Raises
    ------
    LeakageError
        An edition without a factor of its own.

    References
    ----------
    .. [1] ASHRAE 62.2-2013, 4.1.2; 62.2-2019, Eq. 4-3 (read in part).
    """
    if edition.pressure_factor is None:
        raise LeakageError(
            f"{edition.edition} takes infiltration from another standard, which is not at hand; a "
            "credit cannot be worked out. Leave the credit out, or choose a later edition."
        )
    flow = at_least("Flow at 50 Pa", flow_50, low=0, unit="m³/s")
    factor = above("Weather and shielding factor", weather_factor, low=0, unit="")
    tall = above("Height", height, low=0, unit="m") / edition.reference_height
    return np.asarray(edition.pressure_factor * flow * factor * tall**edition.height_exponent)


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalRoom:
    """One kitchen or bathroom of an existing dwelling."""

    name: str
    required: float
    """Intermittent exhaust the edition asks for there; 0 where it asks for none. [m³/s]"""
    measured: float | None
    """Flow of its fan; 0 where there is no fan, None where it was not measured. [m³/s]"""
    has_operable_window: bool


def local_deficit(room: LocalRoom, *, edition: VentilationEdition) -> float:
    r"""What the exhaust of a room lacks, less the allowance for a window that opens.

    .. math:: D = \max(0, \max(0, Q_{req} - Q) - Q_w)

    Parameters
    ----------
    room : LocalRoom
        A fan that was not measured counts as moving nothing.
    edition : VentilationEdition

    Returns
    -------
    float
        [m³/s]

    References
    ----------
    .. [1] ASHRAE 62.2 Normative Appendix A, existing buildings (read in part; the window's
       allowance from memory).
    """
    name = room.name
    required = float(at_least(f"Exhaust required in {name}", room.required, low=0, unit="m³/s"))
    moved = 0.0 if room.measured is None else room.measured
    moved = float(at_least(f"Exhaust measured in {name}", moved, low=0, unit="m³/s"))
    lacking = max(0.0, required - moved)
    return max(0.0, lacking - edition.window_credit) if room.has_operable_window else lacking


@dataclass(frozen=True, slots=True, kw_only=True)
class Dwelling:
    """What the need of one dwelling is worked out from."""

    floor_area: float
    """[m²]"""
    bedrooms: int
    occupants: int | None
    """None where not known."""
    infiltration: float | None
    """From `annual_infiltration`; None without a fan test: no credit. [m³/s]"""
    outdoor_share: float
    """Envelope area to outdoors over the whole, 1 for a detached house. [-]"""
    is_balanced: bool
    """Whether the fan is a balanced one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VentilationNeed:
    """Flow the fan of a dwelling must have, and its parts; never rounded. [m³/s]"""

    edition: str
    people: int
    whole_house: float
    superposition_factor: float | None
    """None where there is no credit. [-]"""
    credit: float
    deficits: dict[str, float]
    """By room; empty where the path for existing dwellings is not taken."""
    supplement: float
    not_tested: tuple[str, ...]
    """Rooms whose fan was not measured and counts as moving nothing."""
    balance: float
    """Whole-house rate and supplement less credit; below 0 where leaks do more than is asked."""
    fan_flow: float
    """`balance`, or 0 where no fan is needed."""


def superposition_factor(
    *, infiltration: float, whole_house: float, is_balanced: bool, edition: VentilationEdition
) -> float:
    r"""Share of the infiltration that adds to the flow of the fan.

    .. math:: \phi = 1\ \text{(balanced)},\quad \phi = Q_{inf} / Q_{tot}\ \text{(not balanced)}

    Parameters
    ----------
    infiltration, whole_house : float
        Credited infiltration and whole-house rate, the latter more than 0. [m³/s]
    is_balanced : bool
        Whether the fan is a balanced one.
    edition : VentilationEdition
        It says whether there is such a factor and how high it may be.

    Returns
    -------
    float
        [-]

    References
    ----------
    .. [1] ASHRAE 62.2-2016 and later, Eq. 4-2 (read in part); Hurel, Sherman and Walker 2016,
       LBNL, for the reason (from memory).
    """
    if is_balanced or not edition.has_superposition:
        return 1.0
    ratio = infiltration / float(above("Whole-house rate", whole_house, low=0, unit="m³/s"))
    cap = edition.superposition_cap
    return ratio if cap is None else min(cap, ratio)


def ventilation_need(dwelling: Dwelling, *, edition: VentilationEdition) -> VentilationNeed:
    r"""Fan flow by the ordinary path, where local exhaust is as required.

    .. math:: Q_{fan} = Q_{tot} - \phi\,Q_{inf} A_{ext}

    Parameters
    ----------
    dwelling : Dwelling
    edition : VentilationEdition

    Returns
    -------
    VentilationNeed

    References
    ----------
    .. [1] ASHRAE 62.2-2019, 4.1 (read in part); earlier editions from memory.
    """
    return _need(dwelling, rooms=(), edition=edition)


def existing_dwelling_need(
    dwelling: Dwelling, *, rooms: Sequence[LocalRoom], edition: VentilationEdition
) -> VentilationNeed:
    r"""Fan flow of an existing dwelling that makes good what local exhaust lacks.

    .. math:: Q_{fan} = Q_{tot} + d \sum_i D_i - \phi\,Q_{inf} A_{ext}

    Parameters
    ----------
    dwelling : Dwelling
    rooms : sequence of LocalRoom
        Every kitchen and full bathroom, each name once.
    edition : VentilationEdition

    Returns
    -------
    VentilationNeed

    Raises
    ------
    LeakageError
        No rooms at all, or a name that stands twice.

    References
    ----------
    .. [1] ASHRAE 62.2-2010 and later, Normative Appendix A (read in part).
    """
    names = [room.name for room in rooms]
    if not names or len(set(names)) < len(names):
        raise LeakageError(
            f"Rooms are {', '.join(names) or 'not given'}; each kitchen and bathroom must be there "
            "once. List them with the flow measured in each."
        )
    return _need(dwelling, rooms=rooms, edition=edition)


def _need(
    dwelling: Dwelling, *, rooms: Sequence[LocalRoom], edition: VentilationEdition
) -> VentilationNeed:
    persons = people(bedrooms=dwelling.bedrooms, occupants=dwelling.occupants, edition=edition)
    rate = float(whole_house_rate(floor_area=dwelling.floor_area, persons=persons, edition=edition))
    factor, credit = _credit(dwelling, rate, edition)
    deficits = {room.name: local_deficit(room, edition=edition) for room in rooms}
    supplement = edition.deficit_share * sum(deficits.values())
    balance = rate + supplement - credit
    return VentilationNeed(
        edition=edition.edition,
        people=persons,
        whole_house=rate,
        superposition_factor=factor,
        credit=credit,
        deficits=deficits,
        supplement=supplement,
        not_tested=tuple(room.name for room in rooms if room.measured is None),
        balance=balance,
        fan_flow=max(0.0, balance),
    )


def _credit(
    dwelling: Dwelling, rate: float, edition: VentilationEdition
) -> tuple[float | None, float]:
    share = single("Share of the envelope to outdoors", dwelling.outdoor_share, unit="")
    if not 0 <= share <= 1:
        raise OutOfRange(
            quantity="Share of the envelope to outdoors",
            value=share,
            limit="from 0 to 1",
            next_step="Divide the area to outdoors by the whole envelope area.",
        )
    if dwelling.infiltration is None:
        return None, 0.0
    flow = float(at_least("Infiltration", dwelling.infiltration, low=0, unit="m³/s"))
    taken = edition.credit_floor_rate * dwelling.floor_area
    credited = edition.credit_share * max(0.0, flow - taken)
    if edition.credit_cap is not None:
        credited = min(credited, edition.credit_cap * rate)
    factor = superposition_factor(
        infiltration=credited, whole_house=rate, is_balanced=dwelling.is_balanced, edition=edition
    )
    return factor, factor * credited * share


def flow_for_air_changes(*, air_changes: ArrayLike, volume: ArrayLike) -> Array:
    """Flow that changes the air of a room a number of times an hour, of an enclosed kitchen say.

    Parameters
    ----------
    air_changes : array_like
        Not negative, shape (...). [1/h]
    volume : array_like
        More than 0, shape (...). [m³]

    Returns
    -------
    ndarray
        Shape (...). [m³/s]
    """
    changes = at_least("Air changes", air_changes, low=0, unit="1/h")
    return np.asarray(changes * above("Volume", volume, low=0, unit="m³") / SECOND_PER_HOUR)
