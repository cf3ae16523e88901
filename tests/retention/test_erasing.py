"""Erasure: nothing of the household is left anywhere in the database; readings stay."""

import json
import uuid
from io import StringIO

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.core.serializers.json import DjangoJSONEncoder
from django.utils import timezone

from agency import intake_workflows as steps
from agency.errors import ActionRefused
from agency.intake.models import Application, Benefit, EnergyUse
from agency.jobs.models import Job, Visit
from agency.people.models import Client
from agency.programs.models import BenefitProgram
from agency.retention.erasing import erase, planned
from agency.retention.models import Erasure
from tests.applicants import DAY, give_permission, make_waiting
from tests.builders import make_device, make_photo

pytestmark = pytest.mark.django_db

MARKS = (
    "Zephyrine Quillfeather",
    "555-0177",
    "zephyrine@quillmoor.example",
    "23456.78",
    "1357.91",
    "oxygen machine",
    "key under the pot",
    "Hortensia Landholder",
    "letter of the physician",
)


@pytest.fixture
def closed(cast, make_run):
    """A household with a finished job, every sensitive fact of it a word found nowhere else."""
    client = Client.objects.create(
        name="Z. Q.", phone="555-0177", email="zephyrine@quillmoor.example"
    )
    client.name = "Zephyrine Quillfeather"
    client.save()
    application = make_waiting(cast.office, client=client, income="23456.78", tenure="renter")
    EnergyUse.objects.create(application=application, fuel="propane", used=900, cost="1357.91")
    ssi = BenefitProgram.objects.first()
    Benefit.objects.create(application=application, program=ssi, last_paid_on=DAY)
    steps.grant_emergency(application.pk, cast.manager, reason="oxygen machine", on=DAY)
    give_permission(application.house, owner_name="Hortensia Landholder")
    job = steps.open_job_from(
        application.pk, cast.office, number="QC-26-0900", crew=cast.crew, on=DAY
    )
    Visit.objects.create(job=job, kind="work", planned_on=DAY, note="key under the pot")
    make_run(job)
    make_photo(job, make_device(cast.crew_lead)[0])
    job.withdraw(cast.office, "letter of the physician")
    return client


def everything():
    """Every row of every table of ours and its history, as text."""
    rows = [
        row
        for model in apps.get_models()
        if model.__module__.startswith(("agency.", "simple_history."))
        for row in model._default_manager.values()
    ]
    return json.dumps(rows, cls=DjangoJSONEncoder, default=str)


def test_no_word_of_the_household_is_left_in_any_table(closed):
    before = everything()
    assert [mark for mark in MARKS if mark not in before] == []
    erase(closed, reason="Asked by the client", now=timezone.now())
    after = everything()
    assert [mark for mark in MARKS if mark in after] == []


def test_readings_outcomes_and_numbers_stay(closed):
    job = Job.objects.get(client=closed)
    run, determination = job.test_runs.get(), closed.applications.get().determinations.first()
    erase(closed, reason="Asked by the client", now=timezone.now())
    assert job.test_runs.get().document == run.document
    again = closed.applications.get().determinations.first()
    assert (again.outcome, again.made_on, again.expires_on, again.household_size) == (
        determination.outcome,
        determination.made_on,
        determination.expires_on,
        determination.household_size,
    )
    assert (again.annual_income, again.inputs, again.lines) == (None, {}, [])
    assert [event.new for event in job.events.all()] == ["withdrawn"]
    assert Job.objects.get(client=closed).number == "QC-26-0900"


def test_another_household_is_untouched(cast, closed):
    other = make_waiting(cast.office, income="19191.91")
    erase(closed, reason="Asked by the client", now=timezone.now())
    kept = Application.objects.get(pk=other.pk)
    assert str(kept.incomes.get().amount) == "19191.91"
    assert kept.determinations.get().annual_income is not None
    assert kept.client.name.startswith("Ysolde")


def test_photo_files_go_once_the_rows_are_gone(closed, django_capture_on_commit_callbacks):
    photo = Job.objects.get(client=closed).photos.get()
    files = [photo.file, photo.small]
    assert all(file.storage.exists(file.name) for file in files)
    with django_capture_on_commit_callbacks(execute=True):
        erase(closed, reason="Asked by the client", now=timezone.now())
    assert not [file for file in files if file.storage.exists(file.name)]


@pytest.mark.parametrize("still", ["application", "job"])
def test_an_open_case_is_not_erased(cast, make_job, still):
    client = make_waiting(cast.office).client if still == "application" else make_job().client
    with pytest.raises(ActionRefused, match="is still open"):
        erase(client, reason="Asked", now=timezone.now())


def test_a_held_file_is_not_erased(closed):
    closed.legal_hold = "Audit of 2026."
    closed.save()
    with pytest.raises(ActionRefused, match="Audit of 2026"):
        erase(closed, reason="Asked", now=timezone.now())


def test_without_a_reason_nothing_is_erased(closed):
    with pytest.raises(ActionRefused, match="reason is empty"):
        erase(closed, reason="  ", now=timezone.now())
    assert Client.objects.get(pk=closed.pk).phone == "555-0177"


def test_the_command_only_tells_until_it_is_told_yes(closed):
    before, out = everything(), StringIO()
    call_command("erase_household", str(closed.pk), stdout=out)
    assert everything() == before
    assert "Nothing is changed" in out.getvalue()
    assert "1 client" in out.getvalue()
    call_command("erase_household", str(closed.pk), "--yes", "--reason", "Asked", stdout=out)
    assert "Backups made before today still hold this household" in out.getvalue()
    assert Erasure.objects.get().client_id == closed.pk
    assert Client.objects.get(pk=closed.pk).name == f"Erased {str(closed.pk)[:8]}"


def test_what_was_planned_is_what_was_done(closed):
    plan = planned(closed, now=timezone.now())
    assert erase(closed, reason="Asked", now=timezone.now()).done == plan


def test_an_unknown_client_is_named():
    with pytest.raises(CommandError, match="No client has the id"):
        call_command("erase_household", str(uuid.uuid4()), stdout=StringIO())


def test_erased_twice_changes_nothing_more(closed):
    erase(closed, reason="Asked", now=timezone.now())
    first = Client.objects.get(pk=closed.pk)
    erase(closed, reason="Asked again", now=timezone.now())
    assert Client.objects.get(pk=closed.pk).name == first.name
