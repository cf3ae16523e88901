"""The quarter report on screen: same figures as the files, each leading to its jobs."""

import csv
import io
from datetime import date

import pytest
import time_machine
from django.urls import reverse

from agency.programs.models import Program
from tests.builders import make_comparison

pytestmark = [pytest.mark.django_db]

FLOWS = [(2000, 1500), (3000, 1500), (1000, 1100)]
"""Reductions 25 %, 50 % and -10 %: mean 21.7 %, pooled 1 - 4100/6000 = 31.7 %."""


@pytest.fixture(autouse=True)
def august():
    with time_machine.travel("2026-08-15T12:00:00-05:00", tick=False):
        yield


@pytest.fixture
def quarter(cast, make_job, make_run):
    """Three pairs and a job without a test before, all counted in May 2026."""
    jobs = []
    for before, after in FLOWS:
        job = make_job(status="approved")
        pair = [
            make_run(job, phase, flow, review="accepted", reviewed_by=cast.office)
            for phase, flow in (("before", before), ("after", after))
        ]
        make_comparison(job, *pair)
        jobs.append(job)
    alone = make_job(status="approved", no_before_test_reason="Work had begun.")
    after = make_run(alone, "after", 900, review="accepted", reviewed_by=cast.office)
    make_comparison(alone, None, after)
    return [*jobs, alone]


@pytest.fixture
def report(sign_in, cast):
    def ask(**query):
        return sign_in(cast.manager).get(reverse("office:reports"), query)

    return ask


def lines(answer, part):
    return {line.key: line for line in getattr(answer.context["words"], part)}


def test_last_full_quarter_comes_first(report, quarter):
    answer = report()
    assert answer.context["asked"].quarter == "2026-Q2"
    assert "Quarter 2 of 2026, Apr 1, 2026 to Jun 30, 2026" in answer.content.decode()


def test_header_counts_included_and_left_out(report, quarter):
    counts = lines(report(), "counts")
    assert counts["units"].value == "4"
    assert counts["pairs"].value == "3"
    assert counts["left-out"].value == "1"


def test_mean_and_pooled_are_both_named(report, quarter):
    """(25 + 50 - 10) / 3 = 21.67; 100 (1 - 4100 / 6000) = 31.67."""
    reductions = lines(report(), "reductions")
    assert reductions["mean"].value == "21.7\u202f%"
    assert reductions["pooled"].value == "31.7\u202f%"


def test_leakier_home_stays_in(report, quarter):
    bins = lines(report(), "bins")
    assert bins["bin-0"].value == "1"
    assert sum(int(line.value) for line in bins.values()) == 3


def test_left_out_by_reason(report, quarter):
    answer = report()
    (heading,) = answer.context["words"].left_out
    assert heading.title == "No test before the work"
    assert [line.name for line in heading.lines] == ["Work had begun."]


def test_each_figure_leads_to_its_jobs(report, sign_in, cast, quarter):
    answer = report()
    for key, line in answer.context["words"].lines.items():
        address = reverse("office:report_jobs", args=[key])
        page = sign_in(cast.manager).get(address, {"quarter": "2026-Q2"})
        assert page.status_code == 200
        assert {job.pk for job in page.context["page"]} == set(line.jobs)


def test_unknown_figure(sign_in, cast, quarter):
    address = reverse("office:report_jobs", args=["nothing"])
    assert sign_in(cast.manager).get(address).status_code == 404


def test_screen_and_file_say_the_same(report, sign_in, cast, quarter):
    answer = report()
    file = sign_in(cast.manager).get(reverse("office:report_csv"), {"quarter": "2026-Q2"})
    head, _, table = file.content.decode().partition("\r\n\r\n")
    rows = list(csv.DictReader(io.StringIO(table)))
    assert [row["job_number"] for row in rows] == [
        home.number for home in answer.context["words"].homes
    ]
    on_screen = [home.reduction for home in answer.context["words"].homes if home.is_pair]
    in_file = [f"{float(row['reduction_percent']):.1f}" for row in rows if row["reduction_percent"]]
    assert on_screen == [f"{text}\u202f%".replace("-", "\u2212") for text in in_file]
    assert "Quarter 2 of 2026" in head


def test_files_are_saved_under_their_own_name(sign_in, cast, quarter):
    browser = sign_in(cast.manager)
    query = {"quarter": "2026-Q2", "table": "summary", "mark": "yes"}
    answer = browser.get(reverse("office:report_csv"), query)
    assert answer["Content-Disposition"] == 'attachment; filename="2026-Q2-summary.csv"'
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer.content.startswith(b"\xef\xbb\xbf")
    answer = browser.get(reverse("office:report_xlsx"), {"quarter": "2026-Q2"})
    assert answer["Content-Disposition"] == 'attachment; filename="2026-Q2.xlsx"'
    assert answer.content.startswith(b"PK")


@pytest.mark.parametrize("query", [{"quarter": "2026-Q9"}, {"table": "passwords"}])
def test_file_that_does_not_exist(sign_in, cast, quarter, query):
    assert sign_in(cast.manager).get(reverse("office:report_csv"), query).status_code == 404


@pytest.mark.parametrize("name", ["report_csv", "report_xlsx"])
def test_files_are_for_the_desk_only(sign_in, client, cast, name):
    assert client.get(reverse(f"office:{name}")).status_code == 302
    assert sign_in(cast.crew_lead).get(reverse(f"office:{name}")).status_code == 404


def test_quarter_counted_from_the_programs_first_day(report, quarter, make_job):
    """A grant from Feb 1 has its second quarter from May 1 to Jul 31."""
    program = Program.objects.create(
        name="Tarn Relief",
        grant_number="TR-26",
        first_day=date(2026, 2, 1),
        last_day=date(2027, 1, 31),
    )
    job = make_job(status="approved", program=program)
    answer = report(quarter="TR-26-2")
    assert "Quarter 2 of Tarn Relief, May 1, 2026 to Jul 31, 2026" in answer.content.decode()
    assert [home.number for home in answer.context["words"].homes] == [job.number]


def test_quarter_of_one_program_asked_for_another(report, quarter):
    other = Program.objects.create(
        name="Tarn Relief",
        grant_number="TR-26",
        first_day=date(2026, 2, 1),
        last_day=date(2027, 1, 31),
    )
    page = report(quarter="QM-26-01-1", program=other.pk).content.decode()
    assert "This quarter belongs to Quillmoor Weatherization (QM-26-01)." in page


def test_unknown_quarter_is_answered_in_words(report):
    page = report(quarter="2026-Q9").content.decode()
    assert "2026-Q9 is not a quarter on the list; choose one from it." in page


def test_empty_quarter_says_why(report):
    page = report(quarter="2025-Q1").content.decode()
    assert "No unit is counted in this quarter" in page


def test_queries_do_not_grow_with_the_homes(  # noqa: PLR0917
    sign_in, cast, quarter, make_job, django_assert_num_queries, django_assert_max_num_queries
):
    browser = sign_in(cast.manager)
    with django_assert_max_num_queries(16) as few:
        browser.get(reverse("office:reports"))
    for _ in range(8):
        make_job(status="approved")
    with django_assert_num_queries(len(few)):
        browser.get(reverse("office:reports"))
