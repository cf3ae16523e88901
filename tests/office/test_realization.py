"""A grant's realization on screen and as CSV: who counts, who is left out and why."""

import csv
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from agency.estimates.bill_studies import BillAnalysis, NonRoutineChange, ProgramRealization
from agency.estimates.models import SavingsEstimate
from agency.estimates.realizing import realize_program
from tests.bill_records import make_account, make_study, worked_on
from tests.builders import make_comparison, make_program

pytestmark = pytest.mark.django_db


def spread(central):
    return {"low": central - 3.0, "central": central, "high": central + 3.0}


@pytest.fixture
def make_home(make_job, cast):
    """`make_home(predicted, measured)`: a job with a stored estimate and analysis, in MMBtu."""

    def make(predicted, measured, *, fuel="natural_gas", unmet=False):
        job = make_job(**worked_on())
        if predicted is not None:
            part = {"fuel": "natural_gas", "mmbtu": spread(predicted)}
            SavingsEstimate.objects.create(
                job=job,
                comparison=make_comparison(job, None, None),
                maths_version="test",
                input_hash="0",
                inputs={},
                figures={"heating": part, "cooling": None},
            )
        study = make_study(job, make_account(job.house, cast.office, fuel=fuel), cast.office)
        saving = None if measured is None else {"mmbtu": spread(measured)}
        check = {"status": "reject", "message": "Before the work: CV(RMSE) 40.0 %; at most 25.0 %."}
        BillAnalysis.objects.create(
            study=study,
            maths_version="test",
            input_hash="0",
            inputs={},
            figures={"saving": saving},
            checks=[check] if unmet else [],
        )
        return job

    return make


@pytest.fixture
def homes(make_home):
    """24 measured of 35 predicted; 0.75, 1 and -0.2 of what was predicted."""
    return [make_home(*pair) for pair in ((20.0, 15.0), (10.0, 10.0), (5.0, -1.0))]


@pytest.fixture
def browser(sign_in, cast):
    return sign_in(cast.office)


def show(browser):
    return browser.get(reverse("office:realization"))


def test_both_averages_are_shown_with_ranges_and_homes(browser, homes):
    """100 · 24/35 = 68.6; 100 · 1.55/3 = 51.7."""
    realize_program(homes[0].program_id)
    page = show(browser)
    every, gas = page.context["rates"]
    assert every["homes"] == gas["homes"] == "3"
    assert every["sums"].startswith("69\u202f% (")
    assert every["ratios"].startswith("52\u202f% (")
    assert every["predicted"] == "35\u202fMMBtu"
    assert every["measured"] == "24\u202fMMBtu"
    text = page.content.decode()
    assert "modelled" in text
    assert all(job.number in text for job in homes)
    assert page.context["drawing"].wide.startswith("<svg")


LEFT_OUT = [
    ((20.0, None), {}, "Its bills tell no saving."),
    ((None, 10.0), {}, "No saving of this fuel is predicted."),
    ((20.0, 10.0), {"fuel": "electricity"}, "No saving of this fuel is predicted."),
    ((0.0, 10.0), {}, "The predicted saving is not above 0"),
    ((20.0, 10.0), {"unmet": True}, "CV(RMSE) 40.0 %; at most 25.0 %."),
]


@pytest.mark.parametrize(("pair", "more", "words"), LEFT_OUT)
def test_home_that_cannot_count_is_left_out_by_name(  # noqa: PLR0917  fixtures
    browser, homes, make_home, pair, more, words
):
    job = make_home(*pair, **more)
    realize_program(job.program_id)
    page = show(browser)
    (left_out,) = page.context["left_out"]
    assert (left_out["number"], words in left_out["reason"]) == (job.number, True)
    assert page.context["rates"][0]["homes"] == "3"


