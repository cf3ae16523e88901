"""The quarter report against worked examples, a simulation and numpy."""

import math
from collections import defaultdict
from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID, uuid4

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from agency.diagnostics.bridge.group import HomePair, TestShare, group_reduction
from agency.diagnostics.models import Result
from agency.jobs.models import Job, Visit
from agency.programs.models import Program
from agency.reports.distribution import bins_of, distribution_of
from agency.reports.periods import Period
from agency.reports.quarter import QuarterReport, quarter_report
from tests.builders import CFM, make_house, make_program

NOW = datetime(2026, 7, 2, 14, 30, tzinfo=UTC)
SPRING = Period.parse("2026-Q2")


def report_of(**changes: Any) -> QuarterReport:
    return quarter_report(SPRING, now=NOW, **changes)


@pytest.mark.usefixtures("two_homes")
def test_worked_example_mean_30_pooled_42_percent() -> None:
    """4000 to 2000 and 1000 to 900 cfm, by hand: (50 + 10) / 2 and 2100 / 5000."""
    report = report_of()
    assert report.mean_reduction.value == pytest.approx(0.30)
    assert report.pooled_reduction.value == pytest.approx(0.42)
    assert report.mean_reduction.n == report.pooled_reduction.n == 2
    assert "Mean" in report.mean_reduction.name
    assert "Pooled" in report.pooled_reduction.name
    assert report.flow_before.value == pytest.approx(5000 * CFM)
    assert report.flow_saved.value == pytest.approx(2100 * CFM)


def test_every_figure_leads_to_its_jobs(mixed_quarter: dict[str, Job]) -> None:
    report = report_of()
    ids = {name: job.pk for name, job in mixed_quarter.items()}
    pairs = {ids[name] for name in ("large", "small", "leakier", "unseen")}
    assert set(report.units.jobs) == set(ids.values())
    assert set(report.coverage.part.jobs) == pairs
    for figure in (report.mean_reduction, report.pooled_reduction, report.distribution):
        assert set(figure.jobs) == pairs
    assert report.not_detectable.jobs == (ids["unseen"],)
    binned = [job for one in report.bins for job in one.jobs]
    assert sorted(binned, key=str) == sorted(pairs, key=str)


def test_coverage_and_left_out_add_up_to_the_units(mixed_quarter: dict[str, Job]) -> None:
    report = report_of()
    left_out = {
        (heading, group.reason): group.units.jobs
        for heading, groups in report.left_out
        for group in groups
    }
    assert left_out == {
        ("No test before the work", "It was not safe to test."): (mixed_quarter["unsafe"].pk,),
        ("No test after the work", "no reason recorded"): (mixed_quarter["no_after"].pk,),
        ("Not comparable", "The method differs."): (mixed_quarter["unlike"].pk,),
        ("Not compared yet", "no reason recorded"): (mixed_quarter["uncompared"].pk,),
    }
    assert report.units.n == 8
    assert report.coverage.part.n + sum(map(len, left_out.values())) == report.units.n
    assert report.coverage.value == 0.5


def test_leakier_home_stays_in_with_its_sign(mixed_quarter: dict[str, Job]) -> None:
    report = report_of()
    row = next(row for row in report.rows if row.job_id == mixed_quarter["leakier"].pk)
    assert row.reduction == pytest.approx(-0.25)
    assert report.bins[0].jobs == (row.job_id,)
    assert report.mean_reduction.value == pytest.approx((0.5 + 0.1 - 0.25 + 0.01) / 4)


def test_home_that_cannot_be_compared_shows_flows_and_no_reduction(
    mixed_quarter: dict[str, Job],
) -> None:
    row = next(row for row in report_of().rows if row.job_id == mixed_quarter["unlike"].pk)
    assert row.before == pytest.approx(2000 * CFM)
    assert (row.reduction, row.reduction_low, row.reduction_high) == (None, None, None)


def test_counting_date_is_the_first_pass_in_the_period(
    two_homes: tuple[Job, Job], next_quarter: Job, make_job: Any
) -> None:
    make_job(status="inspection_passed")
    assert set(report_of().units.jobs) == {job.pk for job in two_homes}
    assert quarter_report(Period.parse("2026-Q3"), now=NOW).units.jobs == (next_quarter.pk,)


