"""The look-back pages: counts, lists, exceptions, who may do what, and the words of a refusal."""

import csv
import io
import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from agency.diagnostics.excepting import InstrumentException
from agency.instruments.models import Calibration, Instrument

pytestmark = pytest.mark.django_db

REASON = "Read beside QG-021 the same day."


@pytest.fixture
def today():
    return timezone.localdate()


@pytest.fixture
def gauge(cast, today):
    """Due again 30 days ago."""
    instrument = Instrument.objects.create(kind="gauge", serial="QG-014", crew=cast.crew)
    Calibration.objects.create(
        instrument=instrument,
        calibrated_on=today - timedelta(days=395),
        due_on=today - timedelta(days=30),
        laboratory="Quillmoor Metrology",
        as_found_good=True,
    )
    return instrument


@pytest.fixture
def doubted(make_job, make_run):
    """So many runs, each of a job of its own, made two days ago."""

    def make(number):
        return [make_run(make_job(status="approved")) for _ in range(number)]

    return make


def address(name, instrument):
    return reverse(f"office:{name}", args=[instrument.pk])


def page_of(browser, instrument, **query):
    return browser.get(address("look_back", instrument), query)


def except_run(browser, instrument, run, reason=REASON):
    said = {"run-run": str(run.pk), "run-reason": reason}
    return browser.post(address("except_run", instrument), said)


def except_days(browser, instrument, first, last, reason=REASON):
    said = {"period-from_day": first, "period-to_day": last, "period-reason": reason}
    return browser.post(address("except_period", instrument), said)


def test_page_tells_doubt_counts_runs_and_reports(sign_in, cast, gauge, doubted, today):
    (run,) = doubted(1)
    answer = page_of(sign_in(cast.office), gauge)
    page = answer.content.decode()
    assert "Its calibration was due again on" in page
    assert run.job.number in page
    assert reverse("office:test_run", args=[run.pk]) in page
    assert reverse("office:job", args=[run.job_id]) in page
    assert f"{reverse('office:reports')}?quarter=2026-Q2" in page
    assert len(answer.context["found"].in_doubt.open_runs) == 1


def test_the_other_list_holds_every_run_since_the_calibration(  # noqa: PLR0917  fixtures
    sign_in, cast, gauge, doubted, make_job, make_run
):
    doubted(1)
    make_run(make_job(), taken_at=timezone.now() - timedelta(days=40))
    make_run(make_job(), taken_at=timezone.now() - timedelta(days=400))
    browser = sign_in(cast.office)
    assert page_of(browser, gauge).context["page"].paginator.count == 1
    assert page_of(browser, gauge, show="since").context["page"].paginator.count == 2


def test_an_instrument_in_order_is_said_to_be_so(sign_in, cast, gauge, doubted, today):
    gauge.calibrations.update(due_on=today)
    doubted(1)
    page = page_of(sign_in(cast.manager), gauge).content.decode()
    assert "its calibrations vouch for every day" in page
    assert "Except one test run" not in page


def test_fifty_runs_take_no_more_questions_than_five(sign_in, cast, gauge, doubted):
    browser = sign_in(cast.manager)

    def questions(name, *args):
        with CaptureQueriesContext(
            connection,
        ) as caught:
            assert browser.get(reverse(f"office:{name}", args=args)).status_code == 200
        return len(caught)

    few_runs = doubted(5)
    for run in few_runs[:2]:
        except_run(browser, gauge, run)
    few = [questions("look_back", gauge.pk), questions("instruments"),
           questions("look_back_csv", gauge.pk), questions("instrument", gauge.pk)]  # fmt: skip
    for run in doubted(45)[:10]:
        except_run(browser, gauge, run)
    many = [questions("look_back", gauge.pk), questions("instruments"),
            questions("look_back_csv", gauge.pk), questions("instrument", gauge.pk)]  # fmt: skip
    assert many == few


def test_fifty_rows_a_page(sign_in, cast, gauge, doubted):
    doubted(51)
    browser = sign_in(cast.office)
    assert len(page_of(browser, gauge).context["page"].object_list) == 50
    assert len(page_of(browser, gauge, page=2).context["page"].object_list) == 1


def test_list_of_instruments_marks_those_with_runs_in_doubt(sign_in, cast, gauge, doubted):
    run, _ = doubted(2)
    browser = sign_in(cast.manager)

    def counts():
        standings = browser.get(reverse("office:instruments")).context["standings"]
        return [one.in_doubt for one in standings]

    assert counts() == [2]
    except_run(browser, gauge, run)
    assert counts() == [1]
    assert "1\u00a0test run" in browser.get(address("instrument", gauge)).content.decode()


def test_a_manager_excepts_a_run_and_it_is_told_on_both_pages(sign_in, cast, gauge, doubted):
    (run,) = doubted(1)
    browser = sign_in(cast.manager)
    about = reverse("office:test_run", args=[run.pk])
    assert "Nobody has excepted this test run" in browser.get(about).content.decode()
    assert except_run(browser, gauge, run).status_code == 302
    page = browser.get(about).content.decode()
    assert f"Excepted by {cast.manager}" in page
    assert REASON in page
    look_back = page_of(browser, gauge)
    assert REASON in look_back.content.decode()
    assert look_back.context["found"].in_doubt.open_runs == ()


