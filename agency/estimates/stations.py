"""Weather stations: which one stands for a county, and its year read from the file."""

from functools import lru_cache
from pathlib import Path

from agency.programs.models import County

from .models import WeatherStation
from .weather import (
    read_epw,
    read_epw_dropping_gaps,
    read_tmy3,
    read_tmy3_dropping_gaps,
)
from .weather_year import WeatherFileError, WeatherYear

READERS = {WeatherStation.Format.EPW: read_epw, WeatherStation.Format.TMY3: read_tmy3}
GAP_READERS = {
    WeatherStation.Format.EPW: read_epw_dropping_gaps,
    WeatherStation.Format.TMY3: read_tmy3_dropping_gaps,
}


def station_for(county: County) -> WeatherStation | None:
    """The station the agency chose for a county."""
    return WeatherStation.objects.filter(counties=county).first()


def year_of(station: WeatherStation) -> WeatherYear:
    """The station's complete year; a file with gaps is refused, naming its rows."""
    path = _file_of(station)
    return _read(station.format, path, path.stat().st_mtime_ns)


def year_with_gaps(station: WeatherStation) -> WeatherYear:
    """The station's year without its bad rows, for the report of what is wrong with it."""
    path = _file_of(station)
    return _read_dropping(station.format, path, path.stat().st_mtime_ns)


def _file_of(station: WeatherStation) -> Path:
    if not station.file:
        raise WeatherFileError(
            f"{station} has no file of a typical year. Assign another station, or add one with "
            "its file."
        )
    return Path(station.file.path)


@lru_cache(maxsize=8)
def _read(kind: str, path: Path, changed_at: int) -> WeatherYear:
    """Read once; a file replaced under the same name is read anew."""
    return READERS[WeatherStation.Format(kind)](path)


@lru_cache(maxsize=8)
def _read_dropping(kind: str, path: Path, changed_at: int) -> WeatherYear:
    return GAP_READERS[WeatherStation.Format(kind)](path)
