"""Pieces of evidence that test runs, their results and photos give a gate."""

from collections.abc import Callable, Mapping

from django.db.models import Q

from agency.diagnostics.models import TIGHTNESS, Comparison, Result, TestRun
from agency.reports.models import LockedQuarter
from agency.wording import words

from .checks import Case, Found, lacking, or_on_file, there

AFTER = (TestRun.Phase.AFTER, TestRun.Phase.INSPECTION)
SHOWN = {Comparison.Verdict.DETECTABLE, Comparison.Verdict.NOT_DETECTABLE}


def _runs(case: Case, *phases: str, kind: str | None = None) -> list[TestRun]:
    """Runs that were not sent back, in the order taken."""
    runs = case.job.test_runs.exclude(review=TestRun.Review.RETURNED).filter(phase__in=phases)
    if kind is not None:
        runs = runs.of_kind(kind)
    light = runs.defer("document", "answer").prefetch_related("results")
    return list(light.order_by("taken_at", "received_at"))


def test_in(case: Case) -> Found:
    """A tightness test before the work, or why there is none."""
    runs = _runs(case, TestRun.Phase.BEFORE, kind=TIGHTNESS)
    if runs:
        return there(f"Taken {words.day(runs[-1].taken_at.date())}.", *(run.pk for run in runs))
    if case.job.no_before_test_reason:
        return there(f"Could not be made: {case.job.no_before_test_reason}")
    return lacking("No test has come in, and no reason is given.")


def test_in_stands(case: Case) -> Found:
    """Nothing measured before the work is rejected or in doubt."""
    bad = []
    for run in _runs(case, TestRun.Phase.BEFORE):
        result = run.result
        if result is None:
            bad.append(f"{run.title}: being computed")
        elif not result.may_be_reported:
            bad.append(f"{run.title}: {result.get_verdict_display().lower()}")
    return lacking(f"{'; '.join(bad)}.") if bad else there("None is.")


def combustion(case: Case) -> Found:
    """A combustion test before the work, where anything burns fuel."""
    runs = _runs(case, TestRun.Phase.BEFORE, kind="combustion_zone")
    if runs:
        return there(f"Taken {words.day(runs[-1].taken_at.date())}.", runs[-1].pk)
    return or_on_file(case, "combustion", lacking("No combustion test has come in."))


def ventilation_need(case: Case) -> Found:
    """The need was worked out, or is on file."""
    runs = _runs(case, *TestRun.Phase.values, kind="ventilation_need")
    if runs:
        return there(f"Worked out {words.day(runs[-1].taken_at.date())}.", runs[-1].pk)
    return or_on_file(case, "ventilation_need", lacking("It has not been worked out."))


def photos(piece: str) -> Callable[[Case], Found]:
    """Photos have come in, or where they are is on file."""

    def check(case: Case) -> Found:
        count = case.job.photos.count()
        if count:
            return there(f"{words.count(count, 'photo')} of this job.")
        return or_on_file(case, piece, lacking("No photo has come in."))

    return check


def after_tests(case: Case) -> Found:
    """Before and after compared; or after alone, where before could not be measured."""
    comparison = case.job.comparisons.first()
    if comparison is None:
        return or_on_file(case, "after_tests", lacking("Nothing is compared yet."))
    no_before = comparison.verdict == Comparison.Verdict.NO_BEFORE
    if comparison.verdict in SHOWN or (no_before and case.job.no_before_test_reason):
        return there(f"{comparison.get_verdict_display()}.", comparison.pk)
    found = lacking(f"{comparison.get_verdict_display()}.")
    return or_on_file(case, "after_tests", found)


def newest_answer(*, kind: str, bad: set[str], well: str) -> Callable[[Case], Found]:
    """The newest test of a kind after the work does not say what it must not."""

    def check(case: Case) -> Found:
        runs = _runs(case, *AFTER, kind=kind)
        if not runs:
            return there("No such test was made after the work.")
        result = runs[-1].result
        if result is None:
            return lacking("The newest test is being computed.")
        if result.answer in bad:
            said = result.get_answer_display().lower()
            return lacking(f"The test of {words.day(runs[-1].taken_at.date())} says: {said}.")
        return there(well, runs[-1].pk)

    return check


def tested_again(case: Case) -> Found:
    """What a finding changed in the envelope or at a burner is measured anew."""
    kinds = {"envelope": TIGHTNESS, "combustion": "combustion_zone"}
    runs, seen = _runs(case, *AFTER), []
    for finding in case.job.findings.exclude(touches="neither"):
        kind = kinds[finding.touches]
        later = [run for run in runs if run.kind == kind and run.taken_at > finding.found_at]
        if not later:
            return lacking(f"No new test since this was found: {finding.words}")
        seen.append(later[-1].pk)
    return there("Tested after the finding." if seen else "No finding touched either.", *seen)


def reviews_done(case: Case) -> Found:
    """No run waits for a reviewer."""
    waiting = case.job.test_runs.unreviewed().count()
    return lacking(f"{words.count(waiting, 'test run')} waiting.") if waiting else there("All are.")


def locked_quarter(case: Case) -> Found:
    """A locked report that the job was counted in."""
    day = case.job.inspection_passed_on
    if day is None:
        return lacking("No inspection has passed.")
    locks = LockedQuarter.objects.filter(first_day__lte=day, last_day__gte=day)
    ours = locks.filter(Q(program=None) | Q(program=case.job.program_id))
    counted = ours.filter(evidence__contains=str(case.job.pk)).first()
    if counted is None:
        return lacking(f"No locked quarter counts it; its counting date is {words.day(day)}.")
    return there(f"{counted}.", counted.pk)


READINGS: Mapping[str, Callable[[Case], Found]] = {
    "test_in": test_in,
    "test_in_stands": test_in_stands,
    "combustion": combustion,
    "photos": photos("photos"),
    "hidden_photos": photos("hidden_photos"),
    "ventilation_need": ventilation_need,
    "after_tests": after_tests,
    "combustion_safe": newest_answer(
        kind="combustion_zone", bad={Result.Answer.ACTION}, well="The newest calls for none."
    ),
    "ventilation_met": newest_answer(
        kind="ventilation_need",
        bad={Result.Answer.MISSED, Result.Answer.ACTION},
        well="The newest says that the need is met.",
    ),
    "tested_again": tested_again,
    "reviews_done": reviews_done,
    "locked_quarter": locked_quarter,
}
