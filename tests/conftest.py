"""One cast of people for every test, and the ways to make records."""

import os
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import hypothesis
import pytest
from django.conf import settings
from django.test import Client as Browser
from rest_framework.test import APIClient

from agency.accounts.models import Device, User
from agency.config.celery import app
from agency.diagnostics.models import TestRun
from agency.jobs.models import Job
from agency.outbox.models import Errand
from agency.people.models import Crew
from agency.programs.models import Agency

from . import builders

if "CI" not in os.environ:
    # A busy machine is no defect; with CI set the library's own profile says the same and more.
    hypothesis.settings.register_profile("no hurry", deadline=None)
    hypothesis.settings.load_profile("no hurry")


@dataclass(frozen=True)
class Cast:
    """Who works at the invented agency."""

    crew: Crew
    other_crew: Crew
    crew_lead: User
    stranger: User
    office: User
    inspector: User
    manager: User
    admin: User


@pytest.fixture
def cast(db: None) -> Cast:
    """A crew lead, a stranger of another crew, and the people at the desk."""
    crew = Crew.objects.create(name="Crew Alder")
    other_crew = Crew.objects.create(name="Crew Birch")
    inspector = builders.make_user("inspector", "ignatius")
    builders.make_credential(inspector)
    return Cast(
        crew=crew,
        other_crew=other_crew,
        crew_lead=builders.make_user("crew", "casimir", crew=crew),
        stranger=builders.make_user("crew", "brannoch", crew=other_crew),
        office=builders.make_user("office", "odette"),
        inspector=inspector,
        manager=builders.make_user("manager", "marisol"),
        admin=builders.make_user("admin", "adaeze"),
    )


@pytest.fixture
def agency(db: None) -> Agency:
    """The agency whose papers are printed."""
    return builders.make_agency()


@pytest.fixture
def device(cast: Cast) -> Device:
    """The crew lead's paired phone."""
    return builders.make_device(cast.crew_lead)[0]


@pytest.fixture
def phone(cast: Cast) -> APIClient:
    """An API client that speaks as the crew lead's phone; `phone.device` is its record."""
    device, token = builders.make_device(cast.crew_lead)
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    client.device = device  # type: ignore[attr-defined]
    return client


@pytest.fixture
def make_job(cast: Cast) -> Callable[..., Job]:
    """`make_job(status=..., crew=..., house=...)`."""
    return partial(builders.make_job, crew=cast.crew)


@pytest.fixture
def make_run(device: Device) -> Callable[..., TestRun]:
    """`make_run(job, phase, flow_50_cfm, verdict=..., review=...)`, result included."""
    return partial(builders.make_run, device=device)


@pytest.fixture
def sign_in(client: Browser) -> Callable[[User], Browser]:
    """A browser signed in as one of the cast."""

    def as_user(user: User) -> Browser:
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return as_user


@pytest.fixture
def work_off() -> Callable[[], int]:
    """Keep every promise as a worker would, in this process; how many were kept."""

    def run() -> int:
        app.loader.import_default_modules()
        kept = 0
        while errand := Errand.objects.due(builders.timezone.now()).first():
            app.tasks[errand.task](str(errand.pk))
            kept += 1
        failed = Errand.objects.filter(state=Errand.State.FAILED)
        assert not failed, [errand.problem for errand in failed]
        return kept

    return run


def pytest_report_header() -> str:
    """Say plainly which database the tests use."""
    engine = settings.DATABASES["default"]["ENGINE"].rpartition(".")[2]
    return f"database: {engine} (PostgreSQL when it answers on 127.0.0.1:5432, else SQLite)"
