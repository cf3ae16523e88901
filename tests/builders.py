"""Records and documents for tests, all of the invented Quillmoor County."""

import hashlib
import itertools
import json
import uuid
from datetime import UTC, date, datetime, timedelta
from functools import cache
from io import BytesIO
from typing import Any

from django.contrib.auth.hashers import make_password
from django.core.files.base import ContentFile
from django.utils import timezone
from PIL import Image

from agency.accounts.models import Device, User
from agency.diagnostics.documents import parse
from agency.diagnostics.keeping import canonical_hash
from agency.diagnostics.models import Comparison, InstrumentUse, Photo, Result, TestRun
from agency.diagnostics.storing_photos import store_photo
from agency.estimates.demo_weather import demo_epw
from agency.estimates.models import WeatherStation
from agency.houses.models import Building, House
from agency.jobs.models import Job, SafetyStop
from agency.people.models import Client, Credential, Crew, CrewMember
from agency.programs.models import Agency, County, FuelPrice, Program

PASSWORD = "quillmoor-tests-only-passphrase"
CFM = 0.3048**3 / 60
"""One cubic foot a minute. [m³/s]"""

_numbers = itertools.count(1)


@cache
def hashed(password: str) -> str:
    """Hashing is slow on purpose; once is enough for all the cast."""
    return make_password(password)


def make_user(role: str, username: str, *, crew: Crew | None = None) -> User:
    """A log-in, with its person on `crew` when one is given."""
    user = User.objects.create(
        username=username,
        email=f"{username}@quillmoor.example",
        password=hashed(PASSWORD),
        role=role,
        is_staff=role == "admin",
    )
    if crew is not None:
        CrewMember.objects.create(name=username.title(), crew=crew, user=user)
    return user


def make_credential(
    user: User, kind: str = Credential.Kind.INSPECTOR, **changes: Any
) -> Credential:
    """A credential that holds on all the tests' days."""
    values: dict[str, Any] = {
        "number": f"QM-{next(_numbers):05d}",
        "issued_on": date(2024, 1, 1),
        "expires_on": date(2039, 12, 31),
    }
    return Credential.objects.create(user=user, kind=kind, **(values | changes))


def make_program() -> Program:
    """The one grant of the tests, running over calendar 2026."""
    return Program.objects.get_or_create(
        grant_number="QM-26-01",
        defaults={
            "name": "Quillmoor Weatherization",
            "first_day": date(2026, 1, 1),
            "last_day": date(2026, 12, 31),
        },
    )[0]


def make_house(**changes: Any) -> House:
    """A one-storey house with every size known."""
    number = next(_numbers)
    values: dict[str, Any] = {
        "address": f"{number} Larkspur Lane",
        "city": "Tarn Hollow",
        "state": "QM",
        "postal_code": "00155",
        "dwelling": House.Dwelling.SINGLE_FAMILY,
        "year_built": 1958,
        "storeys": 1,
        "floor_area_sqft": 1400,
        "volume_cuft": 11200,
        "height_ft": 8,
        "elevation_ft": 900,
        "envelope_area_sqft": 4100,
        "bedrooms": 3,
        "shelter": 3,
        "heating_fuel": "natural_gas",
        "heating_efficiency": 0.8,
        "distribution_efficiency": 0.8,
    }
    values |= changes
    if "county" not in values:
        quillmoor = {"name": "Quillmoor"}
        values["county"] = County.objects.get_or_create(code="99001", defaults=quillmoor)[0]
    return House.objects.create(**values)


def make_building(**changes: Any) -> Building:
    """Six units on Depot Street, none of them registered."""
    values: dict[str, Any] = {
        "name": "Depot House",
        "address": "8 Depot Street",
        "city": "Tarn Hollow",
        "state": "QM",
        "postal_code": "00155",
        "county": County.objects.get_or_create(code="99001", defaults={"name": "Quillmoor"})[0],
        "units_total": 6,
    }
    return Building.objects.create(**(values | changes))


