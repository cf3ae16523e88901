"""Instruments, refused uploads, phones, certificates and promised work."""

import json
import uuid
from datetime import timedelta

import pytest
import segno
from django.core.files.base import ContentFile
from django.urls import reverse
from django.utils import timezone

from agency.accounts.models import Device, PairingCode
from agency.certificates.models import Certificate
from agency.diagnostics.models import RefusedUpload
from agency.estimates.models import SavingsEstimate
from agency.instruments.models import Calibration, FanEquation, Instrument
from agency.outbox.models import Errand
from tests.builders import make_comparison

pytestmark = pytest.mark.django_db


@pytest.fixture
def fan(cast):
    """A fan due today."""
    instrument = Instrument.objects.create(kind="fan", serial="QF-003", crew=cast.crew)
    today = timezone.localdate()
    calibration = Calibration.objects.create(
        instrument=instrument,
        calibrated_on=today - timedelta(days=365),
        due_on=today,
        laboratory="Quillmoor Metrology",
        accuracy_percent=3,
    )
    FanEquation.objects.create(
        calibration=calibration,
        configuration="open",
        coefficient=490,
        exponent=0.5,
        lowest_pressure=25,
        highest_pressure=300,
        flow_unit="cfm",
        air_density=1.2041,
    )
    return instrument


def test_instrument_may_be_used_on_its_last_day_and_not_after(sign_in, cast, fan):
    browser = sign_in(cast.office)
    states = [one.state for one in browser.get(reverse("office:instruments")).context["standings"]]
    assert states == ["current"]
    fan.calibrations.update(due_on=timezone.localdate() - timedelta(days=1))
    Instrument.objects.create(kind="gauge", serial="QG-099")
    states = [one.state for one in browser.get(reverse("office:instruments")).context["standings"]]
    assert states == ["never_calibrated", "expired"]


def test_instrument_page_shows_certificate_and_equations(sign_in, cast, fan):
    page = sign_in(cast.office).get(reverse("office:instrument", args=[fan.pk])).content.decode()
    for told in ("Quillmoor Metrology", "490", "0.5", "1.2041", "3\u202f%"):
        assert told in page
    assert "the certificate does not say" in page


def test_unknown_instrument(sign_in, cast):
    address = reverse("office:instrument", args=[uuid.uuid4()])
    assert sign_in(cast.office).get(address).status_code == 404


def test_refused_upload_keeps_document_and_reasons(sign_in, cast, device):
    reason = {
        "field": "series[0].points[2].flow",
        "code": "not_a_number",
        "message": "This is a text, not a number.",
        "value": "<12,3>",
        "limit": None,
        "next_step": "Send the reading as a number.",
    }
    upload = RefusedUpload.objects.create(
        device=device,
        client_key="k",
        document=json.dumps({"note": "</pre><script>"}),
        document_hash="0" * 64,
        reasons=[reason],
    )
    browser = sign_in(cast.office)
    page = browser.get(reverse("office:refused_upload", args=[upload.pk])).content.decode()
    assert "This is a text, not a number." in page
    assert "Send the reading as a number." in page
    assert "</pre><script>" not in page
    page = browser.get(reverse("office:refused_uploads")).content.decode()
    assert reverse("office:refused_upload", args=[upload.pk]) in page


def test_refused_upload_that_is_no_json_is_shown_as_it_came(sign_in, cast, device):
    upload = RefusedUpload.objects.create(
        device=device, document="{broken", document_hash="0" * 64, reasons=[]
    )
    answer = sign_in(cast.office).get(reverse("office:refused_upload", args=[upload.pk]))
    assert "{broken" in answer.content.decode()


def test_a_pairing_code_is_shown_once_and_pairs_the_phone_of_its_person(sign_in, cast, client):
    browser = sign_in(cast.office)
    answer = browser.post(reverse("office:pair_device"), {"user": cast.crew_lead.pk})
    code = answer.context["code"]
    assert code in answer.content.decode()
    assert answer["Cache-Control"] == "no-store"
    assert code not in browser.get(reverse("office:devices")).content.decode()
    assert code.replace("-", "") not in str(PairingCode.objects.values_list())
    sent = {"code": code, "label": "Black phone"}
    paired = client.post("/api/v1/devices/", sent, content_type="application/json")
    assert paired.status_code == 201
    assert str(Device.objects.get()) == f"Black phone ({cast.crew_lead})"


