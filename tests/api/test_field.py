"""What a crew's phone takes along: whose jobs, which days, how much, and when it is told anew."""

import gzip
import json
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from agency.diagnostics.documents import KINDS
from agency.diagnostics.models import RequiredTest
from agency.instruments.models import Calibration, FanEquation, Instrument
from agency.jobs.models import Visit
from agency.rulebook.models import Rule
from tests.builders import make_device, make_program, make_stop

URL = "/api/v1/field/"
TODAY, TOMORROW, LATER = date(2026, 4, 14), date(2026, 4, 15), date(2026, 4, 16)


@pytest.fixture(autouse=True)
def late_in_the_evening(time_machine):
    """22:30 on April 14 where the agency works; already April 15 at Greenwich."""
    time_machine.move_to("2026-04-15T03:30:00Z", tick=False)


def plan(job, day=TODAY, **changes):
    values = {"kind": "test_in", "crew": job.crew} | changes
    return Visit.objects.create(job=job, planned_on=day, **values)


def numbers(answer):
    return {job["number"] for job in answer.json()["jobs"]}


def speaking_for(user):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {make_device(user)[1]}")
    return client


def test_a_crew_gets_its_own_jobs_of_today_and_tomorrow(phone, make_job, cast):
    today, tomorrow, both = make_job(), make_job(), make_job()
    plan(today, TODAY), plan(tomorrow, TOMORROW), plan(both, TODAY), plan(both, TOMORROW)
    plan(make_job(), LATER), plan(make_job(), date(2026, 4, 13))
    plan(make_job(crew=cast.other_crew), TODAY)
    plan(make_job(status="withdrawn"), TODAY)
    make_job()
    assert numbers(phone.get(URL)) == {today.number, tomorrow.number, both.number}


def test_only_the_visits_of_these_days_come_along(phone, make_job):
    job = make_job()
    for day in (date(2026, 4, 13), TODAY, TOMORROW, LATER):
        plan(job, day)
    [only] = phone.get(URL).json()["jobs"]
    assert [one["planned_on"] for one in only["visits"]] == ["2026-04-14", "2026-04-15"]


def test_an_inspector_gets_the_homes_to_be_inspected_and_no_others(make_job, cast):
    mine, other = make_job(status="tested_out"), make_job()
    plan(mine, kind="final_inspection", crew=None, inspector=cast.inspector)
    plan(other)
    assert numbers(speaking_for(cast.inspector).get(URL)) == {mine.number}


def test_what_an_inspector_inspects_is_not_on_the_crews_round(phone, make_job, cast):
    inspected, both = make_job(status="tested_out"), make_job()
    plan(inspected, kind="final_inspection", crew=None, inspector=cast.inspector)
    plan(both, kind="final_inspection", crew=None, inspector=cast.inspector)
    plan(both, kind="work")
    [told] = phone.get(URL).json()["jobs"]
    assert told["number"] == both.number
    assert [one["kind"] for one in told["visits"]] == ["work"]


def test_someone_at_the_desk_gets_no_jobs_on_a_phone(make_job, cast):
    plan(make_job())
    assert numbers(speaking_for(cast.office).get(URL)) == set()


def test_browsers_and_strangers_get_nothing(client, sign_in, cast):
    assert client.get(URL).status_code == 401
    assert sign_in(cast.crew_lead).get(URL).status_code == 403


def test_a_revoked_phone_is_told_so(phone):
    phone.device.revoke()
    answer = phone.get(URL)
    assert answer.status_code == 401
    assert answer.json()["errors"][0]["code"] == "device_revoked"


