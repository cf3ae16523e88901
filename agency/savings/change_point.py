"""Energy against weather: base load, slopes and the temperatures at which they set in."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from agency.savings.bills import BillTable, Days, Side, Weather, running_days, running_degree_days
from agency.savings.errors import BillError

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

HOMES_AT_ONCE = 16
"""Homes searched together; their candidates fit the processor's cache."""
FLAT = 1e-9
"""A degree-day column whose spread is below this share of its square says nothing. [-]"""


class Model(StrEnum):
    """Which change points the energy has, named by its parameters."""

    HEATING = "3P heating"
    COOLING = "3P cooling"
    BOTH = "5P"

    @property
    def sides(self) -> tuple[Side, ...]:
        """Sides on which energy rises, in the order of slopes and bases."""
        return {
            Model.HEATING: (Side.HEATING,),
            Model.COOLING: (Side.COOLING,),
            Model.BOTH: (Side.HEATING, Side.COOLING),
        }[self]

    @property
    def parameters(self) -> int:
        """Base load, and a slope and a base for each side."""
        return 1 + 2 * len(self.sides)


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """Base temperatures tried; from the rule book."""

    lowest: float
    """[°C]"""
    highest: float
    """[°C]"""
    coarse: int
    """The whole range is searched by this many fine steps, then the best place by single ones."""
    fine: float
    """[K]"""

    @property
    def bases(self) -> Array:
        """All bases. [°C]"""
        if not (self.fine > 0 and self.coarse >= 1 and self.highest > self.lowest):
            raise BillError(
                f"bases are searched from {self.lowest:g} to {self.highest:g} °C by "
                f"{self.fine:g} K; the range and the step must be above 0. Correct the setting."
            )
        steps = round((self.highest - self.lowest) / self.fine)
        return np.asarray(self.lowest + self.fine * np.arange(steps + 1), dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fits:
    """One fitted model a home; NaN where a home has too few bills to tell."""

    model: Model
    table: BillTable
    weather: Weather
    search: Search
    base_load: Array
    """[J/day]"""
    slopes: Array
    """Homes by sides. [J/(K day)]"""
    bases: Array
    """Homes by sides. [°C]"""
    at_edge: Flags
    """The best base is the first or last one tried, so the true one may lie outside."""
    predicted: Array
    """Homes by bills; meaningless where a home has no further bill. [J/day]"""
    bills: Days
    """Bills of each home. [-]"""
    squares: Array
    """Squared residuals, each weighted by its days over the home's mean days. [(J/day)²]"""
    gram: Array
    """Weighted products of the derivatives by base load, slopes and bases; homes by p by p."""

    @property
    def weights(self) -> Array:
        """Days of each bill over the home's mean days; 0 where there is no bill. [-]"""
        return weights_of(self.table)

    @property
    def residuals(self) -> Array:
        """Measured less predicted; 0 where there is no bill. [J/day]"""
        return np.where(self.table.days > 0, self.table.rate - self.predicted, 0.0)

    @property
    def degrees_of_freedom(self) -> Array:
        """Bills less parameters; NaN where none is left."""
        free = self.bills - float(self.model.parameters)
        return np.where(free > 0, free, np.nan)

    @property
    def spread(self) -> Array:
        """Root mean square residual of a bill of mean length. [J/day]"""
        return np.asarray(np.sqrt(self.squares / self.degrees_of_freedom))

    @property
    def mean_rate(self) -> Array:
        """Energy over days. [J/day]"""
        with np.errstate(invalid="ignore"):
            return np.asarray((self.weights * self.table.rate).sum(axis=1) / self.bills)

    @property
    def cv_rmse(self) -> Array:
        """Coefficient of variation of the root mean square error, as a fraction. [-]"""
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray(self.spread / self.mean_rate)


def fit_change_points(table: BillTable, weather: Weather, *, model: Model, search: Search) -> Fits:
    r"""Fit a change-point model to the bills of each home.

    .. math:: \frac{E}{d} = b_0 + b_h \frac{HDD(T_h)}{d} + b_c \frac{CDD(T_c)}{d},
       \quad T_h \le T_c

    For every base temperature the rest is linear and is solved by least squares weighted by the
    days :math:`d`; the base, or pair of bases, with the least squares wins.

    Parameters
    ----------
    table : BillTable
        Energy :math:`E` of each bill as a rate a day.
    weather : Weather
        Daily means the degree days are counted from.
    model : Model
        Heating has no :math:`b_c`, cooling no :math:`b_h`.
    search : Search
        Bases tried. The whole range is searched coarsely, then the best place finely.

    Returns
    -------
    Fits
        Whatever fits best, sensible or not: `rejections` says which to refuse.

    References
    ----------
    .. [1] K. Kissock, J. Haberl and D. Claridge, Inverse Modeling Toolkit (RP-1050), ASHRAE
       Transactions 109(2), 2003: search over change points, from memory.
    .. [2] M. Fels, "PRISM: An Introduction", Energy and Buildings 9, 1986: degree days of each
       bill, from memory.
    """
    sums = {
        side: running_degree_days(temperature=weather.temperature, bases=search.bases, side=side)
        for side in model.sides
    }
    places = np.concatenate(
        [_best_places(some, sums, search.coarse) for some in _blocks(table)], axis=0
    )
    weights = weights_of(table)
    linear = _design(table, sums, places)
    base_load, *slopes = np.moveaxis(_solved(linear, table.rate, weights), -1, 0)
    steepness = np.stack(slopes, axis=-1)
    predicted = base_load[:, None] + (linear[..., 1:] * steepness[:, None]).sum(axis=-1)
    by_base = _shares(table, weather, places, model=model, search=search) * steepness[:, None]
    derivatives = np.concatenate([linear, by_base], axis=-1)
    return Fits(
        model=model,
        table=table,
        weather=weather,
        search=search,
        base_load=base_load,
        slopes=steepness,
        bases=search.bases[places],
        at_edge=(places == 0) | (places == len(search.bases) - 1),
        predicted=predicted,
        bills=(table.days > 0).sum(axis=1),
        squares=(weights * (table.rate - predicted) ** 2).sum(axis=1),
        gram=np.einsum("hb,hbi,hbj->hij", weights, derivatives, derivatives),
    )


def weights_of(table: BillTable) -> Array:
    """Days of each bill over the mean days of the home's bills. [-]"""
    bills = np.maximum((table.days > 0).sum(axis=1, keepdims=True), 1)
    mean = np.maximum(table.days.sum(axis=1, keepdims=True), 1) / bills
    return np.asarray(table.days / mean)


def _blocks(table: BillTable) -> Iterator[BillTable]:
    for start in range(0, len(table.rate), HOMES_AT_ONCE):
        some = slice(start, start + HOMES_AT_ONCE)
        yield BillTable(rate=table.rate[some], days=table.days[some], first=table.first[some])


def _best_places(table: BillTable, sums: dict[Side, Array], coarse: int) -> Days:
    """Index of the best base of each side; homes by sides."""
    count = len(next(iter(sums.values())))
    # The last base belongs to the coarse search too, or nothing above it could be told from it.
    everywhere = np.unique(np.append(np.arange(0, count, coarse), count - 1))[None]
    best = _best_of(table, sums, [everywhere] * len(sums))
    around = np.arange(-coarse, coarse + 1)
    for _ in range(count):
        near = [np.clip(best[:, [side]] + around, 0, count - 1) for side in range(len(sums))]
        better = _best_of(table, sums, near)
        # Two bases share a narrow valley: the best of a window's corner is not yet the best.
        if (better == best).all():
            break
        best = better
    return best


def _best_of(table: BillTable, sums: dict[Side, Array], candidates: list[Days]) -> Days:
    """The best of each home's candidates; each is homes (or 1) by places."""
    weights = weights_of(table)
    total = np.maximum(weights.sum(axis=1), 1.0)
    rate = table.rate - ((weights * table.rate).sum(axis=1) / total)[:, None]
    columns, raw = [], []
    for running, places in zip(sums.values(), candidates, strict=True):
        x = _rates(running, places[:, :, None], table)
        raw.append(np.einsum("hpb,hb->hp", x**2, weights))
        columns.append(x - (np.einsum("hpb,hb->hp", x, weights) / total[:, None])[:, :, None])
    explained = (
        _explained_by_one(columns[0], rate, weights, raw[0])
        if len(columns) == 1
        else _explained_by_two(columns, rate, weights, raw, candidates)
    )
    best = np.argmax(explained.reshape(len(rate), -1), axis=1)
    found = np.unravel_index(best, explained.shape[1:])
    homes = np.arange(len(rate))
    spread = [np.broadcast_to(places, (len(rate), places.shape[1])) for places in candidates]
    return np.stack([places[homes, at] for places, at in zip(spread, found, strict=True)], axis=-1)


def _explained_by_one(x: Array, rate: Array, weights: Array, raw: Array) -> Array:
    """Squares a line on the column takes away; homes by places."""
    xx = np.einsum("hpb,hb->hp", x**2, weights)
    xy = np.einsum("hpb,hb->hp", x, weights * rate)
    tells = xx > FLAT * raw
    return np.where(tells, xy**2 / np.where(tells, xx, 1.0), -1.0)


def _explained_by_two(
    columns: list[Array], rate: Array, weights: Array, raw: list[Array], candidates: list[Days]
) -> Array:
    """Squares a plane on both columns takes away; homes by heating by cooling places."""
    heating, cooling = columns
    hh = np.einsum("hpb,hb->hp", heating**2, weights)[:, :, None]
    cc = np.einsum("hpb,hb->hp", cooling**2, weights)[:, None, :]
    hc = (heating * weights[:, None]) @ np.swapaxes(cooling, 1, 2)
    hy = np.einsum("hpb,hb->hp", heating, weights * rate)[:, :, None]
    cy = np.einsum("hpb,hb->hp", cooling, weights * rate)[:, None, :]
    determinant = hh * cc - hc**2
    tells = (
        (hh > FLAT * raw[0][:, :, None])
        & (cc > FLAT * raw[1][:, None, :])
        & (determinant > FLAT * hh * cc)
        & (candidates[0][:, :, None] <= candidates[1][:, None, :])
    )
    taken = hy**2 * cc - 2 * hy * cy * hc + cy**2 * hh
    return np.where(tells, taken / np.where(tells, determinant, 1.0), -1.0)


def _rates(running: Array, places: Days, table: BillTable) -> Array:
    """Degree days a day of each bill at the places; 0 where there is no bill."""
    closing = running[places, (table.first + table.days)[:, None]]
    opening = running[places, table.first[:, None]]
    return np.asarray((closing - opening) / np.maximum(table.days, 1)[:, None])


def _design(table: BillTable, sums: dict[Side, Array], places: Days) -> Array:
    """Columns of the linear part at each home's own bases; homes by bills by 1 + sides."""
    columns = [
        _rates(running, places[:, [side], None], table)[:, 0]
        for side, running in enumerate(sums.values())
    ]
    return np.stack([np.ones_like(table.rate), *columns], axis=-1)


def _solved(design: Array, rate: Array, weights: Array) -> Array:
    root = np.sqrt(weights)
    inverse = np.linalg.pinv(design * root[..., None])
    return np.asarray(np.einsum("hpb,hb->hp", inverse, rate * root))


def _shares(
    table: BillTable, weather: Weather, places: Days, *, model: Model, search: Search
) -> Array:
    """Share of each bill's days beyond the bases, with the sign a higher base gives it."""
    columns = []
    for side, name in enumerate(model.sides):
        running = running_days(temperature=weather.temperature, bases=search.bases, side=name)
        share = _rates(running, places[:, [side], None], table)[:, 0]
        columns.append(share if name is Side.HEATING else -share)
    return np.stack(columns, axis=-1)
