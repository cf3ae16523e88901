"""Times 8,760 hours x 1,000 houses against the shortest numpy loop that gives the same sums.

Run: python -m tests.benchmarks.bench_infiltration
"""

import time
import tracemalloc
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from agency.leakage.infiltration import basic_coefficients, basic_mean_flow
from agency.savings.infiltration_energy import Hours, heating_load_by_house

Array = NDArray[np.float64]

HOUSES, HOURS, BLOCK, ROUNDS = 1_000, 8_760, 16, 5
DENSITY, BALANCE_OFFSET = 1.2, 3.0


def floor_mean_flow(area: Array, stack: Array, wind: Array, indoors: Array, year: Hours) -> Array:
    """Mean flows with nothing but numpy in blocks: no checks, no names, one buffer."""
    means, squared = np.empty(HOUSES), year.wind_speed**2
    for start in range(0, HOUSES, BLOCK):
        some = slice(start, start + BLOCK)
        drive = np.abs(indoors[some, None] - year.temperature)
        drive *= stack[some, None]
        drive += wind[some, None] * squared
        np.sqrt(drive, out=drive)
        means[some] = drive.mean(axis=1)
    return means * area * 10


def floor_heating(area: Array, stack: Array, wind: Array, indoors: Array, year: Hours) -> Array:
    """Heating loads likewise, over the hours that can need heating."""
    cold = year.temperature < indoors.max() - BALANCE_OFFSET
    temperature, squared = year.temperature[cold], year.wind_speed[cold] ** 2
    loads = np.empty(HOUSES)
    for start in range(0, HOUSES, BLOCK):
        some = slice(start, start + BLOCK)
        warmer = indoors[some, None] - temperature
        drive = np.abs(warmer)
        drive *= stack[some, None]
        drive += wind[some, None] * squared
        np.sqrt(drive, out=drive)
        warmer -= BALANCE_OFFSET
        np.maximum(warmer, 0, out=warmer)
        loads[some] = np.einsum("ij,ij->i", drive, warmer)
    return loads * area * 10 * DENSITY * 0.24 * 4186.8 * 3600


def best_of(work: Callable[[], Array]) -> tuple[float, float, Array]:
    """Fastest of some rounds in seconds, peak memory in MB of one more, and the answer."""
    answer, times = work(), []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    tracemalloc.start()
    work()
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    return min(times), peak, answer


def main() -> None:
    """Print one line a task: ours, the floor, their ratio, the peak memory of both."""
    rng = np.random.default_rng(1)
    year = Hours(
        temperature=rng.normal(8, 11, HOURS),
        wind_speed=rng.gamma(3, 1.3, HOURS),
        humidity_ratio=rng.uniform(0.001, 0.015, HOURS),
    )
    area, indoors = rng.uniform(0.02, 0.2, HOUSES), rng.uniform(18, 22, HOUSES)
    coefficients = basic_coefficients(
        storeys=rng.uniform(1, 3, HOUSES), shelter_class=rng.integers(1, 6, HOUSES)
    )
    stack, wind = coefficients.stack, coefficients.wind
    tasks = {
        "mean flow": (
            lambda: basic_mean_flow(
                leakage_area=area, coefficients=coefficients, indoor_temperature=indoors,
                outdoor_temperature=year.temperature, wind_speed=year.wind_speed,
            ),
            lambda: floor_mean_flow(area, stack, wind, indoors, year),
        ),
        "heating load": (
            lambda: heating_load_by_house(
                leakage_area=area, coefficients=coefficients, setpoint=indoors,
                balance=indoors - BALANCE_OFFSET, hours=year, density=DENSITY,
            ),
            lambda: floor_heating(area, stack, wind, indoors, year),
        ),
    }  # fmt: skip
    print(f"{HOUSES:,} houses x {HOURS:,} hours, best of {ROUNDS}")
    for name, (ours, floor) in tasks.items():
        seconds, peak, found = best_of(ours)
        floor_seconds, floor_peak, expected = best_of(floor)
        np.testing.assert_allclose(found, expected, rtol=1e-10)
        print(
            f"{name:13} ours {seconds:.3f} s, floor {floor_seconds:.3f} s, "
            f"ratio {seconds / floor_seconds:.2f}; "
            f"peak ours {peak:.1f} MB, floor {floor_peak:.1f} MB"
        )


if __name__ == "__main__":
    main()