def test_the_run_named_in_the_address_is_chosen(sign_in, cast, gauge, doubted):
    first, second = doubted(2)
    page = page_of(sign_in(cast.manager), gauge, run=str(first.pk)).content.decode()
    assert f'<option value="{first.pk}" selected>' in page
    assert f'<option value="{second.pk}">' in page


@pytest.mark.parametrize("reason", ["", "   "])
def test_blanks_are_refused_and_the_choice_stays(sign_in, cast, gauge, doubted, reason):
    (run,) = doubted(1)
    answer = except_run(sign_in(cast.manager), gauge, run, reason)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Write why the readings may stand" in page
    assert f'<option value="{run.pk}" selected>' in page
    assert not InstrumentException.objects.exists()


def test_a_run_not_in_doubt_is_refused_in_words(sign_in, cast, gauge, doubted):
    (run,) = doubted(1)
    browser = sign_in(cast.manager)
    except_run(browser, gauge, run)
    answer = except_run(browser, gauge, run)
    assert answer.status_code == 422
    assert "not in doubt any more; choose one from the list" in answer.content.decode()


def test_days_outside_the_doubt_are_refused_and_stay_typed(sign_in, cast, gauge, doubted, today):
    doubted(1)
    first = today - timedelta(days=60)
    answer = except_days(sign_in(cast.manager), gauge, first.isoformat(), today.isoformat())
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "does not lie inside one period" in page
    assert f'value="{first.isoformat()}"' in page


def test_the_form_offers_the_whole_period_and_takes_it(sign_in, cast, gauge, doubted, today):
    doubted(3)
    browser = sign_in(cast.manager)
    form = page_of(browser, gauge).context["forms"]["period"]
    offered = form.initial["from_day"], form.initial["to_day"]
    assert offered == (today - timedelta(days=29), today)
    assert except_days(browser, gauge, *offered).status_code == 302
    assert page_of(browser, gauge).context["found"].in_doubt.open_runs == ()


def test_the_form_offers_the_period_with_the_most_runs_left(  # noqa: PLR0917  fixtures
    sign_in, cast, gauge, make_job, make_run, today
):
    """Found out of tolerance 100 days ago: three runs before that, one after the due date."""
    gauge.calibrations.create(
        calibrated_on=today - timedelta(days=100),
        due_on=today - timedelta(days=20),
        laboratory="Quillmoor Metrology",
        as_found_good=False,
    )
    for days in (2, 150, 160, 170):
        make_run(make_job(), taken_at=timezone.now() - timedelta(days=days))
    form = page_of(sign_in(cast.manager), gauge).context["forms"]["period"]
    assert form.initial == {
        "from_day": today - timedelta(days=395),
        "to_day": today - timedelta(days=101),
    }


@pytest.mark.parametrize("role", ["office", "inspector"])
def test_others_see_no_form_and_are_refused_by_name(sign_in, cast, gauge, doubted, role):
    (run,) = doubted(1)
    browser = sign_in(getattr(cast, role))
    page = page_of(browser, gauge).content.decode()
    assert "Only a manager excepts" in page
    assert address("except_run", gauge) not in page
    refused = except_run(browser, gauge, run)
    assert refused.status_code == 403
    assert "Your role does not allow this" in refused.content.decode()
    assert not InstrumentException.objects.exists()


def test_withdrawn_by_name_and_in_doubt_again(sign_in, cast, gauge, doubted):
    (run,) = doubted(1)
    browser = sign_in(cast.manager)
    except_run(browser, gauge, run)
    exception = InstrumentException.objects.get()
    verb = reverse("office:withdraw_exception", args=[exception.pk])
    assert verb in page_of(browser, gauge).content.decode()
    browser.post(verb)
    answer = page_of(browser, gauge)
    assert len(answer.context["found"].in_doubt.open_runs) == 1
    assert f"Withdrawn by {cast.manager}" in answer.content.decode()
    again = browser.post(verb, follow=True).content.decode()
    assert "has already done so" in again


def test_the_file_holds_the_list_shown(sign_in, cast, gauge, doubted):
    runs = doubted(2)
    answer = sign_in(cast.office).get(address("look_back_csv", gauge))
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert answer["Content-Disposition"] == 'attachment; filename="look-back-qg-014.csv"'
    _, _, table = answer.content.decode().partition("\r\n\r\n")
    rows = list(csv.DictReader(io.StringIO(table)))
    assert {row["test_run_id"] for row in rows} == {str(run.pk) for run in runs}


def test_certificate_page_says_how_the_instrument_was_found(sign_in, cast, gauge):
    browser = sign_in(cast.office)
    assert "within tolerance" in browser.get(address("instrument", gauge)).content.decode()
    gauge.calibrations.update(as_found_good=None)
    page = browser.get(address("instrument", gauge)).content.decode()
    assert "within tolerance" not in page
    gauge.calibrations.update(as_found_good=False)
    assert "out of tolerance" in browser.get(address("instrument", gauge)).content.decode()


def test_unknown_instrument(sign_in, cast):
    address = reverse("office:look_back", args=[uuid.uuid4()])
    assert sign_in(cast.manager).get(address).status_code == 404


def test_nothing_is_written_inline(sign_in, cast, gauge, doubted):
    """The content policy refuses inline script, style and handlers."""
    doubted(1)
    page = page_of(sign_in(cast.manager), gauge).content.decode()
    assert page.count("<h1") == 1
    assert " style=" not in page
    assert "onclick" not in page