def test_only_one_grant_when_asked(two_homes: tuple[Job, Job], ledger: Any) -> None:
    other = Program.objects.create(
        name="Other", grant_number="QM-26-02",
        first_day=date(2026, 1, 1), last_day=date(2026, 12, 31),
    )  # fmt: skip
    job = ledger.pair(1000.0, 500.0, program=other)
    report = report_of(program=other)
    assert report.units.jobs == (job.pk,)
    assert report.filter == "Grant: Other (QM-26-02)"
    assert report_of(program=make_program()).units.n == 2


def test_interval_is_the_stored_one_else_from_the_stored_uncertainty(
    two_homes: tuple[Job, Job],
) -> None:
    two_homes[0].comparisons.update(figures={"share": {"value": 0.5, "low": 0.44, "high": 0.55}})
    stored, normal = report_of().rows
    assert (stored.reduction_low, stored.reduction_high) == (0.44, 0.55)
    # 1.96 is the two-sided 95 % point of the normal distribution, 0.02 the stored uncertainty.
    assert normal.reduction_low == pytest.approx(0.1 - 1.96 * 0.02, abs=1e-5)
    assert normal.reduction_high == pytest.approx(0.1 + 1.96 * 0.02, abs=1e-5)


def test_house_with_two_jobs_is_one_unit(ledger: Any) -> None:
    house = make_house()
    for _ in range(2):
        ledger.pair(1000.0, 500.0, house=house)
    report = report_of()
    assert report.units.n == 1
    assert len(report.units.jobs) == 2
    assert report.coverage.value == 1.0


def test_newest_comparison_counts(two_homes: tuple[Job, Job]) -> None:
    job = two_homes[0]
    old = job.comparisons.get()
    old.pk, old.computed_at, old.reduction = uuid4(), datetime(2026, 1, 1, tzinfo=UTC), 0.99
    old.save(force_insert=True)
    assert report_of().mean_reduction.value == pytest.approx(0.30)


@pytest.mark.django_db
def test_empty_period_has_no_figures() -> None:
    report = report_of()
    assert report.units.n == 0
    assert report.coverage.value is None
    assert report.mean_reduction.value is None
    assert report.pooled_reduction.uncertainty is None
    assert report.first_pass.value is None
    assert report.savings_total is None
    assert report.distribution.n == 0


def test_header_says_what_the_figures_rest_on(mixed_quarter: dict[str, Job]) -> None:
    assert mixed_quarter
    report = report_of()
    assert report.maths_versions == ("tightness test", "savings 1")
    assert report.filter == "All grants"
    assert report.made_at == NOW
    assert "first passed final inspection" in report.counting_rule


def test_missing_uncertainty_is_named_and_not_guessed(two_homes: tuple[Job, Job]) -> None:
    job = two_homes[1]
    for result in Result.objects.filter(test_run__job=job, test_run__phase="after"):
        result.figures.pop("uncertainty")
        result.save()
    report = report_of()
    assert report.pooled_reduction.value == pytest.approx(0.42)
    assert report.pooled_reduction.uncertainty is None
    assert report.pooled_reduction.low is None
    assert report.pooled_reduction.without_uncertainty == (job.pk,)


def share(fan: str, *, gauge: str = "G", independent: float = 0.02) -> TestShare:
    """5 % from the fan, 3 % from the gauge."""
    return TestShare(independent=independent, gauge=0.03, gauge_name=gauge, fan=0.05, fan_name=fan)


def simulated(pairs: list[HomePair], trials: int = 200_000) -> tuple[float, float]:
    """Standard deviation of pooled and mean reduction when one error is drawn per instrument."""
    generator = np.random.default_rng(20260401)
    gains: dict[str, np.ndarray] = defaultdict(lambda: generator.standard_normal(trials))

    def drawn(flow: float, one: TestShare | None) -> np.ndarray:
        assert one is not None
        common = one.fan * gains[f"fan {one.fan_name}"] + one.gauge * gains[f"g {one.gauge_name}"]
        return flow * (1 + common + one.independent * generator.standard_normal(trials))

    before = np.array([drawn(pair.before, pair.before_share) for pair in pairs])
    after = np.array([drawn(pair.after, pair.after_share) for pair in pairs])
    pooled = 1 - after.sum(axis=0) / before.sum(axis=0)
    return float(pooled.std()), float((1 - after / before).mean(axis=0).std())