def make_job(*, crew: Crew, status: str = "scheduled", **changes: Any) -> Job:
    """A job in any state, with the dates that state needs."""
    number = next(_numbers)
    values: dict[str, Any] = {
        "number": f"QC-2026-{number:04d}",
        "program": make_program(),
        "crew": crew,
        "opened_on": date(2026, 3, 2),
        "status": status,
    }
    if status in {"inspection_passed", "approved", "reported"}:
        values["inspection_passed_on"] = date(2026, 5, 12)
    if status in {"approved", "reported"}:
        values["approved_at"] = datetime(2026, 5, 13, 15, 0, tzinfo=UTC)
    values |= changes
    if "house" not in values:
        values["house"] = make_house()
    if "client" not in values:
        values["client"] = Client.objects.create(
            name=f"Odalys Fenwright {number}", phone="555-0142"
        )
    return Job.objects.create(**values)


def make_stop(job: Job, **changes: Any) -> SafetyStop:
    """An open stop for carbon monoxide in the room air, raised by no test run."""
    values: dict[str, Any] = {
        "hazard": "ambient_carbon_monoxide",
        "words": "Carbon monoxide in the room air is 38 ppm; the action level is 35 ppm.",
        "steps": ["Open doors and windows.", "Turn the appliances off.", "Call the gas supplier."],
        "cautions": "Local code and a licensed practitioner decide; the stricter rule applies.",
    }
    return SafetyStop.objects.raise_once(job=job, **(values | changes))


def make_agency() -> Agency:
    """The agency whose papers are printed."""
    return Agency.objects.create(
        name="Quillmoor County Home Energy Office",
        address="12 Assembly Row, Tarn Hollow, QM 00155",
        phone="555-0100",
        complaint_route="Write to the board at the same address.",
    )


def make_weather(county: County) -> WeatherStation:
    """A synthetic weather year that stands for `county`."""
    station = WeatherStation(name="Tarn Hollow airfield (synthetic)", format="epw")
    text = demo_epw(seed=7).encode()
    station.file.save("tarn-hollow.epw", ContentFile(text))
    station.counties.add(county)
    return station


def make_price(fuel: str, unit: str, price: str) -> FuelPrice:
    """A price that has held for years."""
    return FuelPrice.objects.create(
        fuel=fuel,
        unit=unit,
        price=price,
        effective_from=date(2020, 1, 1),
        source="invented for the tests",
    )


def make_device(user: User) -> tuple[Device, str]:
    """A paired phone and its token."""
    return Device.pair(user, f"Phone of {user.username}")


def make_photo(job: Job, device: Device, caption: str = "Rim joist, north side") -> Photo:
    """A stored photo, sent by the phone."""
    body = BytesIO()
    Image.new("RGB", (640, 480), (120, 90, 140)).save(body, "JPEG")
    record = {
        "client_key": str(uuid.uuid4()),
        "job": str(job.pk),
        "caption": caption,
        "taken_at": "2026-04-14T10:20:00-05:00",
        "file": hashlib.sha256(body.getvalue()).hexdigest(),
    }
    answer = store_photo(device, record, body.getvalue(), now=timezone.now())
    return Photo.objects.get(pk=answer.body["id"])


