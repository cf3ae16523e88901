"""Every address of the program against every role: a route missing from the table fails."""

import uuid
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from agency.certificates.models import Certificate
from agency.diagnostics.excepting import InstrumentException
from agency.diagnostics.models import RefusedUpload
from agency.estimates.bill_studies import NonRoutineChange
from agency.estimates.models import MeasuresEstimate, SavingsEstimate, WeatherStation
from agency.instruments.models import Instrument
from agency.jobs.models import Visit
from agency.outbox.models import Errand
from agency.reports.models import Export
from tests.applicants import make_waiting
from tests.bill_records import (
    make_account,
    make_bill_file,
    make_days,
    make_realization,
    make_study,
)
from tests.builders import make_building, make_comparison, make_photo, make_stop, make_weather
from tests.casework_records import make_address, one_of_each
from tests.estimates.measured import make_measure

ROLES = ("anonymous", "crew_lead", "stranger", "office", "inspector", "manager", "admin")
SIGN_IN = 302

# For each address: method, then the status for each of ROLES.
# Desk pages send the anonymous to sign in (302) and tell a crew that there is nothing (404);
# a POST that is allowed but empty answers with a redirect or with the form again.
DESK = ("GET", SIGN_IN, 404, 404, 200, 200, 200, 200)
REVIEW = ("POST", SIGN_IN, 404, 404, "done", 403, "done", "done")
MANAGE = ("POST", SIGN_IN, 404, 404, 403, 403, "done", "done")
EVERYONE = ("GET", 200, 200, 200, 200, 200, 200, 200)
PRIVY = ("GET", SIGN_IN, 404, 404, 200, 403, 200, 403)
PRIVY_STEP = ("POST", SIGN_IN, 404, 404, "done", 403, "done", 403)
KEEPERS = ("GET", SIGN_IN, 404, 404, 200, 403, 200, 200)
ANY_DESK = ("POST", SIGN_IN, 404, 404, "done", "done", "done", "done")
READ_TO_ACT = ("GET", SIGN_IN, 404, 404, 200, 403, 200, 200)
STAFF_API = ("GET", 401, 403, 403, 200, 200, 200, 200)
PHONE_ONLY = ("POST", 401, 403, 403, 403, 403, 403, 403)

