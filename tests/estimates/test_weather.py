"""Weather files: real ones are read as they stand, damaged ones are refused by row."""

import csv
import hashlib
from pathlib import Path

import numpy as np
import pvlib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agency.estimates.demo_weather import SYNTHETIC, demo_epw, write_demo_epw
from agency.estimates.weather import (
    read_epw,
    read_epw_dropping_gaps,
    read_tmy3,
    read_tmy3_dropping_gaps,
)
from agency.estimates.weather_year import WeatherFileError

DATA = Path(pvlib.__file__).parent / "data"
GREENSBORO = DATA / "723170TYA.CSV"
SAND_POINT = DATA / "703165TY.csv"
DRY_BULB, DEW_POINT, HUMIDITY, PRESSURE, WIND = 6, 7, 8, 9, 21


@pytest.fixture(scope="module")
def lines():
    """The demonstration year as lines; line 9 of the file is the first hour."""
    return demo_epw(seed=11).splitlines()


def written(tmp_path, lines):
    path = tmp_path / "year.epw"
    path.write_text("\n".join(lines) + "\n")
    return path


def with_value(lines, *, row, field, value):
    fields = lines[row - 1].split(",")
    fields[field] = value
    return [*lines[: row - 1], ",".join(fields), *lines[row:]]


@pytest.mark.parametrize(
    ("path", "station", "elevation"),
    [
        (GREENSBORO, "GREENSBORO PIEDMONT TRIAD INT, NC (723170)", 273),
        (SAND_POINT, "SAND POINT, AK (703165)", 7),
    ],
)
def test_real_tmy3_years_agree_with_the_csv_module(path, station, elevation):
    """Files of the TMY3 set as shipped with pvlib; header and columns read a second way."""
    year = read_tmy3(path)
    with path.open(newline="") as file:
        next(file)
        rows = list(csv.DictReader(file))
    assert (year.station, year.elevation, year.hours) == (station, elevation, 8760)
    assert year.is_complete
    for found, column, scale in (
        (year.temperature, "Dry-bulb (C)", 1),
        (year.dew_point, "Dew-point (C)", 1),
        (year.relative_humidity, "RHum (%)", 0.01),
        (year.pressure, "Pressure (mbar)", 100),
        (year.wind_speed, "Wspd (m/s)", 1),
    ):
        np.testing.assert_allclose(found, [float(row[column]) * scale for row in rows])
    assert year.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert list(year.rows[[0, -1]]) == [3, 8762]


def test_the_demonstration_year_is_read_by_the_same_reader(tmp_path):
    path = tmp_path / "quillmoor.epw"
    write_demo_epw(path, seed=11)
    year = read_epw(path)
    assert year.is_complete
    assert year.station == "Quillmoor County (invented) (000000)"
    assert year.origin == "SYNTHETIC"
    assert year.comments.startswith(SYNTHETIC)
    assert year.elevation == 262


def test_the_demonstration_year_is_a_plausible_cold_one(tmp_path):
    path = tmp_path / "quillmoor.epw"
    write_demo_epw(path, seed=11)
    year = read_epw(path)
    assert np.maximum(0, 18.3 - year.temperature).sum() / 24 == pytest.approx(4500, abs=600)
    assert -40 < year.temperature.min() < -15
    assert 28 < year.temperature.max() < 40
    assert 3 < year.wind_speed.mean() < 5
    assert (year.dew_point <= year.temperature).all()
    january, july = year.temperature[:744], year.temperature[4344:5088]
    assert january.mean() < -4
    assert july.mean() > 17


def test_the_same_seed_writes_the_same_file():
    assert demo_epw(seed=11) == demo_epw(seed=11)
    assert demo_epw(seed=11) != demo_epw(seed=12)


def test_humidity_in_the_demonstration_file_fits_its_dew_point(tmp_path, lines):
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    year = read_epw(written(tmp_path, lines))
    warm = np.flatnonzero(year.temperature > 5)[::200]
    for i in warm:
        expected = psychrolib.GetRelHumFromTDewPoint(year.temperature[i], year.dew_point[i])
        assert year.relative_humidity[i] == pytest.approx(expected, abs=0.015)


@pytest.mark.parametrize(
    ("field", "code", "quantity"),
    [
        (DRY_BULB, "99.9", "temperature"),
        (PRESSURE, "999999", "pressure"),
        (WIND, "999", "wind speed"),
        (WIND, "999.0", "wind speed"),
    ],
)
def test_missing_codes_are_named_by_row_never_filled(tmp_path, lines, field, code, quantity):
    """Missing codes of the EPW data dictionary."""
    path = written(tmp_path, with_value(lines, row=100, field=field, value=code))
    with pytest.raises(WeatherFileError, match=rf"row 100: {quantity} missing"):
        read_epw(path)
    year = read_epw_dropping_gaps(path)
    assert year.hours == 8759
    assert 100 not in year.rows
    assert year.quality.bad_rows == (100,)
    assert not year.is_complete


def test_values_no_weather_can_have_are_refused(tmp_path, lines):
    path = written(tmp_path, with_value(lines, row=50, field=DRY_BULB, value="85.0"))
    with pytest.raises(WeatherFileError, match=r"row 50: temperature out of range \(85\)|missing"):
        read_epw(path)
    path = written(tmp_path, with_value(lines, row=50, field=WIND, value="-3"))
    with pytest.raises(WeatherFileError, match=r"row 50: wind speed out of range \(-3\)"):
        read_epw(path)