def test_the_square_holds_the_address_with_the_code_behind_the_fragment_mark(sign_in, cast):
    """The picture is compared with one made here from the text the phone must read."""
    answer = sign_in(cast.office).post(
        reverse("office:pair_device"), {"user": cast.crew_lead.pk}, headers={"host": "127.0.0.1"}
    )
    code = answer.context["code"].replace("-", "")
    wanted = segno.make(f"http://127.0.0.1/field/#pair={code}", error="m", micro=False)
    path = wanted.svg_inline().split(' d="')[1].split('"')[0]
    assert f' d="{path}"' in answer.content.decode()


def test_pairing_without_a_person_is_refused_in_words(sign_in, cast):
    answer = sign_in(cast.office).post(reverse("office:pair_device"), {})
    assert answer.status_code == 422
    assert "Choose who carries the phone." in answer.content.decode()
    assert not PairingCode.objects.exists()


def test_revoked_phone_stays_listed(sign_in, cast, device):
    browser = sign_in(cast.office)
    page = browser.post(reverse("office:revoke_device", args=[device.pk]), follow=True)
    device.refresh_from_db()
    assert device.is_revoked
    assert "is revoked. Readings still on it are kept there" in page.content.decode()
    assert [row.device for row in page.context["rows"]] == [device]


def test_failed_work_is_told_with_its_problem(sign_in, cast):
    Errand.objects.create(
        task="agency.estimates.tasks.estimate_job",
        subject=uuid.uuid4(),
        state="failed",
        problem="No weather year is entered for county 99001.",
    )
    page = sign_in(cast.office).get(reverse("office:system")).content.decode()
    assert "Estimate job" in page
    assert "No weather year is entered for county 99001." in page


@pytest.fixture
def certificate(cast, make_job, make_run, settings, tmp_path):
    """An issued certificate with its file."""
    settings.MEDIA_ROOT = tmp_path
    job = make_job(status="approved")
    comparison = make_comparison(job, None, None)
    estimate = SavingsEstimate.objects.create(
        job=job,
        comparison=comparison,
        method="m",
        edition="e",
        maths_version="1",
        input_hash="h",
        inputs={},
        figures={},
    )
    paper = Certificate(
        job=job,
        estimate=estimate,
        number="QM-0001",
        check_code="7K3M-Q2XD",
        input_hash="h",
        figures={},
        file_hash="",
    )
    paper.append_to(None)
    paper.file.save("evil name.html", ContentFile(b"%PDF-1.7 words"))
    return paper


def test_certificate_is_saved_never_shown(sign_in, cast, certificate):
    address = reverse("office:certificate_file", args=[certificate.pk])
    answer = sign_in(cast.office).get(address)
    assert b"".join(answer.streaming_content) == b"%PDF-1.7 words"
    assert answer["Content-Disposition"] == 'attachment; filename="QM-0001.pdf"'
    assert answer["Content-Type"] == "application/pdf"
    assert answer["X-Content-Type-Options"] == "nosniff"


def test_certificate_is_for_the_desk_only(sign_in, client, cast, certificate):
    address = reverse("office:certificate_file", args=[certificate.pk])
    assert client.get(address).status_code == 302
    assert sign_in(cast.crew_lead).get(address).status_code == 404


def test_certificate_whose_file_is_lost(sign_in, cast, certificate):
    certificate.file.storage.delete(certificate.file.name)
    address = reverse("office:certificate_file", args=[certificate.pk])
    assert sign_in(cast.office).get(address).status_code == 404


def test_records_pages_open_for_an_administrator(sign_in, cast, make_job, make_run, fan):
    make_run(make_job())
    cast.admin.is_superuser = True
    cast.admin.save()
    browser = sign_in(cast.admin)
    page = browser.get(reverse("admin:index")).content.decode()
    for name in ("jobs_job", "houses_house", "rulebook_rule", "diagnostics_testrun"):
        assert reverse(f"admin:{name}_changelist") in page
        assert browser.get(reverse(f"admin:{name}_changelist")).status_code == 200


def test_records_pages_do_not_change_a_state(sign_in, cast, make_job):
    job = make_job()
    cast.admin.is_superuser = True
    cast.admin.save()
    page = sign_in(cast.admin).get(reverse("admin:jobs_job_change", args=[job.pk]))
    assert 'name="status"' not in page.content.decode()
