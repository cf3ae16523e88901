"""The raw readings of a test run as tables, every cell findable by its path in the document."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Self

from agency.diagnostics.document_parts import Dimensions, TestDocument
from agency.diagnostics.forms.envelope import Baseline, EnvelopeDocument, Point, Series
from agency.wording import words

UNITS: Mapping[str, str] = {
    "inH2O": "in. w.c.",
    "m3/h": "m³/h",
    "m3/s": "m³/s",
    "degF": "°F",
    "degC": "°C",
    "inHg": "in. Hg",
    "in2": "in²",
    "cm2": "cm²",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One reading as it came. An empty anchor is a cell that is not a reading."""

    anchor: str
    text: str
    is_missing: bool = False
    is_figure: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One named reading outside the tables."""

    name: str
    cell: Cell


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One station of a series, with what the checks say about it."""

    number: int
    anchor: str
    cells: Sequence[Cell]
    remarks: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One series: its direction, columns with their units, rows."""

    anchor: str
    title: str
    baselines: Sequence[Fact]
    columns: Sequence[str]
    rows: Sequence[Row]
    noun: str = "point"

    @property
    def is_remarked(self) -> bool:
        """A check speaks of one of the rows."""
        return any(row.remarks for row in self.rows)

    @property
    def headings(self) -> list[tuple[str, bool]]:
        """Each column with whether it holds figures."""
        figures = [all(cells) for cells in zip(*self._figures, strict=False)]
        return list(zip(self.columns, figures or [True] * len(self.columns), strict=False))

    @property
    def _figures(self) -> list[list[bool]]:
        return [[cell.is_figure for cell in row.cells] for row in self.rows]


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """Everything the phone sent, in the order a reviewer reads it."""

    tables: Sequence[Table]
    conditions: Sequence[Fact]
    setup: Sequence[Fact]
    devices: Sequence[Fact]
    note: str
    taken: Sequence[Fact] = ()
    """Single readings of a bench test."""

    @property
    def anchors(self) -> set[str]:
        """Every path that can be linked to."""
        facts = [*self.taken, *self.conditions, *self.setup, *self.devices]
        found = {fact.cell.anchor for fact in facts}
        for table in self.tables:
            found |= {table.anchor} | {fact.cell.anchor for fact in table.baselines}
            for row in table.rows:
                found |= {row.anchor} | {cell.anchor for cell in row.cells}
        return found - {""}


def as_read(value: float | None) -> str:
    """A number with every digit it was sent with."""
    return words.number(value, 0 if value is None else decimals_of(value))


def decimals_of(value: float) -> int:
    """How many decimals the number was sent with."""
    exponent = Decimal(repr(value)).normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def envelope_readings(document: EnvelopeDocument, remarks: list[tuple[str, str]]) -> Readings:
    """The readings of a tightness test."""
    tables = [
        _table(document, number, series, remarks) for number, series in enumerate(document.series)
    ]
    return Readings(
        tables=tables,
        conditions=[*conditions_facts(document), *dimensions_facts(document)],
        setup=setup_facts(document),
        devices=device_facts(document),
        note=document.note,
    )


def setup_facts(document: TestDocument) -> list[Fact]:
    """How the house was set up, as answered."""
    return [
        fact_of(f"setup.{name}", words.coded(name), words.coded(answer))
        for name, answer in document.setup.items()
    ]


def nearest(anchors: set[str], path: str) -> str:
    """The path itself if it is on the page, else the closest part around it, else nothing."""
    while path and path not in anchors:
        path = re.sub(r"(\.[^.\[]+|\[\d+\]|^[^.\[]+)$", "", path)
    return path


def fact_of(anchor: str, name: str, text: str) -> Fact:
    missing = text == words.NOT_MEASURED
    return Fact(name=name, cell=Cell(anchor=anchor, text=text, is_missing=missing))


def with_unit(value: float | None, unit: str | None) -> str:
    if value is None:
        return words.NOT_MEASURED
    return f"{as_read(value)}{words.THIN_SPACE}{UNITS.get(unit or '', unit or '')}".rstrip()


def conditions_facts(document: TestDocument) -> Iterable[Fact]:
    air, units = document.conditions, document.units
    for name, word, unit in (
        ("indoor_temperature", "Temperature inside", units.temperature),
        ("outdoor_temperature", "Temperature outside", units.temperature),
        ("wind_speed", "Wind speed", units.wind_speed),
        ("barometric_pressure", "Barometer, at the station", units.barometer),
        ("elevation", "Elevation", units.length),
    ):
        yield fact_of(f"conditions.{name}", word, with_unit(getattr(air, name), unit))
    for name, word in (
        ("indoor_humidity", "Relative humidity inside"),
        ("outdoor_humidity", "Relative humidity outside"),
    ):
        yield fact_of(f"conditions.{name}", word, words.percent(getattr(air, name)))


def dimensions_facts(document: TestDocument) -> Iterable[Fact]:
    sizes = document.house or Dimensions()
    unit = document.units.length or ""
    for name, word, power in (
        ("floor_area", "Floor area on the phone", "²"),
        ("volume", "Volume on the phone", "³"),
        ("height", "Height on the phone", ""),
        ("envelope_area", "Envelope area on the phone", "²"),
    ):
        yield fact_of(f"house.{name}", word, with_unit(getattr(sizes, name), unit + power))


def device_facts(document: TestDocument) -> list[Fact]:
    """Gauge, fans, and what the phone showed."""
    facts = []
    gauge = document.gauge
    if gauge is not None:
        done = [
            word
            for word, is_done in (
                ("baseline already subtracted", gauge.baseline_subtracted),
                ("air density already corrected", gauge.density_corrected),
            )
            if is_done
        ]
        by_gauge = f" ({', '.join(done)} by the gauge)" if done else ""
        facts.append(fact_of("gauge.serial", "Pressure gauge", f"{gauge.serial}{by_gauge}"))
    facts += [
        fact_of(f"fans[{number}].serial", f"Fan {number + 1}", fan.serial)
        for number, fan in enumerate(document.fans)
    ]
    if document.app is not None:
        preview = with_unit(document.app.flow_50, document.units.flow)
        shown = f"flow at 50 Pa {preview}, app {document.app.version}"
        facts.append(fact_of("app.flow_50", "Shown on the phone", shown))
    return facts


def _baseline(anchor: str, name: str, baseline: Baseline | None, unit: str) -> Fact:
    if baseline is None:
        return fact_of(anchor, name, words.NOT_MEASURED)
    seconds = f" over {as_read(baseline.seconds)}{words.THIN_SPACE}s" if baseline.seconds else ""
    if baseline.samples is not None:
        decimals = most_decimals(baseline.samples)
        listed = ", ".join(words.number(one, decimals) for one in baseline.samples)
        count = words.count(len(baseline.samples), "sample")
        return fact_of(anchor, name, f"{count}{seconds}, {unit}: {listed}")
    signed = [
        f"{word} {as_read(mean)}"
        for word, mean in (
            ("mean of the positive", baseline.positive_mean),
            ("mean of the negative", baseline.negative_mean),
        )
        if mean is not None
    ]
    text = f"mean {with_unit(baseline.mean, unit)}{seconds}"
    return fact_of(anchor, name, "; ".join([text, *signed]))


def _table(
    document: EnvelopeDocument, number: int, series: Series, remarks: list[tuple[str, str]]
) -> Table:
    here = f"series[{number}]"
    pressure = UNITS.get(document.units.pressure, document.units.pressure)
    shape = _Shape.of(series.points)
    return Table(
        anchor=here,
        title=words.coded(series.direction),
        baselines=[
            _baseline(
                f"{here}.baseline_before", "Baseline before", series.baseline_before, pressure
            ),
            _baseline(f"{here}.baseline_after", "Baseline after", series.baseline_after, pressure),
        ],
        columns=_columns(shape, pressure, document.units.flow or ""),
        rows=[
            _row(f"{here}.points[{p}]", p, point, shape, remarks)
            for p, point in enumerate(series.points)
        ],
    )


def _columns(shape: "_Shape", pressure: str, flow: str) -> list[str]:
    columns = [f"House pressure, {pressure}"]
    for fan in range(shape.fans):
        which = f" {fan + 1}" if shape.fans > 1 else ""
        columns += [f"Fan{which}", f"Fan{which} pressure, {pressure}"]
    if shape.has_flow:
        columns.append(f"Flow, {UNITS.get(flow, flow)}")
    return [*columns, "Seconds"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    """Columns that a series needs, and the decimals of each kind of reading in it."""

    fans: int
    has_flow: bool
    building: int
    fan: int
    flow: int
    seconds: int

    @classmethod
    def of(cls, points: Sequence[Point]) -> Self:
        """What all points together need."""
        fan_pressures = [fan.fan_pressure for point in points for fan in point.fans]
        return cls(
            fans=max(len(point.fans) for point in points),
            has_flow=any(point.flow is not None for point in points),
            building=most_decimals(point.building_pressure for point in points),
            fan=most_decimals(fan_pressures),
            flow=most_decimals(point.flow for point in points),
            seconds=most_decimals(point.seconds for point in points),
        )


def _row(
    here: str, number: int, point: Point, shape: _Shape, remarks: list[tuple[str, str]]
) -> Row:
    cells = [_reading(f"{here}.building_pressure", point.building_pressure, shape.building)]
    for f in range(shape.fans):
        if f >= len(point.fans):
            cells += [Cell(anchor="", text=""), Cell(anchor="", text="")]
            continue
        fan = point.fans[f]
        which = f"{fan.serial}, {fan.configuration}"
        cells.append(Cell(anchor=f"{here}.fans[{f}].configuration", text=which))
        cells.append(_reading(f"{here}.fans[{f}].fan_pressure", fan.fan_pressure, shape.fan))
    if shape.has_flow:
        cells.append(_reading(f"{here}.flow", point.flow, shape.flow))
    cells.append(_reading(f"{here}.seconds", point.seconds, shape.seconds))
    told = [message for field, message in remarks if field == here or field.startswith(f"{here}.")]
    if point.excluded:
        told.insert(0, f"Left out by the crew: {point.excluded}")
    return Row(number=number + 1, anchor=here, cells=cells, remarks=told)


def _reading(anchor: str, value: float | None, decimals: int) -> Cell:
    text = words.number(value, decimals)
    return Cell(anchor=anchor, text=text, is_missing=value is None)


def most_decimals(values: Iterable[float | None]) -> int:
    """Decimals of a column: as many as its most exact reading has."""
    return max((decimals_of(value) for value in values if value is not None), default=0)
