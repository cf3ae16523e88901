"""Times 1,000 bill fits together against loops over homes, each read on days of its own.

Run: python -m tests.benchmarks.bench_bills
"""

import time
from collections.abc import Callable
from datetime import date

import numpy as np
import statsmodels.api as sm
from numpy.typing import NDArray

from agency.savings.bills import BillTable, Weather
from agency.savings.change_point import Model, Search, fit_change_points

Array = NDArray[np.float64]

HOMES, IN_LOOP, ROUNDS, SHIFT = 1_000, 5, 3, 30
LENGTHS = np.array([30, 31, 29, 33, 30, 28, 31, 32, 28, 30, 31, 30])
OPENINGS = np.cumsum(LENGTHS) - LENGTHS
SEARCH = Search(lowest=7.0, highest=22.0, coarse=5, fine=0.05)


def degree_days(bases: Array, temperature: Array, shift: int) -> Array:
    """Heating degree days a day of one home's bills, bases by bills."""
    beyond = np.maximum(0, bases[:, None] - temperature[shift : shift + LENGTHS.sum()])
    return np.add.reduceat(beyond, OPENINGS, axis=1) / LENGTHS


def library_base(rate: Array, columns: Array) -> float:
    """Best base of one home by a weighted regression of statsmodels for each base."""
    squares = [
        sm.WLS(rate, sm.add_constant(x, has_constant="add"), weights=LENGTHS).fit().ssr
        for x in columns
    ]
    return float(SEARCH.bases[int(np.argmin(squares))])


def numpy_base(rate: Array, columns: Array) -> float:
    """The same with numpy alone: all bases of the home in one stacked solve."""
    root = np.sqrt(LENGTHS)
    designs = np.stack([np.ones_like(columns), columns], axis=-1) * root[:, None]
    y = rate * root
    left = y - np.einsum("kbp,kp->kb", designs, np.linalg.pinv(designs) @ y)
    return float(SEARCH.bases[int(np.argmin((left**2).sum(axis=1)))])


def best_of(work: Callable[[], Array], rounds: int) -> tuple[float, Array]:
    """Fastest of some rounds in seconds, and the answer."""
    times, answer = [], np.empty(0)
    for _ in range(rounds):
        start = time.perf_counter()
        answer = work()
        times.append(time.perf_counter() - start)
    return min(times), answer


def main() -> None:
    """Print each time, and the ratios, after checking that the bases agree."""
    rng = np.random.default_rng(1)
    days = np.arange(LENGTHS.sum() + SHIFT)
    season = 11 - 12 * np.cos(2 * np.pi * (days - 15) / 365)
    temperature = season + 3 * rng.standard_normal(len(days))
    weather = Weather(first_day=date(2025, 1, 1), temperature=temperature)
    shifts = rng.integers(0, SHIFT, HOMES)
    truth = rng.uniform(10, 18, (HOMES, 1))
    heat = [degree_days(b, temperature, s)[0] for b, s in zip(truth, shifts, strict=True)]
    rates = 20 + 4 * np.array(heat) + rng.standard_normal((HOMES, 12))
    table = BillTable(
        rate=rates, days=np.tile(LENGTHS, (HOMES, 1)), first=OPENINGS + shifts[:, None]
    )

    def together(model: Model) -> Array:
        return fit_change_points(table, weather, model=model, search=SEARCH).bases[:, 0]

    def loop(one: Callable[[Array, Array], float], homes: int) -> Array:
        some = zip(rates[:homes], shifts[:homes], strict=True)
        return np.array([one(rate, degree_days(SEARCH.bases, temperature, s)) for rate, s in some])

    ours, found = best_of(lambda: together(Model.HEATING), ROUNDS)
    five, _ = best_of(lambda: together(Model.BOTH), ROUNDS)
    plain, expected = best_of(lambda: loop(numpy_base, HOMES), ROUNDS)
    library, some = best_of(lambda: loop(library_base, IN_LOOP), ROUNDS)
    library *= HOMES / IN_LOOP
    np.testing.assert_allclose(some, expected[:IN_LOOP], atol=1e-9)
    apart = int((np.abs(found - expected) > 1e-9).sum())
    print(f"{HOMES:,} homes of 12 bills, {len(SEARCH.bases)} bases, best of {ROUNDS}")
    print(f"together, 3P: {ours:.3f} s, with errors and weights; 5P: {five:.3f} s")
    print(f"numpy loop over homes, 3P: {plain:.2f} s; ratio {plain / ours:.0f}")
    print(
        f"statsmodels loop, 3P: {library:.0f} s (timed on {IN_LOOP} homes, then scaled); "
        f"ratio {library / ours:.0f}"
    )
    print(f"bases that differ from the loop over all bases: {apart} of {HOMES:,}")


if __name__ == "__main__":
    main()
