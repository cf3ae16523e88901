"""Accounts, bill files, actual weather and studies for tests, all of the invented county."""

from datetime import timedelta
from typing import Any

from django.utils import timezone

from agency.accounts.models import User
from agency.estimates.bill_files import DateOrder, Ending
from agency.estimates.bill_importing import import_bill_file, keep_bill_file
from agency.estimates.bill_inputs import BillInput
from agency.estimates.bill_reading import csv_reading
from agency.estimates.bill_studies import BillStudy, ProgramRealization
from agency.estimates.billing import BillFile, UtilityAccount
from agency.estimates.daily_weather import DailyWeather, DailyWeatherFile
from agency.estimates.models import WeatherStation
from agency.houses.models import House
from agency.jobs.models import Job
from agency.programs.models import Program

from .estimates.bill_cases import ENDED, FIRST_DAY, STARTED, THERM, YEARS, two_years

HEADINGS = "From,To,Therms,Reading"


def make_account(house: House, by: User, *, fuel: str = "natural_gas") -> UtilityAccount:
    """An account without bills."""
    return UtilityAccount.objects.create(house=house, fuel=fuel, opened_by=by)


def csv_content(bills: "tuple[BillInput, ...] | list[BillInput]") -> bytes:
    """Bills as a supplier's CSV, in therms."""
    rows = [
        f"{one.start},{one.end},{one.energy / THERM:.4f},{'E' if one.estimated else 'A'}"
        for one in bills
    ]
    return "\r\n".join([HEADINGS, *rows]).encode()


def reading_of(account: UtilityAccount, **changes: Any) -> dict[str, Any]:
    """How `csv_content` is read."""
    told: dict[str, Any] = {
        "start": "From",
        "end": "To",
        "energy": "Therms",
        "estimated": "Reading",
        "unit": "therm",
        "btu_per_cubic_foot": None,
        "ending": Ending.READING_DAY,
        "order": DateOrder.SHOWN_BY_THE_FILE,
        "delimiter": ",",
        "corrections": False,
    }
    return csv_reading(account, **(told | changes))


def make_bill_file(
    account: UtilityAccount, by: User, *, content: bytes | None = None, **changes: Any
) -> BillFile:
    """A kept file, not imported."""
    return keep_bill_file(
        account,
        name="gas-bills.csv",
        content=csv_content(two_years()) if content is None else content,
        kind=BillFile.Kind.CSV,
        reading=reading_of(account, **changes),
        by=by,
    )


def make_bills(account: UtilityAccount, by: User, *, content: bytes | None = None) -> BillFile:
    """A kept file with its bills stored."""
    kept = make_bill_file(account, by, content=content)
    return import_bill_file(kept.pk, by, now=timezone.now())


def make_days(station: WeatherStation, by: User, *, days: int = len(YEARS)) -> DailyWeatherFile:
    """The first days of the bills, stored; all of them unless told otherwise."""
    kept = DailyWeatherFile.objects.create(
        station=station,
        name="days.csv",
        sha256="0" * 64,
        size=1,
        content=b"day,mean",
        sent_by=by,
        imported_by=by,
        imported_at=timezone.now(),
    )
    DailyWeather.objects.bulk_create(
        DailyWeather(
            station=station, day=FIRST_DAY + timedelta(days=place), mean=float(mean), file=kept
        )
        for place, mean in enumerate(YEARS[:days])
    )
    return kept


def make_study(job: Job, account: UtilityAccount, by: User) -> BillStudy:
    """A study nobody has worked on yet."""
    return BillStudy.objects.create(
        job=job, account=account, model=BillStudy.Model.HEATING, asked_by=by
    )


def worked_on() -> dict[str, Any]:
    """Dates of a job whose work lies between the bills of `two_years`."""
    return {
        "status": "approved",
        "opened_on": STARTED - timedelta(days=60),
        "work_started_on": STARTED,
        "inspection_passed_on": ENDED,
        "approved_at": timezone.now(),
    }


def make_realization(program: Program) -> ProgramRealization:
    """A stored rate of no home."""
    return ProgramRealization.objects.create(
        program=program,
        method="measured over predicted saving",
        edition="from memory",
        maths_version="test",
        input_hash="0",
        inputs={"homes": [], "left_out": []},
        figures={},
    )
