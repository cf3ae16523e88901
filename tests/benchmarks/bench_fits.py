"""How much faster many fits together are than a loop; run it as a script, it is no test."""

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from agency.leakage.power_law import fit_power_law

RUNS, POINTS, IN_LOOP, REPEATS = 100_000, 10, 2_000, 7


def best(action: Callable[[], object]) -> float:
    """Shortest of several times; the machine has other work. [s]"""
    seconds = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        action()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def main() -> None:
    """Print both times and their ratio."""
    rng = np.random.default_rng(1)
    pressure = rng.uniform(10, 60, (RUNS, POINTS))
    flow = 0.05 * pressure**0.65 * np.exp(0.02 * rng.standard_normal(pressure.shape))

    def loop() -> list[object]:
        return [
            np.polyfit(np.log(p), np.log(q), 1)
            for p, q in zip(pressure[:IN_LOOP], flow[:IN_LOOP], strict=True)
        ]

    together = best(lambda: fit_power_law(pressure=pressure, flow=flow))
    in_loop = best(loop) * RUNS / IN_LOOP
    law = fit_power_law(pressure=pressure[:IN_LOOP], flow=flow[:IN_LOOP])
    apart = np.max(np.abs(law.exponent - np.array(loop())[:, 0]))
    print(f"{RUNS:,} runs of {POINTS} points, best of {REPEATS}")
    print(f"together, with errors, r² and t: {together:.3f} s")
    print(f"polyfit loop, line only: {in_loop:.2f} s (timed on {IN_LOOP:,} runs, then scaled)")
    print(f"ratio: {in_loop / together:.0f}; exponents differ by {apart:.0e} at most")


if __name__ == "__main__":
    main()