TABLE: dict[str, tuple[Any, ...]] = {
    "home": ("GET", SIGN_IN, 302, 302, 302, 302, 302, 302),
    "healthz": ("GET", 200, 200, 200, 200, 200, 200, 200),
    "verify": EVERYONE,
    "office:today": ("GET", SIGN_IN, 302, 302, 200, 200, 200, 200),
    "office:sign_in": ("GET", 200, 200, 200, 200, 200, 200, 200),
    "office:sign_out": ("POST", 302, 302, 302, 302, 302, 302, 302),
    "office:jobs": DESK,
    "office:job": DESK,
    "office:finish_work": REVIEW,
    "office:start_work": REVIEW,
    "office:record_inspection": ("POST", SIGN_IN, 404, 404, 403, "done", 403, 403),
    "office:approve_job": MANAGE,
    "office:withdraw_job": REVIEW,
    "office:explain_no_before_test": REVIEW,
    "office:write_handover": REVIEW,
    "office:reissue_certificate": MANAGE,
    "office:measures": DESK,
    "office:add_measure": ("GET", SIGN_IN, 404, 404, 200, 403, 200, 200),
    "office:edit_measure": ("GET", SIGN_IN, 404, 404, 200, 403, 200, 200),
    "office:remove_measure": REVIEW,
    "office:measures_estimate": DESK,
    "office:ask_measures_estimate": REVIEW,
    "office:ask_package": REVIEW,
    "office:what_if": DESK,
    "office:energy_description": ("GET", SIGN_IN, 404, 404, 200, 403, 200, 200),
    "office:typical_years": DESK,
    "office:typical_year": DESK,
    "office:add_station": ("GET", SIGN_IN, 404, 404, 403, 403, 200, 200),
    "office:assign_station": MANAGE,
    "office:safety_stops": DESK,
    "office:acknowledge_stop": ("POST", SIGN_IN, 404, 404, "done", "done", "done", "done"),
    "office:clear_stop": ("POST", SIGN_IN, 404, 404, 403, "done", "done", "done"),
    "office:late_visits": DESK,
    "office:schedule": DESK,
    "office:schedule_day": DESK,
    "office:type_forecast": REVIEW,
    "office:calendars": DESK,
    "office:make_calendar": REVIEW,
    "office:revoke_calendar": REVIEW,
    "office:calendar_feed": ("GET", 200, 200, 200, 200, 200, 200, 200),
    "office:book_visit": READ_TO_ACT,
    "office:move_booking": READ_TO_ACT,
    "office:call_off_booking": REVIEW,
    "office:take_step": ANY_DESK,
    "office:record_proof": ANY_DESK,
    "office:withdraw_proof": ANY_DESK,
    "office:plan_visit": REVIEW,
    "office:log_contact": ANY_DESK,
    "office:propose_deferral": ANY_DESK,
    "office:deferrals": DESK,
    "office:decide_deferral": MANAGE,
    "office:end_deferral": MANAGE,
    "office:findings": DESK,
    "office:close_finding": ANY_DESK,
    "office:ask_change": ANY_DESK,
    "office:decide_change": MANAGE,
    "office:ask_reopening": MANAGE,
    "office:decide_reopening": MANAGE,
    "office:make_letter": REVIEW,
    "office:letter_file": DESK,
    "office:credentials": DESK,
    "office:second_confirmation": REVIEW,
    "office:test_runs": DESK,
    "office:test_run": DESK,
    "office:test_report": DESK,
    "office:accept_test_run": REVIEW,
    "office:return_test_run": REVIEW,
    "office:confirm_question": REVIEW,
    "office:undo_review": REVIEW,
    "office:swap_sides": REVIEW,
    "office:type_in": ("GET", SIGN_IN, 404, 404, 200, 403, 200, 200),
    "office:test_kinds": DESK,
    "office:test_kind": DESK,
    "office:review": ("GET", SIGN_IN, 404, 404, "done", "done", "done", "done"),
    "office:review_run": DESK,
    "office:certificate_file": DESK,
    "office:worksheet": DESK,
    "office:photo": DESK,
    "office:small_photo": DESK,
    "office:instruments": DESK,
    "office:instrument": DESK,
    "office:look_back": DESK,
    "office:look_back_csv": DESK,
    "office:except_run": MANAGE,
    "office:except_period": MANAGE,
    "office:withdraw_exception": MANAGE,
    "office:refused_uploads": DESK,
    "office:refused_upload": DESK,
    "office:devices": DESK,
    "office:pair_device": REVIEW,
    "office:revoke_device": REVIEW,
    "office:system": DESK,
    "office:try_again": REVIEW,
    "office:style": DESK,
    "office:new_job": KEEPERS,
    "office:applications": DESK,
    "office:new_application": PRIVY,
    "office:application": DESK,
    "office:application_step": PRIVY_STEP,
    "office:determination": PRIVY,
    "office:waiting_list": DESK,
    "office:clients": DESK,
    "office:client": DESK,
    "office:new_client": KEEPERS,
    "office:change_client": KEEPERS,
    "office:houses": DESK,
    "office:house": DESK,
    "office:new_house": KEEPERS,
    "office:change_house": KEEPERS,
    "office:permit_house": REVIEW,
    "office:buildings": DESK,
    "office:building": DESK,
    "office:new_building": KEEPERS,
    "office:change_building": KEEPERS,
    "office:add_unit": REVIEW,
    "office:search": DESK,
    "office:sensitive_views": ("GET", SIGN_IN, 404, 404, 403, 403, 200, 200),
    "office:reports": DESK,
    "office:report_jobs": DESK,
    "office:report_csv": DESK,
    "office:report_xlsx": DESK,
    "office:report_pdf": DESK,
    "office:board_pdf": ("GET", SIGN_IN, 404, 404, 403, 403, 200, 200),
    "office:lock_quarter": MANAGE,
    "office:exports": DESK,
    "office:ask_for_file": ("POST", SIGN_IN, 404, 404, "done", "done", "done", "done"),
    # Asked for by the manager.
    "office:export_file": ("GET", SIGN_IN, 404, 404, 404, 404, 200, 200),
    "field:shell": EVERYONE,
    "field:worker": EVERYONE,
    "field:manifest": EVERYONE,
    "office:job_bills": DESK,
    "office:open_account": REVIEW,
    "office:upload_bill_csv": REVIEW,
    "office:upload_bill_espi": REVIEW,
    "office:ask_study": REVIEW,
    "office:note_change": REVIEW,
    "office:confirm_change": MANAGE,
    "office:bill_file": DESK,
    "office:bill_file_errors": DESK,
    "office:bill_file_as_sent": DESK,
    "office:import_bill_file": REVIEW,
    "office:undo_bill_file": REVIEW,
    "office:weather": DESK,
    "office:weather_station": DESK,
    "office:upload_days": REVIEW,
    "office:type_day": REVIEW,
    "office:undo_days": REVIEW,
    "office:realization": DESK,
    "office:realization_csv": DESK,
    "office:work_out_realization": REVIEW,
    "field:today": ("GET", SIGN_IN, 200, 200, 302, 302, 302, 302),
    "api:job-list": ("GET", 401, 200, 200, 200, 200, 200, 200),
    "api:job-detail": ("GET", 401, 200, 404, 200, 200, 200, 200),
    "api:job-finish": ("POST", 401, 200, 404, 200, 200, 200, 200),
    "api:job-work-started": ("POST", 401, 400, 400, 400, 400, 400, 400),
    "api:test-run-list": ("GET", 401, 200, 200, 200, 200, 200, 200),
    "api:test-run-detail": ("GET", 401, 200, 404, 200, 200, 200, 200),
    "api:measure-list": ("GET", 401, 200, 200, 200, 200, 200, 200),
    "api:measure-detail": ("GET", 401, 200, 404, 200, 200, 200, 200),
    "api:measures-estimate-list": ("GET", 401, 200, 200, 200, 200, 200, 200),
    "api:measures-estimate-detail": ("GET", 401, 200, 404, 200, 200, 200, 200),
    "api:safety-stop-list": ("GET", 401, 200, 200, 200, 200, 200, 200),
    "api:safety-stop-acknowledge": ("POST", 401, 400, 404, 400, 400, 400, 400),
    "api:devices": ("POST", 400, 400, 400, 400, 400, 400, 400),
    "api:forms": ("GET", 401, 200, 200, 200, 200, 200, 200),
    "api:form": ("GET", 401, 200, 200, 200, 200, 200, 200),
    "api:batches": PHONE_ONLY,
    "api:photos": PHONE_ONLY,
    "api:photo": ("GET", 401, 200, 404, 200, 200, 200, 200),
    "api:field": ("GET", 401, 403, 403, 403, 403, 403, 403),
    "api:visit-reports": PHONE_ONLY,
    "api:quarter": STAFF_API,
    "api:bill-study-list": STAFF_API,
    "api:bill-study-detail": STAFF_API,
    "api:realization": STAFF_API,
    "api:schema": ("GET", 401, 200, 200, 200, 200, 200, 200),
}


