"""Other kinds of test in the quarter report: answers by home, and pairs of the main figure."""

from datetime import timedelta

import pytest
from django.utils import timezone

from agency.diagnostics.models import Result
from agency.reports.periods import Period
from agency.reports.quarter import quarter_report
from agency.reports.tables import other_tests_table

CFM = 0.3048**3 / 60

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench_run(make_run):
    """An accepted duct test with a main figure in cfm."""

    def make(job, phase, flow, *, answer="met", days=1, review="accepted", verdict="valid"):
        run = make_run(job, phase, None, review=review, verdict=verdict)
        run.kind, run.method = "duct_leakage", "total"
        run.taken_at = timezone.now() - timedelta(days=days)
        run.save()
        value = None if flow is None else flow * CFM
        shown = [{"name": "Total leakage at 25 Pa", "quantity": "flow", "value": value}]
        Result.objects.filter(test_run=run).update(answer=answer, figures={"shown": shown})
        return run

    return make


def lines_of():
    report = quarter_report(Period.parse("2026-Q2"), now=timezone.now())
    return report, report.bench


def test_a_home_stands_under_the_answer_of_its_latest_test(make_job, bench_run):
    first, second = make_job(status="approved"), make_job(status="approved")
    bench_run(first, "before", 300, answer="missed", days=9)
    bench_run(first, "after", 90, answer="met", days=2)
    bench_run(second, "before", 200, answer="open")
    _, (line,) = lines_of()
    assert line.answers["met"] == (first.pk,)
    assert line.answers["open"] == (second.pk,)
    assert line.answers["missed"] == ()
    assert (line.tests, len(line.jobs)) == (3, 2)


def test_the_mean_is_over_homes_with_both_sides_only(make_job, bench_run):
    """Means by hand: (300 + 100)/2 = 200 before, (100 + 60)/2 = 80 after; 500 has no after."""
    first, second, third = (make_job(status="approved") for _ in range(3))
    for job, before, after in ((first, 300, 100), (second, 100, 60)):
        bench_run(job, "before", before, days=9)
        bench_run(job, "after", after, days=2)
    bench_run(third, "before", 500)
    report, (line,) = lines_of()
    assert line.mean_before / CFM == pytest.approx(200)
    assert line.mean_after / CFM == pytest.approx(80)
    assert set(line.pairs) == {first.pk, second.pk}
    row = dict(zip([one.name for one in other_tests_table(report).columns],
                   other_tests_table(report).rows[0], strict=True))  # fmt: skip
    assert row["mean_before"] == pytest.approx(200)
    assert (row["pairs"], row["homes"], row["unit"]) == (2, 3, "cfm")


@pytest.mark.parametrize(
    "changes", [{"review": "to_review"}, {"review": "returned"}, {"verdict": "provisional"}]
)
def test_only_accepted_reportable_tests_count(make_job, bench_run, changes):
    bench_run(make_job(status="approved"), "before", 300, **changes)
    assert lines_of()[1] == ()


def test_a_blank_main_figure_makes_no_pair_and_zero_does(make_job, bench_run):
    blank, tight = make_job(status="approved"), make_job(status="approved")
    for job, after in ((blank, None), (tight, 0.0)):
        bench_run(job, "before", 50, days=9)
        bench_run(job, "after", after, days=2)
    _, (line,) = lines_of()
    assert line.pairs == (tight.pk,)
    assert line.mean_after == 0


def test_the_number_of_queries_does_not_grow(
    make_job, bench_run, django_assert_num_queries, django_assert_max_num_queries
):
    def grow(homes):
        for _ in range(homes):
            bench_run(make_job(status="approved"), "before", 100)

    grow(2)
    with django_assert_max_num_queries(20) as few:
        lines_of()
    grow(6)
    with django_assert_num_queries(len(few)):
        lines_of()
