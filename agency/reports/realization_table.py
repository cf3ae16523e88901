"""A grant's realization as a plain table, for the same safe export as the quarter report."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.utils import timezone

from agency.estimates.bill_studies import ProgramRealization
from agency.wording import words

from .rows import fuel_word
from .table import Cell, Column, Kind, Table

COLUMNS = (
    Column(name="job_number", kind=Kind.TEXT),
    Column(name="job_id", kind=Kind.TEXT),
    Column(name="fuel", kind=Kind.TEXT),
    Column(name="counted", kind=Kind.TEXT),
    Column(name="predicted_mmbtu", kind=Kind.NUMBER),
    Column(name="measured_mmbtu", kind=Kind.NUMBER),
    Column(name="measured_low_mmbtu", kind=Kind.NUMBER),
    Column(name="measured_high_mmbtu", kind=Kind.NUMBER),
    Column(name="left_out_because", kind=Kind.TEXT),
)


def realization_table(found: ProgramRealization) -> Table:
    """One row a home and fuel, the counted ones first."""
    rows = [_counted(one) for one in found.inputs["homes"]]
    rows += [_left_out(one) for one in found.inputs["left_out"]]
    return Table(name="homes", title="Homes", columns=COLUMNS, rows=tuple(rows))


def realization_head(found: ProgramRealization, *, now: datetime) -> tuple[tuple[str, Cell], ...]:
    """What the file says before its table: whose homes, how many, which rates, and the method."""
    figures = found.figures or {}
    return (
        ("report", "Measured over predicted savings"),
        ("program", str(found.program)),
        ("made_at", words.iso(now, timezone.get_current_timezone())),
        ("worked_out_at", words.iso(found.computed_at, timezone.get_current_timezone())),
        ("method", found.method),
        ("edition", found.edition),
        ("maths_version", found.maths_version),
        ("input_hash", found.input_hash),
        ("confidence", figures.get("confidence")),
        ("homes_and_fuels_counted", len(found.inputs["homes"])),
        ("homes_and_fuels_left_out", len(found.inputs["left_out"])),
        *_rates((figures.get("groups") or {}).get("all")),
        ("predicted", "Modelled: less air leakage only."),
        ("measured", "From bills before and after the work, in a normal year."),
        ("empty_cell", words.NOT_MEASURED),
    )


def _rates(group: Mapping[str, Any] | None) -> list[tuple[str, Cell]]:
    if group is None:
        return [("ratio_of_sums", "fewer than two homes")]
    return [
        (f"{name}{ending}", group[name][end])
        for name in ("ratio_of_sums", "mean_of_ratios")
        for ending, end in (("", "central"), ("_low", "low"), ("_high", "high"))
    ]


def _counted(one: Mapping[str, Any]) -> tuple[Cell, ...]:
    return (
        one["number"],
        one["job"],
        fuel_word(one["fuel"]),
        "yes",
        one["predicted"],
        one["measured"],
        one["low"],
        one["high"],
        "",
    )


def _left_out(one: Mapping[str, Any]) -> tuple[Cell, ...]:
    told = (one["number"], one["job"], fuel_word(one["fuel"]), "no")
    return (*told, None, None, None, None, one["reason"])