def routes(resolver: URLResolver, namespace: str = "") -> Iterator[str]:
    """Names of all our addresses; Django's own admin has its own tests."""
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            inner = entry.namespace or ""
            if inner != "admin":
                yield from routes(entry, f"{inner}:" if inner else namespace)
        elif isinstance(entry, URLPattern):
            yield f"{namespace}{entry.name}"


def test_every_route_stands_in_the_table():
    assert set(routes(get_resolver())) == set(TABLE)


@pytest.fixture
def records(cast, device, make_job, make_run):
    job = make_job(status="in_progress")
    run = make_run(job)
    comparison = make_comparison(job, run, None)
    estimate = SavingsEstimate.objects.create(
        job=job, comparison=comparison, maths_version="test", input_hash="0", inputs={}, figures={}
    )
    certificate = Certificate(
        job=job,
        estimate=estimate,
        number="T-1",
        check_code="7K3M-Q2XD",
        input_hash="0",
        figures={},
        file_hash="0",
    )
    certificate.append_to(None)
    certificate.file.save("t.pdf", ContentFile(b"%PDF-1.7"))
    upload = RefusedUpload.objects.create(
        device=device, document="{}", document_hash="0", reasons=[]
    )
    instrument = Instrument.objects.create(kind="gauge", serial="QG-900")
    exception = InstrumentException.objects.create(
        instrument=instrument,
        cause="never_calibrated",
        test_run=run,
        by=cast.manager,
        reason="Read beside another gauge.",
    )
    export = Export(
        asked_by=cast.manager, quarter="2026-Q2", form="csv", table="homes", file_name="t.csv",
        file_hash="0", file_size=3, finished_at=timezone.now(),
    )  # fmt: skip
    export.file.save("t.csv", ContentFile(b"a,b"))
    application = make_waiting(cast.office)
    return one_of_each(make_job(), run, cast) | {
        "calendar": make_address(cast),
        "jobs": job,
        "measures": make_measure(job, "air_sealing", {}),
        "measures-estimates": MeasuresEstimate.objects.create(
            job=job, method="m", input_hash="0", inputs={}, figures={}
        ),
        "typical-years": make_weather(job.house.county),
        "files": export,
        "applications": application,
        "determinations": application.determinations.get(),
        "clients": application.client,
        "houses": application.house,
        "buildings": make_building(),
        "visits": Visit.objects.create(job=job, kind="work", planned_on=job.opened_on),
        "test-runs": run,
        "review": run,
        "certificates": certificate,
        "instruments": instrument,
        "exceptions": exception,
        "refused-uploads": upload,
        **bill_records(job, cast),
        "phones": device,
        "photos": make_photo(job, device),
        "safety-stops": make_stop(make_job()),
        "system": Errand.objects.create(task="a.task", subject=job.pk, state="failed"),
    }