def test_a_job_tells_house_client_stops_and_nothing_of_money(phone, make_job, cast):
    job = make_job()
    plan(job)
    stop = make_stop(job)
    cleared = make_stop(job, hazard="gas")
    cleared.acknowledge(cast.crew_lead, "Casimir")
    cleared.clear(cast.inspector, "The valve was tightened.")
    [told] = phone.get(URL).json()["jobs"]
    assert told["house"]["address"] == job.house.address
    assert told["house"]["volume_cuft"] == 11200
    assert (told["client_name"], told["client_phone"]) == (job.client.name, "555-0142")
    assert [one["id"] for one in told["safety_stops"]] == [str(stop.pk)]
    assert told["safety_stops"][0]["steps"] == stop.steps
    assert "email" not in json.dumps(told)


def test_required_tests_come_in_the_order_of_the_visit(phone, make_job):
    for place, (visit_kind, kind, method) in enumerate(
        (
            ("test_in", "gauge_check", ""),
            ("test_in", "envelope", "iso9972"),
            ("test_out", "component", ""),
        )
    ):
        RequiredTest.objects.create(
            program=make_program(), visit_kind=visit_kind, kind=kind, method=method, place=place
        )
    plan(make_job())
    [visit] = phone.get(URL).json()["jobs"][0]["visits"]
    assert [(one["kind"], one["method"]) for one in visit["required"]] == [
        ("gauge_check", None),
        ("envelope", "iso9972"),
    ]
    assert all(one["title"] and one["title"] != one["kind"] for one in visit["required"])


def test_a_test_sent_for_the_visit_is_done(phone, make_job, make_run):
    job = make_job()
    visit = plan(job)
    run = make_run(job, "before", 2000.0)
    [told] = phone.get(URL).json()["jobs"][0]["visits"]
    assert told["done"] == []
    run.visit = visit
    run.save()
    [told] = phone.get(URL).json()["jobs"][0]["visits"]
    [done] = told["done"]
    assert (done["kind"], done["phase"], done["verdict"]) == ("envelope", "before", "valid")
    assert done["headline"].startswith("2,000")


def test_the_test_before_is_the_accepted_one_and_never_a_returned_or_rejected_one(
    phone, make_job, make_run, cast
):
    job = make_job()
    plan(job)
    assert phone.get(URL).json()["jobs"][0]["before"] is None
    make_run(job, "before", 900.0, review="returned")
    make_run(job, "before", 950.0, verdict="rejected")
    make_run(job, "after", 800.0)
    assert phone.get(URL).json()["jobs"][0]["before"] is None
    make_run(job, "before", 2000.0, review="accepted", reviewed_by=cast.office)
    make_run(job, "before", 2500.0)
    before = phone.get(URL).json()["jobs"][0]["before"]
    # 2000 ft³/min with 0.3048 m in a foot: derived.
    assert before["flow_50_m3s"] == pytest.approx(0.943895, abs=5e-7)
    assert (before["method"], before["exponent"]) == ("iso9972", 0.65)


def test_instruments_say_whether_they_may_be_used(phone):
    def instrument(serial, due=None, **changes):
        made = Instrument.objects.create(kind="fan", serial=serial, **changes)
        if due:
            return Calibration.objects.create(
                instrument=made, calibrated_on=date(2025, 4, 1), due_on=due, laboratory="L"
            )
        return None

    good = instrument("A", due=TODAY)
    instrument("B", due=date(2026, 4, 13))
    instrument("C")
    instrument("D", due=TOMORROW, retired_on=TODAY)
    FanEquation.objects.create(
        calibration=good,
        configuration="open",
        coefficient=355,
        exponent=0.515,
        lowest_pressure=20,
        highest_pressure=320,
        flow_unit="cfm",
        air_density=1.2041,
    )
    told = phone.get(URL).json()["instruments"]
    assert [one["state"] for one in told] == ["current", "overdue", "never", "retired"]
    assert [one["due_on"] for one in told] == ["2026-04-14", "2026-04-13", None, "2026-04-15"]
    assert told[0]["equations"][0]["coefficient"] == 355
    assert told[1]["equations"] == []


