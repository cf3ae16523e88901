"""Which counts must be withheld so that no small one can be read or computed back.

A count from 1 to one less than the smallest told is withheld; 0 is told, for nobody stands behind
it. Whoever knows all other counts, and which of them add up to which, must not be able to work a
withheld one out, so further counts are withheld until nothing is determined any more.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

Array = NDArray[np.float64]
UNBOUNDED = 3
"""Status of a linear programme without an optimum."""
DETERMINED = 0.999
"""A range shorter than one holds one whole number at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sum:
    """One count is the sum of others, and the reader knows it."""

    total: str
    parts: tuple[str, ...]

    @property
    def cells(self) -> tuple[str, ...]:
        """All counts of the sum."""
        return (self.total, *self.parts)


def withheld(counts: Mapping[str, int], sums: Sequence[Sum], *, smallest: int) -> frozenset[str]:
    """The counts to withhold.

    Parameters
    ----------
    counts : mapping of name to count
        Every count that would be told, and every difference a reader would take of two.
    sums : sequence of Sum
        What adds up to what. A sum that does not hold is refused.
    smallest : int
        The smallest count that may be told.
    """
    for one in sums:
        if counts[one.total] != sum(counts[part] for part in one.parts):
            raise ValueError(f"{one.total} is not the sum of its parts.")
    hidden = {name for name, count in counts.items() if 0 < count < smallest}
    while lone := [one for one in sums if len(hidden.intersection(one.cells)) == 1]:
        hidden.add(_companion(counts, hidden, lone, sums))
    while exposed := _determined(counts, sums, hidden):
        near = [one for one in sums if exposed in one.cells]
        hidden.add(_companion(counts, hidden, near, sums))
    return frozenset(hidden)


def _companion(
    counts: Mapping[str, int], hidden: set[str], near: Sequence[Sum], far: Sequence[Sum]
) -> str:
    """One more count for the sums near, else for those far: a part rather than a total, one in
    many of them, then a small one.

    A zero comes last, for a reader who sees it withheld takes it for one.
    """
    totals = Counter(one.total for one in far)

    def rank(name: str) -> tuple[bool, int, int, int, str]:
        paired = sum(name in one.cells for one in near)
        return (counts[name] == 0, totals[name], -paired, counts[name], name)

    for choices in (near, far):
        open_to = {name for one in choices for name in one.cells} - hidden
        if any(counts[name] for name in open_to):
            return min(open_to, key=rank)
    return min(counts.keys() - hidden, key=rank)


def _determined(counts: Mapping[str, int], sums: Sequence[Sum], hidden: set[str]) -> str | None:
    """A withheld count that a reader of all the others can work out; None when there is none."""
    names = sorted(hidden)
    place = {name: number for number, name in enumerate(names)}
    touched = [one for one in sums if any(name in place for name in one.cells)]
    if not touched:
        return None
    equations = np.zeros((len(touched), len(names)))
    right = np.zeros(len(touched))
    for row, one in enumerate(touched):
        for name, sign in [(one.total, -1.0), *((part, 1.0) for part in one.parts)]:
            if name in place:
                equations[row, place[name]] += sign
            else:
                right[row] -= sign * counts[name]
    truth = np.array([counts[name] for name in names], float)
    return _first_fixed(names, equations, right, truth)


def _first_fixed(names: Sequence[str], equations: Array, right: Array, truth: Array) -> str | None:
    """The first unknown that has one value in all solutions a reader holds possible."""
    known = np.abs(equations).sum(axis=0) > 0
    # Zeros are told, so a reader knows that what is withheld is at least one.
    bounds = [(min(1.0, one), None) for one in truth]
    low, high = truth.copy(), truth.copy()
    for column, name in enumerate(names):
        if not known[column]:
            continue
        for sign in (1.0, -1.0):
            # Any other solution shows at once that many of the unknowns are not determined.
            if high[column] - low[column] >= DETERMINED:
                break
            goal = np.zeros(len(names))
            goal[column] = sign
            found = linprog(goal, A_eq=equations, b_eq=right, bounds=bounds, method="highs")
            if found.status == UNBOUNDED:
                high[column] = np.inf
                break
            low, high = np.minimum(low, found.x), np.maximum(high, found.x)
        if high[column] - low[column] < DETERMINED:
            return name
    return None
