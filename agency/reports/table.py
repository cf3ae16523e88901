"""A table with typed columns whose headers name the unit: what CSV, XLSX and tests read."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from .rows import Range

Cell = str | int | float | date | None
"""None stands for not measured and becomes an empty cell."""

PERCENT = 0.01
"""One percent as a share. [-]"""


class Kind(StrEnum):
    """What a column holds; it decides the type of every cell below the header."""

    TEXT = "text"
    WHOLE = "whole"
    NUMBER = "number"
    DATE = "date"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A header that names the unit, and the kind of its cells."""

    name: str
    kind: Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: one sheet of a workbook, one CSV file."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]


def columns(*named: tuple[str, Kind]) -> tuple[Column, ...]:
    """Columns from their names and kinds."""
    return tuple(Column(name=name, kind=kind) for name, kind in named)


def range_columns(what: str, unit: str) -> list[tuple[str, Kind]]:
    """Three columns for a figure with the two ends of its range."""
    return [(f"{what}_{end}_{unit}", Kind.NUMBER) for end in ("low", "central", "high")]


def range_cells(figures: Range | None) -> tuple[Cell, ...]:
    """The cells under them."""
    if figures is None:
        return (None, None, None)
    return (figures.low, figures.central, figures.high)


def scaled(value: float | None, one_unit: float) -> float | None:
    """A value in SI counted in units of `one_unit`, unrounded."""
    return None if value is None else value / one_unit
