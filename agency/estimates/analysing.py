"""From a study of bills to its stored analysis."""

from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path
from uuid import UUID

from django.utils import timezone

from agency.jobs.models import Job
from agency.rulebook.models import Rule
from agency.rulebook.shipped import RuleLike, effective_on

from .bill_inputs import BillInput, BillInputs, BillOutcome, DailyMeans, NormalYear
from .bill_studies import BillAnalysis, BillStudy
from .billing import Bill
from .bridge.bills import analyse_bills
from .daily_weather import DailyWeather
from .models import WeatherStation
from .weather import read_epw, read_tmy3
from .weather_year import HOURS_A_YEAR, WeatherFileError, WeatherYear

READERS = {WeatherStation.Format.EPW: read_epw, WeatherStation.Format.TMY3: read_tmy3}
HOURS_A_DAY = 24
NO_NORMAL = "No weather year stands for the county of the house. Choose one in the records."


def analyse_study(study_id: UUID) -> BillAnalysis:
    """Analyse one study and store the row; the same inputs give the same row again."""
    study = BillStudy.objects.select_related("job__house", "account").get(pk=study_id)
    return store_analysis(study, analyse_bills(inputs_of_study(study)))


def store_analysis(study: BillStudy, outcome: BillOutcome) -> BillAnalysis:
    """The row of this outcome, written once however often it is found."""
    row, is_new = BillAnalysis.objects.get_or_create(
        study=study,
        input_hash=outcome.input_hash,
        defaults={
            "method": outcome.method,
            "edition": outcome.edition,
            "maths_version": outcome.maths_version,
            "weather": outcome.weather,
            "inputs": outcome.inputs,
            "figures": outcome.figures,
            "refusals": outcome.refusals,
            "checks": outcome.checks,
        },
    )
    if not is_new:
        row.last_found_at = timezone.now()
        row.save(update_fields=["last_found_at"])
    return row


def inputs_of_study(study: BillStudy) -> BillInputs:
    """Everything the analysis of `study` rests on, in SI units."""
    job = study.job
    bills = list(study.account.bills.all())
    rules = _rules(job.inspection_passed_on or timezone.localdate())
    station = WeatherStation.objects.filter(counties=job.house.county_id).first()
    normal, because = _normal(station)
    return BillInputs(
        fuel=study.account.fuel,
        model=study.model,
        bills=tuple(
            BillInput(start=one.start, end=one.end, energy=one.energy, estimated=one.estimated)
            for one in bills
        ),
        work_started_on=job.work_started_on,
        work_ended_on=job.inspection_passed_on,
        weather=_days(station, bills, job, window=int(rules["bills.window_days"].limit or 0)),
        normal=normal,
        no_normal_because=because,
        rules=rules,
    )


def _rules(day: date) -> dict[str, RuleLike]:
    found = effective_on(Rule.objects.filter(code__startswith="bills."), day)
    return {rule.code: rule for rule in found}


def _days(
    station: WeatherStation | None, bills: list[Bill], job: Job, *, window: int
) -> DailyMeans | None:
    """The station's days from the first to the last bill that may count."""
    if station is None or not bills:
        return None if station is None else _means(station, timezone.localdate(), [])
    first, last = min(one.start for one in bills), max(one.end for one in bills)
    reach = timedelta(days=window)
    if job.work_started_on is not None:
        first = max(first, job.work_started_on - reach)
    if job.inspection_passed_on is not None:
        last = min(last, job.inspection_passed_on + reach)
    known = dict(
        DailyWeather.objects.filter(station=station, day__gte=first, day__lt=last).values_list(
            "day", "mean"
        )
    )
    days = [first + timedelta(days=place) for place in range((last - first).days)]
    return _means(station, first, [known.get(day) for day in days])


def _means(station: WeatherStation, first: date, means: list[float | None]) -> DailyMeans:
    return DailyMeans(station=station.name, first_day=first, means=tuple(means))


def _normal(station: WeatherStation | None) -> tuple[NormalYear | None, str]:
    if station is None:
        return None, NO_NORMAL
    path = Path(station.file.path)
    try:
        year = _read(station.format, path, path.stat().st_mtime_ns)
    except (WeatherFileError, OSError) as error:
        return None, f"The weather year of {station} cannot be used: {error}"
    means = year.temperature.reshape(HOURS_A_YEAR // HOURS_A_DAY, HOURS_A_DAY).mean(axis=1)
    normal = NormalYear(
        station=station.name,
        kind=year.kind,
        sha256=year.sha256,
        means=tuple(float(mean) for mean in means),
    )
    return normal, ""


@lru_cache(maxsize=8)
def _read(kind: str, path: Path, changed_at: int) -> WeatherYear:
    """Read once; a file replaced under the same name is read anew."""
    return READERS[WeatherStation.Format(kind)](path)