def test_change_keeps_a_job_out_until_a_manager_confirms_it(browser, homes, cast, work_off):
    job = homes[0]
    change = NonRoutineChange.objects.create(
        job=job,
        kind="added_load",
        since="2024-08-01",
        note="A second fridge.",
        noted_by=cast.office,
    )
    realize_program(job.program_id)
    (left_out,) = show(browser).context["left_out"]
    assert "A second fridge.; no manager has confirmed" in left_out["reason"]
    change.confirm(cast.manager, "It runs on another meter.")
    realize_program(job.program_id)
    page = show(browser)
    assert page.context["left_out"] == []
    assert page.context["rates"][0]["homes"] == "3"


def test_job_that_is_not_approved_does_not_count(browser, homes):
    homes[0].__class__.objects.filter(pk=homes[0].pk).update(status="inspection_passed")
    realize_program(homes[0].program_id)
    assert show(browser).context["rates"][0]["homes"] == "2"


def test_worker_works_it_out_when_asked(browser, homes, work_off):
    program = homes[0].program
    answer = browser.post(reverse("office:work_out_realization"), {"program": program.pk})
    assert answer.status_code == 302
    assert "Being computed" in browser.get(answer.url).content.decode()
    work_off()
    assert ProgramRealization.objects.get().figures["groups"]["all"]["homes"] == 3
    assert "Being computed" not in show(browser).content.decode()


def test_same_homes_give_the_same_row(homes):
    program = homes[0].program_id
    assert realize_program(program) == realize_program(program)
    assert ProgramRealization.objects.count() == 1


def test_one_home_has_no_rate(browser, make_home):
    realize_program(make_home(20.0, 10.0).program_id)
    text = show(browser).content.decode()
    assert "1 home may count; a rate with a range needs 2." in text


def test_before_anything_is_worked_out_the_page_says_what_it_needs(browser):
    make_program()
    assert "Nothing is worked out for this program yet" in show(browser).content.decode()


def test_csv_holds_the_same_homes_rates_and_reasons(browser, homes, make_home):
    left_out = make_home(20.0, None)
    realize_program(left_out.program_id)
    answer = browser.get(reverse("office:realization_csv"))
    lines = list(csv.reader(io.StringIO(answer.content.decode(), newline="")))
    at = lines.index([])
    head = dict(lines[:at])
    assert float(head["ratio_of_sums"]) == pytest.approx(24 / 35)
    assert float(head["ratio_of_sums_low"]) < 24 / 35 < float(head["ratio_of_sums_high"])
    assert float(head["mean_of_ratios"]) == pytest.approx(1.55 / 3)
    assert head["input_hash"] == ProgramRealization.objects.get().input_hash
    rows = [dict(zip(lines[at + 1], row, strict=True)) for row in lines[at + 2 :]]
    assert [row["counted"] for row in rows] == ["yes", "yes", "yes", "no"]
    assert float(rows[2]["measured_mmbtu"]) == -1.0
    assert rows[3]["left_out_because"] == "Its bills tell no saving."


def test_api_reads_the_stored_row(browser, homes):
    realize_program(homes[0].program_id)
    told = browser.get(reverse("api:realization", args=["QM-26-01"])).json()
    assert told["figures"]["groups"]["all"]["ratio_of_sums"]["central"] == pytest.approx(24 / 35)
    assert len(told["inputs"]["homes"]) == 3


def test_quarter_report_keeps_modelled_savings_apart_and_leads_here(browser):
    text = browser.get(reverse("office:reports")).content.decode()
    assert "Savings, modelled" in text
    assert reverse("office:realization") in text


def test_queries_do_not_grow_with_homes(browser, homes, make_home):
    def queries(work):
        with CaptureQueriesContext(connection) as seen:
            work()
        return len(seen)

    program = homes[0].program_id
    realize_program(program)
    show(browser)
    few = queries(lambda: show(browser)), queries(lambda: realize_program(program))
    for _ in range(3):
        make_home(10.0, 8.0)
    realize_program(program)
    assert (
        queries(lambda: show(browser)),
        queries(lambda: realize_program(program)),
    ) == few
