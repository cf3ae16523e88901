"""The raw readings of a bench test, laid out as its form asks for them."""

from collections.abc import Iterator, Sequence

from agency.diagnostics.cautions import BY_CODE
from agency.diagnostics.document_parts import (
    UNIT_OF,
    Asked,
    Part,
    Reading,
    TestDocument,
    asked_of,
    readings_in,
)
from agency.wording import words

from .readings import (
    UNITS,
    Cell,
    Fact,
    Readings,
    Row,
    Table,
    as_read,
    conditions_facts,
    device_facts,
    dimensions_facts,
    fact_of,
    most_decimals,
    setup_facts,
)

COMMON = set(TestDocument.model_fields)
FIXED_UNITS = {"seconds": "s", "minutes": "min", "percent": "%", "ppm": "ppm"}
POWERS = {"floor_area": "²", "volume": "³"}


def bench_readings(document: TestDocument, remarks: list[tuple[str, str]]) -> Readings:
    """Single readings as facts, repeated ones as tables, then air, house and instruments."""
    return Readings(
        tables=list(_tables(document, remarks)),
        taken=list(_single(document)),
        conditions=[
            one
            for one in (*conditions_facts(document), *dimensions_facts(document))
            if not one.cell.is_missing
        ],
        setup=[*setup_facts(document), *_cautions(document)],
        devices=device_facts(document),
        note=document.note,
    )


def unit_of(asked: Asked, document: TestDocument) -> str:
    """The unit of a reading as it was sent, in print."""
    if asked.quantity not in UNIT_OF:
        return FIXED_UNITS.get(asked.quantity, "")
    named = getattr(document.units, UNIT_OF[asked.quantity]) or ""
    return UNITS.get(named, named) + POWERS.get(asked.quantity, "")


def _single(document: TestDocument) -> Iterator[Fact]:
    for name, field in type(document).model_fields.items():
        if name in COMMON:
            continue
        value, asked = getattr(document, name), asked_of(field)
        if asked is not None:
            yield _fact(Reading(path=name, asked=asked, value=value), document)
        elif isinstance(value, Part):
            for one in readings_in(value, name):
                yield _fact(one, document)


def _fact(reading: Reading, document: TestDocument) -> Fact:
    text = _words(reading.value)
    unit = unit_of(reading.asked, document)
    if reading.value is not None and unit:
        text = f"{text}{words.THIN_SPACE}{unit}"
    if reading.asked.quantity == "pressure" and isinstance(reading.value, float):
        text = f"{text} ({_twin(reading.value, document.units.pressure)})"
    return fact_of(reading.path, reading.asked.label, text)


def _twin(pressure: float, unit: str) -> str:
    """The same pressure in the other unit."""
    if unit == "Pa":
        return words.quantity(pressure / words.INCH_OF_WATER, "in. w.c.", 3)
    return words.quantity(pressure * words.INCH_OF_WATER, "Pa", 1)


def _words(value: object) -> str:
    if value is None:
        return words.NOT_MEASURED
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return as_read(value)
    if isinstance(value, list):
        return ", ".join(_words(one) for one in value)
    return words.coded(value) if isinstance(value, str) else str(value)


def _tables(document: TestDocument, remarks: list[tuple[str, str]]) -> Iterator[Table]:
    for name, field in type(document).model_fields.items():
        value = getattr(document, name)
        if name in COMMON or asked_of(field) is not None or not isinstance(value, list):
            continue
        if value:
            title = field.title or words.coded(name)
            yield _table(name, title, value, document, remarks)


def _table(
    name: str,
    title: str,
    parts: Sequence[Part],
    document: TestDocument,
    remarks: list[tuple[str, str]],
) -> Table:
    rows = [{one.path: one for one in readings_in(part)} for part in parts]
    columns: dict[str, Asked] = {}
    for row in rows:
        columns |= {path: one.asked for path, one in row.items()}
    # A column nobody filled in says nothing; the form says what was asked.
    columns = {
        path: asked
        for path, asked in columns.items()
        if any(path in row and row[path].value is not None for row in rows)
    }
    decimals = {
        path: most_decimals(
            row[path].value if path in row and isinstance(row[path].value, float) else None
            for row in rows
        )
        for path in columns
    }
    return Table(
        anchor=name,
        title=title,
        baselines=(),
        noun="row",
        columns=[_heading(asked, document) for asked in columns.values()],
        rows=[
            Row(
                number=number + 1,
                anchor=f"{name}[{number}]",
                cells=[
                    _cell(f"{name}[{number}]", path, row.get(path), decimals[path])
                    for path in columns
                ],
                remarks=_remarks_at(f"{name}[{number}]", remarks),
            )
            for number, row in enumerate(rows)
        ],
    )


def _remarks_at(here: str, remarks: list[tuple[str, str]]) -> list[str]:
    return [text for field, text in remarks if field == here or field.startswith(f"{here}.")]


def _heading(asked: Asked, document: TestDocument) -> str:
    unit = unit_of(asked, document)
    return f"{asked.label}, {unit}" if unit else asked.label


def _cell(here: str, path: str, reading: Reading | None, decimals: int) -> Cell:
    if reading is None:
        return Cell(anchor="", text="")
    value = reading.value
    text = words.number(value, decimals) if isinstance(value, float) else _words(value)
    is_figure = value is None or isinstance(value, float)
    return Cell(anchor=f"{here}.{path}", text=text, is_missing=value is None, is_figure=is_figure)


def _cautions(document: TestDocument) -> Iterator[Fact]:
    for code, answer in document.cautions.items():
        name = BY_CODE[code].look_for if code in BY_CODE else words.coded(code)
        yield fact_of(f"cautions.{code}", name, words.coded(answer))
