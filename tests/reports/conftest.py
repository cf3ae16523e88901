"""Counted jobs with ready-made comparisons and estimates."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

import pytest

from agency.diagnostics.models import Comparison, TestRun
from agency.estimates.models import SavingsEstimate
from agency.jobs.models import Job
from tests.builders import make_comparison, make_house


@dataclass(frozen=True)
class Ledger:
    """Ways to make a counted job of each kind; flows in cfm."""

    make_job: Callable[..., Job]
    make_run: Callable[..., TestRun]

    def pair(self, before: float, after: float, **job: Any) -> Job:
        made = self.make_job(status="approved", **job)
        before_run = self.make_run(made, "before", before, review="accepted")
        after_run = self.make_run(made, "after", after, review="accepted")
        comparison = make_comparison(made, before_run, after_run)
        # Exact shares, so that sums of 0.1 and 0.5 can be asserted.
        Comparison.objects.filter(pk=comparison.pk).update(reduction=1 - after / before)
        return made

    def lacking(self, side: str, reason: str = "", **job: Any) -> Job:
        made = self.make_job(status="approved", no_before_test_reason=reason, **job)
        run = self.make_run(made, "after" if side == "before" else "before", 1500.0)
        before, after = (None, run) if side == "before" else (run, None)
        make_comparison(made, before, after)
        return made

    def judged(self, verdict: str, reasons: list[Any], **job: Any) -> Job:
        """A pair with another verdict of the comparison."""
        made = self.pair(2000.0, 1980.0, **job)
        made.comparisons.update(verdict=verdict, reasons=reasons)
        return made

    @staticmethod
    def estimated(job: Job, fuel: str, *, mmbtu: float, dollars: float | None) -> SavingsEstimate:
        def spread(central: float) -> dict[str, float]:
            return {"low": 0.5 * central, "central": central, "high": 1.5 * central}

        heating = {
            "fuel": fuel,
            "unit": "therm",
            "mmbtu": spread(mmbtu),
            "dollars": None if dollars is None else spread(dollars),
        }
        return SavingsEstimate.objects.create(
            job=job,
            comparison=job.comparisons.first(),
            method="m",
            edition="e",
            maths_version="1",
            input_hash=f"{job.number} {mmbtu}",
            inputs={},
            figures={"heating": heating, "cooling": None},
        )


@pytest.fixture
def ledger(make_job: Callable[..., Job], make_run: Callable[..., TestRun]) -> Ledger:
    return Ledger(make_job=make_job, make_run=make_run)


@pytest.fixture
def two_homes(ledger: Ledger) -> tuple[Job, Job]:
    """4000 to 2000 cfm and 1000 to 900 cfm: mean 30 %, pooled 42 %."""
    return ledger.pair(4000.0, 2000.0), ledger.pair(1000.0, 900.0)


@pytest.fixture
def mixed_quarter(ledger: Ledger) -> dict[str, Job]:
    """One job of each kind, all counted in the second quarter of 2026."""
    jobs = {
        "large": ledger.pair(
            4000.0, 2000.0, house=make_house(city="=HYPERLINK(1)", year_built=None)
        ),
        "small": ledger.pair(1000.0, 900.0),
        "leakier": ledger.pair(1200.0, 1500.0),
        "unseen": ledger.judged("not_detectable", []),
        "unlike": ledger.judged(
            "not_comparable",
            [{"message": "The method differs."}, {"message": "A remark.", "forbids": False}],
        ),
        "unsafe": ledger.lacking("before", "It was not safe to test."),
        "no_after": ledger.lacking("after"),
        "uncompared": ledger.make_job(status="approved"),
    }
    ledger.estimated(jobs["large"], "natural_gas", mmbtu=20.0, dollars=300.0)
    ledger.estimated(jobs["small"], "natural_gas", mmbtu=2.0, dollars=None)
    ledger.estimated(jobs["leakier"], "propane", mmbtu=-4.0, dollars=-90.0)
    return jobs


@pytest.fixture
def next_quarter(ledger: Ledger) -> Job:
    """Counted on the first day after the quarter."""
    return ledger.pair(3000.0, 1000.0, inspection_passed_on=date(2026, 7, 1))
