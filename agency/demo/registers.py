"""Writes the invented agency itself: log-ins, crews, instruments, grants, prices, weather."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from uuid import UUID, uuid5

from django.conf import settings
from django.core.files import File
from django.utils import timezone
from simple_history.utils import bulk_create_with_history

from agency.accounts.models import Device, User
from agency.diagnostics.requiring import RequiredTest
from agency.estimates.demo_weather import write_demo_epw
from agency.estimates.models import WeatherStation
from agency.instruments.models import Calibration, FanEquation, Instrument
from agency.people.models import Crew, CrewMember
from agency.programs.models import Agency, County, FuelPrice, Program

from . import catalogue, people

NAMESPACE = UUID("6f1d2b7e-4a0c-5c57-9d3e-51a7e4e0c0de")
"""Of everything invented here; each id follows from a name in it."""

PASSWORD = "quillmoor-lantern-1912"
"""Of every invented log-in, printed by the demonstration."""

WEATHER_SEED = 1


def fixed_id(*names: object) -> UUID:
    """The same id for the same names, on every machine."""
    return uuid5(NAMESPACE, "/".join(str(name) for name in names))


def agency_id() -> UUID:
    """Of the agency's own row: all the others are written together with it or not at all."""
    return fixed_id("agency")


def write_agency() -> None:
    """The name on every paper."""
    Agency.objects.create(id=agency_id(), **catalogue.AGENCY)


def write_people() -> dict[str, User]:
    """Log-ins by user name; crews with their members."""
    by_crew = {crew: name for name, crew in people.CREW_LOG_INS.items()}
    log_ins = dict(people.STAFF)
    log_ins |= {by_crew[crew]: ("crew", members[0]) for crew, members in people.CREWS.items()}
    users = {name: _user(name, *about) for name, about in log_ins.items()}
    for crew, members in people.CREWS.items():
        row = Crew.objects.create(id=fixed_id("crew", crew), name=crew)
        for place, member in enumerate(members):
            CrewMember.objects.create(
                id=fixed_id("member", member),
                name=member,
                crew=row,
                user=users[by_crew[crew]] if place == 0 else None,
            )
    return users


def _user(username: str, role: str, name: str) -> User:
    first, _, last = name.partition(" ")
    return User.objects.create_user(
        username,
        f"{username}@quillmoor.example",
        PASSWORD,
        id=fixed_id("user", username),
        role=role,
        first_name=first,
        last_name=last,
        is_staff=role == "admin",
        is_superuser=role == "admin",
    )


def pair_phones(users: dict[str, User], now: datetime) -> dict[str, Device]:
    """A phone for each crew and one for the inspector, by user name; one lost, one gone quiet."""
    phones = {
        name: Device.pair(users[name], label)[0]
        for name, label in (
            ("crew", "Crew Alder, blue phone"),
            ("crew2", "Crew Birch, grey phone"),
            ("crew3", "Crew Cedar, red phone"),
            ("inspector", "Inspector’s phone"),
        )
    }
    Device.pair(users["crew2"], "Crew Birch, cracked screen")[0].revoke()
    quiet = phones["crew3"].token
    if quiet is not None:
        lifetime: timedelta = settings.REST_KNOX["TOKEN_TTL"]  # type: ignore[assignment]
        quiet.expiry = now + lifetime - timedelta(days=6)
        quiet.save(update_fields=["expiry"])
    return phones


def write_instruments(today: date) -> None:
    """Every instrument with its certificates, and the fans' flow equations."""
    instruments, calibrations, equations = [], [], []
    for device in catalogue.DEVICES:
        instrument = Instrument(
            id=fixed_id("instrument", device.serial),
            kind=device.kind,
            serial=device.serial,
            description=device.description,
            crew_id=fixed_id("crew", device.crew) if device.crew else None,
        )
        instruments.append(instrument)
        for age in device.calibrated_days_ago:
            calibration = _calibration(device, instrument, today - timedelta(days=age))
            calibrations.append(calibration)
            if device.kind == "fan":
                equations += _equations(device, calibration)
    for model, rows in (
        (Instrument, instruments),
        (Calibration, calibrations),
        (FanEquation, equations),
    ):
        bulk_create_with_history(rows, model, default_change_reason="Invented for the demo")


def _calibration(device: catalogue.Device, instrument: Instrument, day: date) -> Calibration:
    gauge, fan = device.kind == "gauge", device.kind == "fan"
    return Calibration(
        id=fixed_id("calibration", device.serial, day),
        instrument=instrument,
        calibrated_on=day,
        due_on=day + timedelta(days=catalogue.DAYS_BETWEEN_CALIBRATIONS[device.kind]),
        laboratory=catalogue.LABORATORY,
        certificate_number=f"BC-{day:%y%m}-{device.serial[3:]}",
        as_found_error_percent=round(100 * device.gain, 1) if gauge or fan else None,
        accuracy_percent=1.0 if gauge else (4.0 if fan else None),
        accuracy_pa=0.15 if gauge else None,
        resolution_pa=0.1 if gauge else None,
    )


def _equations(device: catalogue.Device, calibration: Calibration) -> list[FanEquation]:
    return [
        FanEquation(
            id=fixed_id("equation", calibration.pk, one.name),
            calibration=calibration,
            configuration=one.name,
            coefficient=one.coefficient,
            exponent=one.exponent,
            lowest_pressure=one.lowest,
            highest_pressure=one.highest,
            flow_unit=FanEquation.FlowUnit.CFM,
            air_density=1.2041,
        )
        for one in device.configurations
    ]


def write_grants(today: date) -> list[Program]:
    """The grants and the fuel prices of their time."""
    grants = catalogue.grants(today)
    FuelPrice.objects.bulk_create(
        FuelPrice(
            id=fixed_id("price", one.fuel, one.effective_from),
            fuel=one.fuel,
            unit=one.unit,
            price=one.price,
            effective_from=one.effective_from,
            source=catalogue.PRICE_SOURCE,
        )
        for one in catalogue.prices(grants[0].first_day)
    )
    return [
        Program.objects.create(
            id=fixed_id("program", one.number),
            name=one.name,
            grant_number=one.number,
            first_day=one.first_day,
            last_day=one.last_day,
        )
        for one in grants
    ]


def write_required_tests(grants: Iterable[Program]) -> None:
    """What each grant asks for on each kind of visit."""
    rows = [
        RequiredTest(
            id=fixed_id("required", grant.grant_number, visit_kind, kind),
            program=grant,
            visit_kind=visit_kind,
            kind=kind,
            place=place,
        )
        for grant in grants
        for visit_kind, kinds in catalogue.REQUIRED_TESTS.items()
        for place, kind in enumerate(kinds, start=1)
    ]
    bulk_create_with_history(rows, RequiredTest, default_change_reason="Invented for the demo")


def write_counties() -> None:
    """The counties, and one synthetic weather year that stands for all of them."""
    counties = [County(code=code, name=name) for code, name in people.COUNTIES.items()]
    County.objects.bulk_create(counties)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "quillmoor-synthetic.epw"
        write_demo_epw(path, seed=WEATHER_SEED)
        with path.open("rb") as file:
            station = WeatherStation.objects.create(
                id=fixed_id("weather"),
                name="Quillmoor County, synthetic year",
                format=WeatherStation.Format.EPW,
                file=File(file, name=path.name),
            )
    station.counties.set(counties)


def local_time(day: date, *, hour: int, minute: int = 0) -> datetime:
    """A time of that day where the agency works."""
    return timezone.make_aware(datetime(day.year, day.month, day.day, hour, minute))  # noqa: DTZ001