def make_document(
    *,
    job: Job | None = None,
    phase: str = "before",
    coefficient_cfm: float = 180.0,
    exponent: float = 0.65,
    **changes: Any,
) -> dict[str, Any]:
    """A depressurization test whose flows follow a power law with small fixed scatter."""
    scatter = [1.004, 0.997, 1.002, 0.996, 1.003, 0.998, 1.001]
    points = [
        {
            "building_pressure": round(-1.2 - pressure, 1),
            "flow": round(coefficient_cfm * pressure**exponent * wobble, 1),
            "seconds": 15,
        }
        for pressure, wobble in zip([60, 52, 45, 38, 30, 22, 15], scatter, strict=True)
    ]
    document: dict[str, Any] = {
        "kind": "envelope",
        "client_key": str(uuid.uuid4()),
        "job": None if job is None else str(job.pk),
        "phase": phase,
        "method": "iso9972",
        "taken_at": "2026-04-14T10:05:00-05:00",
        "operator": "Casimir Oyelaran",
        "units": {
            "pressure": "Pa",
            "flow": "cfm",
            "temperature": "degF",
            "length": "ft",
            "wind_speed": "mph",
        },
        "gauge": {"serial": "QG-014", "baseline_subtracted": False, "density_corrected": True},
        "conditions": {
            "indoor_temperature": 69,
            "outdoor_temperature": 55,
            "elevation": 900,
            "wind_speed": 3,
        },
        "setup": {"interior_doors": "open", "basement_door": "open", "attic_hatch": "closed"},
        "series": [
            {
                "direction": "depressurization",
                "baseline_before": {
                    "samples": [-1.1, -1.3, -0.9, -1.4, -1.2, -1.0, -1.3, -1.2, -1.1, -1.5],
                    "seconds": 60,
                },
                "baseline_after": {
                    "samples": [-1.2, -1.4, -1.0, -1.1, -1.3, -1.2, -0.9, -1.3, -1.2, -1.4],
                    "seconds": 60,
                },
                "points": points,
            }
        ],
    }
    return document | changes


def make_run(
    job: Job,
    phase: str = "before",
    flow_50_cfm: float | None = 2000.0,
    *,
    device: Device,
    verdict: str = "valid",
    review: str = "to_review",
    taken_at: datetime | None = None,
    reviewed_by: User | None = None,
    gauge: str = "QG-014",
) -> TestRun:
    """A stored run with a ready-made result row, for tests that do not compute."""
    document = make_document(job=job, phase=phase)
    document["gauge"]["serial"] = gauge
    run = TestRun.objects.create(
        job=job,
        device=device,
        client_key=document["client_key"],
        uploaded_by=device.user,
        kind="envelope",
        phase=phase,
        method="iso9972",
        operator="Casimir Oyelaran",
        taken_at=taken_at or timezone.now() - timedelta(days=2),
        document=json.dumps(document),
        document_hash=canonical_hash(document),
        readings_hash=canonical_hash(document),
        answer={},
        review=review,
        review_reason="Readings do not fit the house." if review == "returned" else "",
        reviewed_by=reviewed_by,
        reviewed_at=timezone.now() if review != "to_review" else None,
    )
    InstrumentUse.objects.note(run, parse(document))
    flow = None if flow_50_cfm is None else flow_50_cfm * CFM
    Result.objects.create(
        test_run=run,
        method="ISO 9972",
        edition="2015",
        maths_version="test",
        input_hash=canonical_hash(document),
        verdict=verdict,
        flow_50=flow,
        figures=_figures(flow),
        checks=[],
    )
    return run


def _figures(flow: float | None) -> dict[str, Any]:
    if flow is None:
        return {}
    band = {"value": flow, "low": 0.97 * flow, "high": 1.03 * flow}
    return {
        "flow_50": band,
        "exponent": {"value": 0.65, "low": 0.62, "high": 0.68},
        "flows": {"50": band},
        "uncertainty": {"flow_50": 0.03, "systematic": 0.025, "random": 0.012},
        "instruments": {"gauge": "QG-014", "fans": ["QF-003"], "configurations": ["open"]},
        "series": [],
    }


def make_comparison(job: Job, before: TestRun | None, after: TestRun | None) -> Comparison:
    """A ready-made comparison row of two runs."""
    first = before.result if before else None
    second = after.result if after else None
    share = None
    if first and second and first.flow_50 and second.flow_50:
        share = 1 - second.flow_50 / first.flow_50
    verdict = "detectable"
    if first is None:
        verdict = "no_before"
    elif second is None:
        verdict = "no_after"
    return Comparison.objects.create(
        job=job,
        before=first,
        after=second,
        maths_version="test",
        input_hash=canonical_hash([str(job.pk), str(share)]),
        verdict=verdict,
        before_flow_50=first.flow_50 if first else None,
        after_flow_50=second.flow_50 if second else None,
        reduction=share,
        reduction_uncertainty=None if share is None else 0.02,
        reasons=[],
        figures={},
    )