def bill_records(job, cast) -> dict[str, Any]:
    """What the pages of bills and weather show."""
    account = make_account(job.house, cast.office)
    station = WeatherStation.objects.create(name="Tarn Hollow airfield", format="epw")
    make_realization(job.program)
    change = NonRoutineChange.objects.create(
        job=job, kind="occupancy", since=job.opened_on, note="Two moved in.", noted_by=cast.office
    )
    return {
        "bill-files": make_bill_file(account, cast.office, content=b"From,To,Therms,Reading"),
        "bill-studies": make_study(job, account, cast.office),
        "house-changes": change,
        "weather": station,
        "weather-files": make_days(station, cast.office, days=2),
    }


WORDED = {
    "verify": ("7K3M-Q2XD", "9999-9999"),
    "api:realization": ("QM-26-01", "QM-00-00"),
    "api:quarter": ("2026-Q2", "2026-Q2"),
    "office:report_jobs": ("units", "units"),
    "office:test_kind": ("component", "no-such-kind"),
    "api:form": ("component", "no-such-kind"),
}
"""Addresses that take a word in place of a record: a known one and an unknown one."""
TWO_PARTS = {
    "office:type_in": ("jobs", "component"),
    "office:add_measure": ("jobs", "lighting"),
    "office:take_step": ("jobs", "waitlist"),
    "office:application_step": ("applications", "determine"),
}
"""Addresses of a record and a word after it."""


def address(name: str, records: dict[str, Any], *, unknown: bool = False) -> str:
    """The address of a route, with a record's id where it takes one."""
    if name in WORDED:
        return reverse(name, args=[WORDED[name][unknown]])
    if name in TWO_PARTS:
        kind, second = TWO_PARTS[name]
        return reverse(name, args=[uuid.UUID(int=7) if unknown else records[kind].pk, second])
    if name == "office:calendar_feed":
        return reverse(name, args=["no-such-key" if unknown else records["calendar"]])
    try:
        return reverse(name)
    except Exception:
        probe = uuid.UUID(int=7)
        path = reverse(name, args=[probe])
        place = path.split("/")[path.split("/").index(str(probe)) - 1]
        return path if unknown else path.replace(str(probe), str(records[place].pk))


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("name", TABLE)
def test_each_route_for_each_role(  # noqa: PLR0917  fixtures
    name, role, client, sign_in, cast, records
):
    method, *statuses = TABLE[name]
    expected = statuses[ROLES.index(role)]
    browser = client if role == "anonymous" else sign_in(getattr(cast, role))
    answer = browser.generic(method, address(name, records), content_type="application/json")
    if expected == "done":
        assert answer.status_code in {200, 302, 400, 409, 422}, answer.content[:300]
        assert "sign-in" not in answer.headers.get("Location", "")
    else:
        assert answer.status_code == expected, answer.content[:300]
    if role == "anonymous" and expected == SIGN_IN and name not in {"office:sign_out"}:
        assert "sign-in" in answer.headers["Location"] or name == "home"


@pytest.mark.parametrize("name", [name for name in TABLE if name.startswith("office:")])
def test_a_verb_is_never_reached_by_looking(name, sign_in, cast, records):
    if TABLE[name][0] == "POST":
        answer = sign_in(cast.admin).get(address(name, records))
        assert answer.status_code in {404, 405}


@pytest.mark.parametrize("name", TABLE)
def test_an_unknown_record_is_not_found(name, sign_in, cast, records):
    known, unknown = address(name, records), address(name, records, unknown=True)
    if known == unknown:
        pytest.skip("this address takes no record")
    admin_may_not = TABLE[name][-1] == 403 and name.startswith("office:")
    person = cast.manager if admin_may_not else cast.admin
    browser = sign_in(cast.inspector if name == "office:record_inspection" else person)
    answer = browser.generic(TABLE[name][0], unknown, content_type="application/json")
    allowed = {400, 404} if name == "api:job-work-started" else {404}
    assert answer.status_code in allowed
