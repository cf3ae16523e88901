"""Small counts can neither be read nor be computed back by one who knows all the others."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agency.reports.withholding import Sum, withheld


def table(cells: list[list[int]]) -> tuple[dict[str, int], list[Sum]]:
    """Counts of a table with its margins, and all its sums."""
    rows, columns = range(len(cells)), range(len(cells[0]))
    counts = {f"{r}{c}": cells[r][c] for r in rows for c in columns}
    counts |= {f"{r}t": sum(cells[r]) for r in rows}
    counts |= {f"t{c}": sum(cells[r][c] for r in rows) for c in columns}
    counts["tt"] = sum(map(sum, cells))
    sums = [Sum(total=f"{r}t", parts=tuple(f"{r}{c}" for c in columns)) for r in rows]
    sums += [Sum(total=f"t{c}", parts=tuple(f"{r}{c}" for r in rows)) for c in columns]
    sums.append(Sum(total="tt", parts=tuple(f"{r}t" for r in rows)))
    sums.append(Sum(total="tt", parts=tuple(f"t{c}" for c in columns)))
    return counts, sums


def readings(counts: dict[str, int], hidden: frozenset[str]) -> dict[str, np.ndarray]:
    """Every filling of a 2 by 2 table that the told counts allow, by trying all of them.

    Whatever is withheld is at least 1, for zeros are told.
    """
    a, b, c, d = np.indices((counts["tt"] + 4,) * 4)
    filled = {"00": a, "01": b, "10": c, "11": d}
    filled |= {"0t": a + b, "1t": c + d, "t0": a + c, "t1": b + d, "tt": a + b + c + d}
    allowed = np.ones(a.shape, bool)
    for name, n in counts.items():
        allowed &= filled[name] >= 1 if name in hidden else filled[name] == n
    return {name: values[allowed] for name, values in filled.items()}


@settings(max_examples=40)
@given(st.lists(st.integers(0, 6), min_size=4, max_size=4))
def test_no_withheld_count_of_a_small_table_can_be_worked_out(cells: list[int]) -> None:
    """By brute force, which knows nothing of linear programmes."""
    counts, sums = table([cells[:2], cells[2:]])
    hidden = withheld(counts, sums, smallest=3)
    assert {name for name, n in counts.items() if 0 < n < 3} <= hidden
    possible = readings(counts, hidden)
    assert not [name for name in hidden if np.ptp(possible[name]) == 0]


def test_single_small_cell_takes_a_rectangle_with_it() -> None:
    counts, sums = table([[3, 40, 50], [20, 30, 60], [25, 35, 45]])
    hidden = withheld(counts, sums, smallest=10)
    assert "00" in hidden
    # One more in its row, one in its column, and the corner across; common practice, no source.
    assert len(hidden) == 4
    assert not any("t" in name for name in hidden)


def test_zeros_are_told() -> None:
    counts, sums = table([[0, 40, 50], [20, 0, 60], [25, 35, 0]])
    assert withheld(counts, sums, smallest=10) == frozenset()


def test_two_withheld_that_can_only_be_one_each_draw_in_a_third() -> None:
    """a + b = 2 and both at least 1: both are known, though two are withheld."""
    counts = {"all": 62, "a": 1, "b": 1, "c": 60}
    hidden = withheld(counts, [Sum(total="all", parts=("a", "b", "c"))], smallest=10)
    assert hidden > {"a", "b"}


def test_difference_of_two_told_counts_is_withheld_too() -> None:
    """97 of 100 tells that 3 are not among them."""
    counts = {"units": 100, "pairs": 97, "rest": 3}
    hidden = withheld(counts, [Sum(total="units", parts=("pairs", "rest"))], smallest=10)
    assert len(hidden) >= 2


def test_sum_that_does_not_hold_is_refused() -> None:
    with pytest.raises(ValueError, match="all is not the sum"):
        withheld({"all": 5, "a": 1}, [Sum(total="all", parts=("a",))], smallest=10)
