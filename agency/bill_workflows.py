"""Steps over bills, daily weather and studies; each promises the work that follows from it."""

from collections.abc import Iterable
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.estimates.bill_importing import import_bill_file, undo_bill_file
from agency.estimates.bill_studies import BillStudy, NonRoutineChange
from agency.estimates.billing import BillFile, UtilityAccount
from agency.estimates.daily_means import Degrees
from agency.estimates.daily_weather import DailyWeather, DailyWeatherFile
from agency.estimates.day_importing import import_days, type_day, undo_days
from agency.houses.models import House
from agency.jobs.models import Job
from agency.outbox.models import Errand

ANALYSE = "agency.estimates.tasks.analyse_bills"
REALIZE = "agency.estimates.tasks.realize_program"


@transaction.atomic
def open_account(house_id: UUID, fuel: str, by: User) -> UtilityAccount:
    """A place for one house's bills of one fuel."""
    house = House.objects.select_for_update().get(pk=house_id)
    known = house.utility_accounts.filter(fuel=fuel).first()
    if known is not None:
        raise ActionRefused(f"The house has a {str(known).lower()} already. Add its bills there.")
    return UtilityAccount.objects.create(house=house, fuel=fuel, opened_by=by)


@transaction.atomic
def import_bills(file_id: UUID, by: User, *, now: datetime) -> BillFile:
    """Take a file's bills in, and have every study of the account worked out anew."""
    kept = import_bill_file(file_id, by, now=now)
    promise_studies(BillStudy.objects.filter(account=kept.account))
    return kept


@transaction.atomic
def undo_bills(file_id: UUID, by: User, reason: str, *, now: datetime) -> BillFile:
    """Take a file's bills out, and have every study of the account worked out anew."""
    kept = undo_bill_file(file_id, by, reason, now=now)
    promise_studies(BillStudy.objects.filter(account=kept.account))
    return kept


@transaction.atomic
def ask_study(job_id: UUID, account_id: UUID, model: str, by: User) -> BillStudy:
    """Have one account's bills before and after the work compared, by the model chosen."""
    job = Job.objects.select_for_update(of=("self",)).get(pk=job_id)
    account = UtilityAccount.objects.get(pk=account_id)
    if account.house_id != job.house_id:
        raise ActionRefused(f"The {str(account).lower()} is not of the house of {job}.")
    study, _ = BillStudy.objects.update_or_create(
        job=job, account=account, defaults={"model": model, "asked_by": by}
    )
    promise_studies([study])
    return study


@transaction.atomic
def note_change(job_id: UUID, by: User, *, kind: str, since: date, note: str) -> NonRoutineChange:
    """Write down what else changed in the house; the job counts no longer in its grant's rate."""
    job = Job.objects.select_for_update(of=("self",)).get(pk=job_id)
    change = NonRoutineChange.objects.create(
        job=job, kind=kind, since=since, note=note.strip(), noted_by=by
    )
    Errand.promise(REALIZE, job.program_id)
    return change


@transaction.atomic
def confirm_change(change_id: UUID, by: User, reason: str) -> NonRoutineChange:
    """A manager lets the job count all the same."""
    change = NonRoutineChange.objects.select_for_update(of=("self",)).get(pk=change_id)
    change.confirm(by, reason)
    Errand.promise(REALIZE, change.job.program_id)
    return change


@transaction.atomic
def take_days_in(
    station_id: UUID, by: User, *, name: str, content: bytes, degrees: Degrees, now: datetime
) -> DailyWeatherFile:
    """Take a file of daily means in, and have what rests on the station worked out anew."""
    kept = import_days(station_id, name=name, content=content, degrees=degrees, by=by, now=now)
    _promise_station(station_id)
    return kept


@transaction.atomic
def type_day_in(station_id: UUID, by: User, *, day: date, mean: float) -> DailyWeather:
    """Take one day in, and have what rests on the station worked out anew."""
    typed = type_day(station_id, day=day, mean=mean, by=by)
    _promise_station(station_id)
    return typed


@transaction.atomic
def take_days_out(file_id: UUID, by: User, reason: str, *, now: datetime) -> DailyWeatherFile:
    """Undo a file of daily means, and have what rests on the station worked out anew."""
    kept = undo_days(file_id, by, reason, now=now)
    _promise_station(kept.station_id)
    return kept


@transaction.atomic
def work_out_realization(program_id: UUID) -> Errand:
    """Have a grant's rate worked out anew."""
    return Errand.promise(REALIZE, program_id)


def promise_studies(studies: Iterable[BillStudy]) -> None:
    """Analyse each of them, then work out anew what their grants realized."""
    last: dict[UUID, Errand] = {}
    for study in studies:
        last[study.job.program_id] = Errand.promise(ANALYSE, study.pk)
    for program, errand in last.items():
        Errand.promise(REALIZE, program, after=errand)


def _promise_station(station_id: UUID) -> None:
    reached = BillStudy.objects.filter(job__house__county__weather_stations=station_id)
    promise_studies(reached.select_related("job"))