def test_shared_instruments_are_kept_together_as_in_a_simulation() -> None:
    pairs = [
        HomePair(before=4.0, after=2.0, before_share=share("A"), after_share=share("B")),
        HomePair(before=1.0, after=0.9, before_share=share("A"), after_share=share("A")),
        HomePair(
            before=2.0,
            after=1.2,
            before_share=share("B", gauge="H"),
            after_share=share("C", gauge="G"),
        ),
    ]
    group = group_reduction(pairs)
    assert group is not None
    pooled, mean = simulated(pairs)
    assert group.pooled.uncertainty == pytest.approx(pooled, rel=0.02)
    assert group.mean.uncertainty == pytest.approx(mean, rel=0.02)


def test_one_instrument_everywhere_cancels_in_the_pooled_reduction() -> None:
    """Identity: with all errors common, the ratio of sums has none."""
    common = share("A", independent=0.0)
    group = group_reduction(
        [
            HomePair(before=before, after=after, before_share=common, after_share=common)
            for before, after in [(4.0, 2.0), (1.0, 0.9)]
        ]
    )
    assert group is not None
    assert group.pooled.uncertainty == pytest.approx(0.0, abs=1e-12)
    assert group.saved.uncertainty == pytest.approx(2.1 * math.hypot(0.05, 0.03))


def test_single_pair_worked_by_hand() -> None:
    """3000 to 2100, 5 % common and 2 % random: u(R) 0.7 x sqrt(2) x 2 %, u(D) 85.96 (JCGM 100)."""
    one = TestShare(independent=0.02, gauge=0.0, gauge_name="", fan=0.05, fan_name="A")
    group = group_reduction(
        [HomePair(before=3000.0, after=2100.0, before_share=one, after_share=one)]
    )
    assert group is not None
    assert group.pooled.uncertainty == pytest.approx(0.7 * math.sqrt(2) * 0.02)
    assert group.mean.uncertainty == group.pooled.uncertainty
    assert group.saved.uncertainty == pytest.approx(85.96, abs=0.005)


SPLIT = {"random": 0.02, "systematic": 0.066, "gauge": 0.03, "fan": 0.05, "other": 0.03}
RECORDED = {"gauge": "QG-014", "fans": ["QF-003"], "configurations": ["wide", "open"]}


def test_stored_causes_are_told_apart() -> None:
    found = TestShare.of(SPLIT, RECORDED)
    assert found is not None
    assert found.independent == pytest.approx(math.hypot(0.02, 0.03))
    assert (found.gauge, found.gauge_name) == (0.03, "QG-014")
    assert (found.fan, found.fan_name) == (0.05, "QF-003 open+wide")


@pytest.mark.parametrize("missing", ["random", "systematic"])
def test_unknown_uncertainty_is_none(missing: str) -> None:
    known = {"random": 0.02, "systematic": 0.05}
    assert TestShare.of({**known, missing: None}, RECORDED) is None
    assert TestShare.of({}, RECORDED) is None


def test_unrecorded_instruments_are_shared_with_nobody() -> None:
    nameless = TestShare.of(
        {"random": 0.0, "systematic": 0.05}, {"gauge": "G", "fans": [], "configurations": []}
    )
    assert nameless is not None
    pair = HomePair(before=1.0, after=1.0, before_share=nameless, after_share=nameless)
    group = group_reduction([pair])
    assert group is not None
    assert group.pooled.uncertainty == pytest.approx(math.sqrt(2) * 0.05)


def test_distribution_agrees_with_numpy() -> None:
    values = [0.31, -0.04, 0.18, 0.27, 0.55, 0.62, 0.09]
    found = distribution_of([(UUID(int=n), value) for n, value in enumerate(values)])
    asked = [0, 10, 25, 50, 75, 90, 100]
    expected = np.percentile(np.array(values), asked, method="linear")
    got = [
        found.minimum, found.p10, found.p25, found.median, found.p75, found.p90, found.maximum,
    ]  # fmt: skip
    assert got == pytest.approx(list(expected))
    assert found.n == 7
    assert found.mean == pytest.approx(np.mean(values))
    assert found.standard_deviation == pytest.approx(np.std(values, ddof=1))


