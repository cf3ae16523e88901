"""Daily means of a station into the database: whole files, or a day typed by a person."""

import hashlib
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from agency.accounts.models import User
from agency.errors import ActionRefused

from .bill_files import RowError
from .bill_importing import LONGEST_NAME
from .daily_means import CheckedDays, Degrees, ReadDay, check_daily_means
from .daily_weather import DailyWeather, DailyWeatherFile
from .models import WeatherStation


class DaysRefused(ActionRefused):
    """Rows of a file that stand in the way; nothing of it was stored."""

    def __init__(self, name: str, errors: tuple[RowError, ...]) -> None:
        self.errors = errors
        super().__init__(
            f"{name} has {len(errors)} rows to put right; nothing was imported. Correct them and "
            "send the file again."
        )


@transaction.atomic
def import_days(
    station_id: UUID, *, name: str, content: bytes, degrees: Degrees, by: User, now: datetime
) -> DailyWeatherFile:
    """Store every day of a file, or none."""
    station = WeatherStation.objects.select_for_update().get(pk=station_id)
    read = check_daily_means(content, degrees)
    errors = (*read.errors, *_known_already(station, read))
    if errors:
        raise DaysRefused(name, errors)
    if not read.days:
        raise ActionRefused(f"{name} has no days below its heading row. Send the whole file.")
    kept = DailyWeatherFile.objects.create(
        station=station,
        name=name[-LONGEST_NAME:],
        sha256=hashlib.sha256(content).hexdigest(),
        size=len(content),
        content=content,
        reading={"degrees": str(degrees)},
        sent_by=by,
        imported_by=by,
        imported_at=now,
    )
    DailyWeather.objects.bulk_create(
        [DailyWeather(station=station, day=one.day, mean=one.mean, file=kept) for one in read.days],
        batch_size=500,
    )
    return kept


@transaction.atomic
def type_day(station_id: UUID, *, day: date, mean: float, by: User) -> DailyWeather:
    """Store one day read elsewhere; `mean` in °C. A typed day may be typed anew."""
    known = DailyWeather.objects.filter(station=station_id, day=day).select_related("file").first()
    if known is not None and known.file is not None:
        raise ActionRefused(
            f"{day} is known already, from {known.file.name}. Undo that import to replace it."
        )
    typed, _ = DailyWeather.objects.update_or_create(
        station_id=station_id, day=day, defaults={"mean": mean, "typed_by": by}
    )
    return typed


@transaction.atomic
def undo_days(file_id: UUID, by: User, reason: str, *, now: datetime) -> DailyWeatherFile:
    """Take every day of the file out again; the file itself stays."""
    kept = DailyWeatherFile.objects.select_for_update().get(pk=file_id)
    kept.note_undoing(by, now, reason)
    kept.days.all().delete()
    return kept


def _known_already(station: WeatherStation, read: CheckedDays) -> list[RowError]:
    if not read.days:
        return []
    days = [one.day for one in read.days]
    known = DailyWeather.objects.filter(station=station, day__range=(min(days), max(days)))
    sources = {
        one.day: one.file.name if one.file else "typing" for one in known.select_related("file")
    }
    return [_known(one, sources[one.day]) for one in read.days if one.day in sources]


def _known(read: ReadDay, source: str) -> RowError:
    return RowError(
        place=read.place,
        message=f"{read.day} is known already, from {source}. Undo that import, or take the row "
        "out.",
    )