def test_every_kind_has_its_form_and_its_cards(phone):
    told = phone.get(URL).json()
    assert set(told["forms"]) == set(told["hookup_svgs"]) == set(KINDS)
    for kind, form in told["forms"].items():
        assert len(told["hookup_svgs"][kind]) == len(form["hookups"])
    assert all(
        svg.startswith("<svg") for drawings in told["hookup_svgs"].values() for svg in drawings
    )


def test_codes_and_settings_come_along(phone):
    told = phone.get(URL).json()
    weights = {one["code"]: one["weight"] for one in told["arrival"]}
    assert weights["gas"] == weights["carbon_monoxide"] == "stop"
    assert set(weights) <= {one["code"] for one in told["not_safe_codes"]}
    assert all(one["words"] for one in told["not_possible_codes"])
    assert all(len(one["choices"]) > 1 for one in told["setup_questions"])
    # An exponent of 0.65 for a single point, half saturated air where nobody measured it, a quarter
    # less flow to work towards, and an inside temperature of 5 to 38 degC: common practice, no
    # source.
    assert told["settings"] == {
        "assumed_exponent": 0.65,
        "humidity": 0.5,
        "target_reduction": 0.25,
        "indoor_temperature": {"low": 5.0, "high": 38.0},
    }


def test_a_phone_with_the_newest_copy_is_told_so_until_something_changes(
    phone, make_job, time_machine
):
    plan(make_job())
    first = phone.get(URL)
    version = first.json()["version"]
    assert first.headers["ETag"] == f'"{version}"'
    time_machine.move_to("2026-04-15T04:30:00Z", tick=False)
    for tag in (f'"{version}"', f'W/"{version}"', f'"older", "{version}"'):
        again = phone.get(URL, headers={"if-none-match": tag})
        assert (again.status_code, again.content) == (304, b"")
        assert again.headers["ETag"] == f'"{version}"'
    plan(make_job())
    changed = phone.get(URL, headers={"if-none-match": f'"{version}"'})
    assert changed.status_code == 200
    assert changed.json()["version"] != version


@pytest.mark.parametrize("what", ["rule", "instrument", "stop", "run", "requirement"])
def test_any_change_the_phone_must_know_of_changes_the_version(phone, make_job, make_run, what):
    job = make_job()
    visit = plan(job)
    before = phone.get(URL).headers["ETag"]
    if what == "rule":
        Rule.objects.filter(code="setting.assumed-exponent").update(limit=0.6)
    elif what == "instrument":
        Instrument.objects.create(kind="gauge", serial="QG-900")
    elif what == "stop":
        make_stop(job)
    elif what == "requirement":
        RequiredTest.objects.create(
            program=job.program, visit_kind=visit.kind, kind="envelope", method=""
        )
    else:
        run = make_run(job)
        run.visit = visit
        run.save()
    assert phone.get(URL).headers["ETag"] != before


def test_it_comes_compressed_where_the_phone_can_read_that(phone, make_job):
    plan(make_job())
    plain = phone.get(URL).content
    packed = phone.get(URL, headers={"accept-encoding": "gzip, br"})
    assert packed.headers["Content-Encoding"] == "gzip"
    assert json.loads(gzip.decompress(packed.content)) == json.loads(plain)
    assert len(packed.content) < len(plain) / 4


def test_no_cache_keeps_personal_data(phone, make_job):
    plan(make_job())
    assert phone.get(URL).headers["Cache-Control"] == "no-store"


def test_the_number_of_queries_does_not_grow_with_the_round(
    phone, make_job, make_run, django_assert_num_queries
):
    def add_job():
        job = make_job()
        make_stop(job)
        for day in (TODAY, TOMORROW):
            run = make_run(job)
            run.visit = plan(job, day)
            run.save()

    add_job()
    phone.get(URL)
    with CaptureQueriesContext(connection) as few:
        assert len(phone.get(URL).json()["jobs"]) == 1
    for _ in range(9):
        add_job()
    with django_assert_num_queries(len(few)):
        assert len(phone.get(URL).json()["jobs"]) == 10
    assert len(few) <= 16