def test_an_empty_field_is_missing(tmp_path, lines):
    path = written(tmp_path, with_value(lines, row=77, field=WIND, value=""))
    with pytest.raises(WeatherFileError, match="row 77: wind speed missing"):
        read_epw(path)


def test_a_word_in_a_number_field_is_missing(tmp_path, lines):
    path = written(tmp_path, with_value(lines, row=77, field=WIND, value="calm"))
    with pytest.raises(WeatherFileError, match="row 77: wind speed missing"):
        read_epw(path)


def test_either_humidity_is_enough(tmp_path, lines):
    year = read_epw(written(tmp_path, with_value(lines, row=60, field=DEW_POINT, value="99.9")))
    assert year.is_complete
    assert np.isnan(year.dew_point[60 - 9])
    both = with_value(lines, row=60, field=DEW_POINT, value="99.9")
    both = with_value(both, row=60, field=HUMIDITY, value="999")
    with pytest.raises(WeatherFileError, match="row 60: dew point missing"):
        read_epw(written(tmp_path, both))


def test_a_truncated_file_names_the_hours_that_have_no_row(tmp_path, lines):
    path = written(tmp_path, lines[:-30])
    with pytest.raises(WeatherFileError, match="30 hours have no row: 12-30 hour 19"):
        read_epw(path)
    assert read_epw_dropping_gaps(path).hours == 8730


def test_a_file_cut_within_a_row_is_refused_by_row(tmp_path, lines):
    path = written(tmp_path, [*lines[:5000], lines[5000][:40]])
    with pytest.raises(WeatherFileError, match=r"row 5001 has .* fields"):
        read_epw_dropping_gaps(path)


def test_a_repeated_hour_is_refused_even_when_gaps_are_accepted(tmp_path, lines):
    path = written(tmp_path, [*lines[:20], lines[19], *lines[20:]])
    with pytest.raises(WeatherFileError, match=r"row 21 is 01-01 hour 12, the same hour as row 20"):
        read_epw_dropping_gaps(path)


def test_a_leap_day_is_refused(tmp_path, lines):
    leap = lines[:]
    end_of_february = 8 + 59 * 24
    fields = lines[end_of_february - 1].split(",")
    fields[0], fields[2], fields[3] = "2024", "29", "1"
    leap.insert(end_of_february, ",".join(fields))
    with pytest.raises(WeatherFileError, match="02-29 hour 1, which a typical year"):
        read_epw(written(tmp_path, leap))


def test_rows_out_of_order_are_refused(tmp_path, lines):
    swapped = [*lines[:30], lines[31], lines[30], *lines[32:]]
    with pytest.raises(WeatherFileError, match=r"row 32 .* out of order"):
        read_epw(written(tmp_path, swapped))


@pytest.mark.parametrize("content", ["", "LOCATION,x\n", "a,b\n1,2\n" * 10, "\x00" * 100])
def test_what_is_no_weather_file_is_refused(tmp_path, content):
    path = tmp_path / "year.epw"
    path.write_text(content)
    for read in (read_epw, read_tmy3):
        with pytest.raises(WeatherFileError, match=r"fetch it again|whole"):
            read(path)


def test_one_kind_read_as_the_other_is_refused(tmp_path, lines):
    with pytest.raises(WeatherFileError, match="fields"):
        read_epw(GREENSBORO)
    with pytest.raises(WeatherFileError, match="fields"):
        read_tmy3(written(tmp_path, lines))


def test_a_missing_code_in_a_tmy3_year(tmp_path):
    rows = GREENSBORO.read_text().splitlines()
    fields = rows[499].split(",")
    fields[46] = "-9900"
    path = tmp_path / "year.csv"
    path.write_text("\n".join([*rows[:499], ",".join(fields), *rows[500:]]))
    with pytest.raises(WeatherFileError, match="row 500: wind speed missing"):
        read_tmy3(path)
    assert read_tmy3_dropping_gaps(path).hours == 8759


@pytest.mark.parametrize("elevation", ["nan", "9000", "-1e9"])
def test_an_elevation_no_station_has_is_refused(tmp_path, lines, elevation):
    damaged = with_value(lines, row=1, field=9, value=elevation)
    with pytest.raises(WeatherFileError, match="elevation"):
        read_epw(written(tmp_path, damaged))


def test_an_endless_station_name_is_refused(tmp_path, lines):
    damaged = with_value(lines, row=1, field=1, value="x" * 500)
    with pytest.raises(WeatherFileError, match="120 are allowed"):
        read_epw(written(tmp_path, damaged))


def test_blank_lines_do_not_shift_the_row_numbers(tmp_path, lines):
    gappy = with_value(lines, row=100, field=WIND, value="999")
    path = written(tmp_path, [*gappy[:50], "", *gappy[50:]])
    with pytest.raises(WeatherFileError, match="row 101: wind speed missing"):
        read_epw(path)


@given(
    row=st.integers(min_value=9, max_value=8768),
    field=st.sampled_from([DRY_BULB, DEW_POINT, HUMIDITY, PRESSURE, WIND, 1, 2, 3]),
    value=st.text(alphabet=st.characters(codec="ascii", exclude_characters='",\n\r'), max_size=8),
)
@settings(max_examples=15, deadline=None)
def test_any_slip_in_a_field_is_read_or_refused_never_a_crash(
    tmp_path_factory, lines, row, field, value
):
    path = written(
        tmp_path_factory.mktemp("slip"), with_value(lines, row=row, field=field, value=value)
    )
    try:
        year = read_epw(path)
    except WeatherFileError:
        return
    assert year.hours == 8760
    assert np.isfinite(year.temperature).all()
