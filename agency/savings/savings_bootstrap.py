"""The saving of a normal year as a range, by fitting resampled bills again."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.savings.bills import BillTable
from agency.savings.change_point import Fits, fit_change_points
from agency.savings.errors import BillError
from agency.savings.normal_year import normalized_annual
from agency.savings.showing import Range
from agency.savings.uncertainty import FEWEST_TRIALS

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trials:
    """Yearly energies of the fitted model and of its trials. [J]"""

    fitted: float
    drawn: Array

    def range_of(self, *, confidence: float) -> Range:
        """The fitted value with the ends of the middle share of the trials."""
        tail = (1 - confidence) / 2
        low, high = np.quantile(self.drawn, [tail, 1 - tail])
        return Range(low=float(low), central=self.fitted, high=float(high))


def bootstrap_saving(
    *, before: Fits, after: Fits, home: int, normal: ArrayLike, trials: int, seed: int
) -> Trials:
    """Saving of one home; the same seed gives the same trials.

    Parameters
    ----------
    before, after : Fits
        Both holding the home at the same place.
    normal : array of 365
        [°C]

    Notes
    -----
    Bases are searched again in each trial, so their uncertainty counts in full. Residuals are
    drawn one by one: their autocorrelation, if any, is lost, and the range is then too narrow.
    """
    rng_before, rng_after = np.random.default_rng(seed).spawn(2)
    was = _resampled(before, home=home, normal=normal, trials=trials, rng=rng_before)
    now = _resampled(after, home=home, normal=normal, trials=trials, rng=rng_after)
    return Trials(fitted=was.fitted - now.fitted, drawn=was.drawn - now.drawn)


def bootstrap_normal_year(
    fits: Fits, *, home: int, normal: ArrayLike, trials: int, seed: int
) -> Trials:
    """Yearly energy (NAC) of one home; as `bootstrap_saving`."""
    rng = np.random.default_rng(seed)
    return _resampled(fits, home=home, normal=normal, trials=trials, rng=rng)


def _resampled(
    fits: Fits, *, home: int, normal: ArrayLike, trials: int, rng: np.random.Generator
) -> Trials:
    """All trials are homes of one table, so one call fits them."""
    if trials < FEWEST_TRIALS:
        raise BillError(f"{trials} trials are too few; draw at least {FEWEST_TRIALS}.")
    free = fits.degrees_of_freedom[home]
    if np.isnan(free):
        raise BillError(
            f"{int(fits.bills[home])} bills are too few for the {fits.model} model to have a "
            "range. Add bills."
        )
    billed = fits.table.days[home] > 0
    root = np.sqrt(fits.weights[home, billed])
    alike = fits.residuals[home, billed] * root
    # A fit takes freedom from its residuals; inflated, they spread as the errors did.
    alike *= np.sqrt(len(alike) / free)
    drawn = rng.choice(alike, size=(trials, len(alike)))
    days, first = fits.table.days[home, billed], fits.table.first[home, billed]
    table = BillTable(
        rate=fits.predicted[home, billed] + drawn / root,
        days=np.broadcast_to(days, drawn.shape),
        first=np.broadcast_to(first, drawn.shape),
    )
    again = fit_change_points(table, fits.weather, model=fits.model, search=fits.search)
    return Trials(
        fitted=float(normalized_annual(fits, normal=normal).energy[home]),
        drawn=normalized_annual(again, normal=normal).energy,
    )