def test_fewer_than_five_homes_list_only_their_number() -> None:
    four = distribution_of([(UUID(int=n), 0.1 * n) for n in range(4)])
    assert (four.n, four.mean, four.median, four.maximum) == (4, None, None, None)
    five = distribution_of([(UUID(int=n), 0.1 * n) for n in range(5)])
    assert five.median == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("reduction", "label"),
    [
        (-0.001, "below 0 %, leakier"),
        (0.0, "0 to under 10 %"),
        (1 - 900 / 1000, "10 to under 20 %"),
        (1 - 700 / 1000, "30 to under 40 %"),
        (0.5999, "50 to under 60 %"),
        (0.6, "60 % or more"),
        (0.95, "60 % or more"),
    ],
)
def test_bin_of_a_reduction(reduction: float, label: str) -> None:
    bins = bins_of([(UUID(int=1), reduction)])
    assert [one.label for one in bins if one.n] == [label]
    assert len(bins) == 8


def inspected(job: Job, outcome: str, on: date) -> None:
    Visit.objects.create(job=job, kind="final_inspection", planned_on=on, outcome=outcome)


def test_first_pass_rate_is_of_units_first_inspected_in_the_period(make_job: Any) -> None:
    at_once, after_rework, earlier, later, absent = (make_job() for _ in range(5))
    inspected(at_once, "passed", date(2026, 4, 1))
    inspected(after_rework, "failed", date(2026, 6, 29))
    inspected(after_rework, "passed", date(2026, 7, 8))
    inspected(earlier, "failed", date(2026, 3, 31))
    inspected(earlier, "passed", date(2026, 4, 9))
    inspected(later, "passed", date(2026, 7, 1))
    inspected(absent, "client_absent", date(2026, 5, 5))
    inspected(absent, "", date(2026, 5, 6))
    share_passed = report_of().first_pass
    assert share_passed.whole.jobs == (at_once.pk, after_rework.pk)
    assert share_passed.part.jobs == (at_once.pk,)
    assert share_passed.value == 0.5


def test_savings_are_summed_by_fuel_with_their_ranges(mixed_quarter: dict[str, Job]) -> None:
    report = report_of()
    gas, propane = report.savings
    assert (gas.fuel, propane.fuel) == ("natural_gas", "propane")
    assert (gas.mmbtu.low, gas.mmbtu.central, gas.mmbtu.high) == (11.0, 22.0, 33.0)
    assert gas.homes.n == 2
    assert gas.dollars is not None
    assert gas.dollars.central == 300.0
    assert gas.priced.jobs == (mixed_quarter["large"].pk,)
    assert propane.mmbtu.central == -4.0
    total = report.savings_total
    assert total is not None
    assert total.mmbtu.central == pytest.approx(18.0)
    assert total.dollars is not None
    assert total.dollars.central == pytest.approx(210.0)
    assert "Modelled" in report.savings_note
    (group,) = report.not_estimated
    assert (group.reason, group.units.jobs) == ("not estimated yet", (mixed_quarter["unseen"].pk,))


def test_estimate_of_replaced_tests_is_not_summed(two_homes: tuple[Job, Job], ledger: Any) -> None:
    job = two_homes[0]
    ledger.estimated(job, "natural_gas", mmbtu=20.0, dollars=300.0)
    comparison = job.comparisons.get()
    comparison.pk, comparison.computed_at = uuid4(), datetime(2030, 1, 1, tzinfo=UTC)
    comparison.save(force_insert=True)
    report = report_of()
    assert report.savings_total is None
    assert (
        "replaced since" in report.not_estimated[1 if len(report.not_estimated) > 1 else 0].reason
    )
    estimate = job.estimates.get()
    estimate.inputs = {
        "before": {"result": str(comparison.before_id)},
        "after": {"result": str(comparison.after_id)},
    }
    estimate.save()
    assert report_of().savings_total is not None


def test_no_people_in_the_report(mixed_quarter: dict[str, Job]) -> None:
    text = repr(report_of())
    for job in mixed_quarter.values():
        assert job.client.name not in text
    assert "Casimir" not in text


def test_number_of_queries_does_not_grow(ledger: Any, django_assert_num_queries: Any) -> None:
    for _ in range(3):
        job = ledger.pair(1000.0, 700.0)
        ledger.estimated(job, "natural_gas", mmbtu=1.0, dollars=10.0)
    with CaptureQueriesContext(connection) as few:
        report_of()
    for _ in range(37):
        job = ledger.pair(1000.0, 700.0)
        ledger.estimated(job, "natural_gas", mmbtu=1.0, dollars=10.0)
    with django_assert_num_queries(len(few)):
        assert report_of().units.n == 40
    assert len(few) == 7
