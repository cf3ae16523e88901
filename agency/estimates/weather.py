"""Reads a typical weather year from an EPW or TMY3 file; nothing is filled in."""

import hashlib
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import numpy as np
import pandas as pd
from pvlib.iotools import read_epw as parse_epw
from pvlib.iotools import read_tmy3 as parse_tmy3

from agency.estimates.weather_year import Array, BadValue, Quality, WeatherFileError, WeatherYear

MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
LONGEST_STATION = 120
ELEVATIONS = (-500.0, 5000.0)
"""Where people live. [m]"""
MBAR = 100.0
"""[Pa]  Exact."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One quantity as a file holds it: name there, missing code, sensible range, scale to SI."""

    name: str
    missing: float
    low: float
    high: float
    scale: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How one kind of file is laid out."""

    kind: str
    header_rows: int
    fewest_fields: int
    most_fields: int
    columns: Mapping[str, Column]


# Ranges and missing codes: US DOE building simulation, Auxiliary Programs, EPW data dictionary:
# dry bulb, humidity and pressure read; dew point and wind from memory.
EPW = Layout(
    kind="EPW",
    header_rows=8,
    fewest_fields=22,
    most_fields=35,
    columns={
        "temperature": Column(name="temp_air", missing=99.9, low=-70, high=70),
        "dew_point": Column(name="temp_dew", missing=99.9, low=-70, high=70),
        "relative_humidity": Column(
            name="relative_humidity", missing=999, low=0, high=110, scale=0.01
        ),
        "pressure": Column(name="atmospheric_pressure", missing=999999, low=31_000, high=120_000),
        "wind_speed": Column(name="wind_speed", missing=999, low=0, high=40),
    },
)
# Missing code -9900: S. Wilcox and W. Marion, NREL/TP-581-43156, from memory.
TMY3 = Layout(
    kind="TMY3",
    header_rows=2,
    fewest_fields=68,
    most_fields=71,
    columns={
        "temperature": Column(name="temp_air", missing=-9900, low=-70, high=70),
        "dew_point": Column(name="temp_dew", missing=-9900, low=-70, high=70),
        "relative_humidity": Column(
            name="relative_humidity", missing=-9900, low=0, high=110, scale=0.01
        ),
        "pressure": Column(name="pressure", missing=-9900, low=310, high=1200, scale=MBAR),
        "wind_speed": Column(name="wind_speed", missing=-9900, low=0, high=40),
    },
)


def read_epw(path: Path) -> WeatherYear:
    """A complete year from an EPW file.

    Raises
    ------
    WeatherFileError
        Not an EPW file, or a year with gaps: the rows are named.
    """
    return _whole(_read_epw(path))


def read_epw_dropping_gaps(path: Path) -> WeatherYear:
    """A year from an EPW file without its bad rows; `quality` names what is left out."""
    return _read_epw(path)


def read_tmy3(path: Path) -> WeatherYear:
    """A complete year from a TMY3 file; refuses as `read_epw` does."""
    return _whole(_read_tmy3(path))


def read_tmy3_dropping_gaps(path: Path) -> WeatherYear:
    """A year from a TMY3 file without its bad rows; `quality` names what is left out."""
    return _read_tmy3(path)


def _read_epw(path: Path) -> WeatherYear:
    text, sha256 = _text_of(path)
    lines = _data_lines(text, EPW, path.name)
    table, meta = _parsed(parse_epw, text, path.name, EPW)
    stamps = list(zip(table["month"], table["day"], table["hour"], strict=True))
    # Dashes stand in a LOCATION line where a place has no state or country.
    parts = (meta["city"], meta["state-prov"], meta["country"])
    place = ", ".join(part for part in parts if part.strip("- "))
    comments = [
        line.partition(",")[2].strip()
        for line in text.split("\n")[: EPW.header_rows]
        if line.upper().startswith("COMMENTS")
    ]
    return _year(
        table,
        stamps,
        lines,
        EPW,
        station=f"{place} ({meta['WMO_code']})",
        origin=meta["data_type"],
        comments=" ".join(comments).strip(),
        elevation=meta["altitude"],
        sha256=sha256,
    )


def _read_tmy3(path: Path) -> WeatherYear:
    text, sha256 = _text_of(path)
    lines = _data_lines(text, TMY3, path.name)
    table, meta = _parsed(parse_tmy3, text, path.name, TMY3)
    days = table["Date (MM/DD/YYYY)"].str.split("/", expand=True).astype(int)
    hours = table["Time (HH:MM)"].str.split(":", expand=True)[0].astype(int)
    name = str(meta["Name"]).strip('"')
    return _year(
        table,
        list(zip(days[0], days[1], hours, strict=True)),
        lines,
        TMY3,
        station=f"{name}, {meta['State']} ({meta['USAF']})",
        origin="TMY3",
        comments="",
        elevation=meta["altitude"],
        sha256=sha256,
    )


def _text_of(path: Path) -> tuple[str, str]:
    content = path.read_bytes()
    # Latin-1 reads any byte: station names are the only text, and the digits are ASCII.
    return content.decode("latin-1"), hashlib.sha256(content).hexdigest()


def _data_lines(text: str, layout: Layout, name: str) -> list[int]:
    """Line numbers of the hourly rows, after a look at the width of each."""
    numbered = [(i, line) for i, line in enumerate(text.split("\n"), start=1) if line.strip()]
    rows = numbered[layout.header_rows :]
    if not rows:
        raise WeatherFileError(
            f"{name} has no hourly rows after its {layout.header_rows} header lines. Upload the "
            f"whole {layout.kind} file."
        )
    for number, line in rows:
        fields = line.count(",") + 1
        if not layout.fewest_fields <= fields <= layout.most_fields:
            raise WeatherFileError(
                f"{name}, row {number} has {fields} fields; {layout.kind} rows have "
                f"{layout.fewest_fields} to {layout.most_fields}. The file is damaged or cut "
                "short, or of another kind: fetch it again."
            )
    return [number for number, _ in rows]


def _parsed(
    parse: Any, text: str, name: str, layout: Layout
) -> tuple[pd.DataFrame, dict[str, Any]]:
    try:
        return parse(io.StringIO(text))
    except (ValueError, KeyError, TypeError, AttributeError, IndexError) as error:
        raise WeatherFileError(
            f"{name} cannot be read as {layout.kind}: {error}. Choose the right kind of file, or "
            "fetch it again."
        ) from error


def _year(
    table: pd.DataFrame,
    stamps: Sequence[tuple[int, int, int]],
    lines: Sequence[int],
    layout: Layout,
    **about: Any,
) -> WeatherYear:
    _refuse_wrong_place(**about)
    if len(stamps) != len(lines):
        raise WeatherFileError(
            f"{about['station']}: {len(stamps)} rows were read of {len(lines)} lines. The file is "
            "damaged: fetch it again."
        )
    _refuse_wrong_calendar(stamps, lines)
    values: dict[str, Array] = {}
    bad: list[BadValue] = []
    for quantity, column in layout.columns.items():
        values[quantity], faults = _usable(table, quantity, column, lines)
        bad.extend(faults)
    bad = _without_spare_humidity(bad, values, lines)
    quality = Quality(
        rows=len(lines),
        bad_values=tuple(sorted(bad, key=lambda fault: (fault.row, fault.quantity))),
        absent_hours=tuple(
            f"{month:02}-{day:02} hour {hour}"
            for month, day, hour in sorted(_calendar() - set(stamps))
        ),
    )
    kept = ~np.isin(lines, quality.bad_rows)
    return WeatherYear(
        kind=layout.kind,
        rows=np.asarray(lines)[kept],
        quality=quality,
        **about,
        **cast(Any, {quantity: _frozen(column[kept]) for quantity, column in values.items()}),
    )


def _refuse_wrong_place(*, station: str, elevation: float, **_: Any) -> None:
    if len(station) > LONGEST_STATION:
        raise WeatherFileError(
            f"The station's name has {len(station)} characters; {LONGEST_STATION} are allowed. "
            "Shorten it in the file's first line."
        )
    low, high = ELEVATIONS
    if not low <= elevation <= high:
        raise WeatherFileError(
            f"{station}: the elevation is {elevation:g} m; it must be {low:g} to {high:,.0f} m. "
            "Correct the file's first line."
        )


def _usable(
    table: pd.DataFrame, quantity: str, column: Column, lines: Sequence[int]
) -> tuple[Array, list[BadValue]]:
    """A column in SI with NaN where it cannot be used, and each such place by name."""
    read = pd.to_numeric(table[column.name], errors="coerce").to_numpy(dtype=np.float64)
    # The high missing codes mean "this or more"; the low one is exact.
    coded = read >= column.missing if column.missing > 0 else read == column.missing
    missing = np.isnan(read) | coded
    wrong = ~missing & ((read < column.low) | (read > column.high))
    faults = [
        BadValue(
            row=lines[i],
            quantity=quantity,
            value=None if np.isnan(read[i]) else float(read[i]),
            reason="missing" if missing[i] else "out of range",
        )
        for i in map(int, np.flatnonzero(missing | wrong))
    ]
    return np.where(missing | wrong, np.nan, read) * column.scale, faults


def _without_spare_humidity(
    bad: list[BadValue], values: Mapping[str, Array], lines: Sequence[int]
) -> list[BadValue]:
    """Either dew point or relative humidity is enough; a value out of range is still a fault."""
    has_one = ~(np.isnan(values["dew_point"]) & np.isnan(values["relative_humidity"]))
    enough = {line for line, good in zip(lines, has_one, strict=True) if good}
    either = {"dew_point", "relative_humidity"}
    return [
        fault
        for fault in bad
        if not (fault.quantity in either and fault.reason == "missing" and fault.row in enough)
    ]


def _refuse_wrong_calendar(stamps: Sequence[tuple[int, int, int]], lines: Sequence[int]) -> None:
    calendar = _calendar()
    seen: dict[tuple[int, int, int], int] = {}
    last = (0, 0, 0)
    for stamp, line in zip(stamps, lines, strict=True):
        month, day, hour = stamp
        when = f"row {line} is {month:02}-{day:02} hour {hour}"
        if stamp not in calendar:
            raise WeatherFileError(
                f"{when}, which a typical year of 365 days and hours 1 to 24 does not have. Use a "
                "typical-year file."
            )
        if stamp in seen:
            raise WeatherFileError(
                f"{when}, the same hour as row {seen[stamp]}. Nobody can tell which is right: "
                "fetch the file again."
            )
        if stamp < last:
            raise WeatherFileError(
                f"{when}, earlier than the row before it. The file is out of order: fetch it again."
            )
        seen[stamp] = line
        last = stamp


def _calendar() -> set[tuple[int, int, int]]:
    return {
        (month, day, hour)
        for month, days in enumerate(MONTH_DAYS, start=1)
        for day in range(1, days + 1)
        for hour in range(1, 25)
    }


def _whole(year: WeatherYear) -> WeatherYear:
    if year.quality.is_complete:
        return year
    raise WeatherFileError(
        f"{year.station}: {year.quality.summary()} Use a complete file, or accept that these hours "
        "are left out; they are never filled in."
    )


def _frozen(array: Array) -> Array:
    array.setflags(write=False)
    return array
