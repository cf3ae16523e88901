"""A locked quarter stays, anyone gets the same bytes again, and changes stand in a later one."""

from collections.abc import Iterator
from datetime import UTC, date, datetime
from io import StringIO
from typing import Any

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, transaction

from agency import workflows
from agency.errors import ActionRefused
from agency.jobs.models import Job
from agency.reports.canonical import canonical_text
from agency.reports.corrections import note_corrections
from agency.reports.locking import lock, recomputed, report_for
from agency.reports.models import Correction, LockedQuarter
from agency.reports.periods import Period
from tests.builders import make_program

SPRING, SUMMER = Period.parse("2026-Q2"), Period.parse("2026-Q3")
JULY = datetime(2026, 7, 2, 14, 30, tzinfo=UTC)
AUGUST = datetime(2026, 8, 20, 9, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def in_july() -> Iterator[Any]:
    with time_machine.travel(JULY, tick=False) as traveller:
        yield traveller


@pytest.fixture
def locked(mixed_quarter: dict[str, Job], cast: Any) -> LockedQuarter:
    assert mixed_quarter
    return workflows.lock_quarter(SPRING, None, cast.manager, typed="2026-Q2", now=JULY)


def spring() -> Any:
    return report_for(SPRING, None, now=AUGUST)


def noted() -> list[tuple[str, Any, Any]]:
    return [(one.what, one.old, one.new) for one in Correction.objects.all()]


def test_only_a_manager_locks_and_types_the_name(two_homes: Any, cast: Any) -> None:
    for person in (cast.office, cast.inspector, cast.crew_lead):
        with pytest.raises(ActionRefused, match="Only a manager"):
            workflows.lock_quarter(SPRING, None, person, typed="2026-Q2", now=JULY)
    for typed in ("", "2026-Q3", "2026-q2", "yes"):
        with pytest.raises(ActionRefused, match="Type 2026-Q2"):
            workflows.lock_quarter(SPRING, None, cast.manager, typed=typed, now=JULY)
    assert not LockedQuarter.objects.exists()


def test_a_quarter_is_locked_once_and_only_after_its_end(locked: LockedQuarter, cast: Any) -> None:
    with pytest.raises(ActionRefused, match="It stays as it is"):
        workflows.lock_quarter(SPRING, None, cast.manager, typed="2026-Q2", now=AUGUST)
    with pytest.raises(ActionRefused, match="runs until Sep 30, 2026"):
        workflows.lock_quarter(SUMMER, None, cast.manager, typed="2026-Q3", now=AUGUST)


def test_locking_changes_no_figure(mixed_quarter: dict[str, Job], cast: Any) -> None:
    open_report = report_for(SPRING, None, now=JULY)
    workflows.lock_quarter(SPRING, None, cast.manager, typed="2026-Q2", now=JULY)
    frozen = spring()
    assert frozen.lock is not None
    assert frozen.lock.by == str(cast.manager)
    assert canonical_text(open_report) == canonical_text(frozen).replace(
        f'"lock":{canonical_text(frozen.lock)}', '"lock":null'
    )


def test_the_same_bytes_come_out_of_the_frozen_evidence(locked: LockedQuarter) -> None:
    again = recomputed(locked)
    assert again.agrees
    assert again.anew == locked.figures_hash
    said = StringIO()
    call_command("check_quarter", "2026-Q2", stdout=said)
    assert said.getvalue().count(locked.figures_hash) == 3
    assert said.getvalue().rstrip().endswith("The same.")


def test_the_bytes_are_the_same_whatever_happened_since(
    locked: LockedQuarter, mixed_quarter: dict[str, Job]
) -> None:
    before = canonical_text(spring())
    job = mixed_quarter["large"]
    job.comparisons.update(reduction=0.1, after_flow_50=1.0)
    Job.objects.filter(pk=mixed_quarter["small"].pk).update(status="withdrawn", approved_at=None)
    note_corrections(AUGUST)
    assert canonical_text(spring()) == before
    assert recomputed(locked).agrees


def test_a_hash_that_differs_is_told(locked: LockedQuarter) -> None:
    """Changed behind the program's back, past the trigger."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("ALTER TABLE reports_lockedquarter DISABLE TRIGGER USER")
        else:
            cursor.execute("DROP TRIGGER reports_lockedquarter_stays")
    changed = locked.evidence.replace('"reduction":0.5,', '"reduction":0.6,')
    assert changed != locked.evidence
    LockedQuarter.objects.filter(pk=locked.pk).update(evidence=changed)
    with pytest.raises(CommandError, match="no longer has the hash"):
        call_command("check_quarter", "2026-Q2", stdout=StringIO())


def test_quarter_that_is_not_locked_cannot_be_checked(locked: LockedQuarter) -> None:
    with pytest.raises(
        CommandError, match=r"2026-Q3 is not locked\. Locked quarters: 2026-Q2, all"
    ):
        call_command("check_quarter", "2026-Q3", stdout=StringIO())


def test_the_database_refuses_to_change_it(locked: LockedQuarter) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        LockedQuarter.objects.update(figures="{}")
    with pytest.raises(ActionRefused, match="stays"):
        LockedQuarter.objects.all().delete()


def test_nothing_changed_nothing_noted(locked: LockedQuarter) -> None:
    assert note_corrections(AUGUST) == 0


def test_comparison_changed_later_stands_in_the_current_quarter(
    locked: LockedQuarter, mixed_quarter: dict[str, Job]
) -> None:
    job = mixed_quarter["large"]
    comparison = job.comparisons.get()
    comparison.pk = None
    comparison._state.adding = True
    comparison.id = Job._meta.pk.get_default()
    comparison.computed_at = AUGUST
    comparison.reduction = 0.25
    comparison.save(force_insert=True)
    assert note_corrections(AUGUST) == 2
    report = report_for(SUMMER, None, now=AUGUST)
    row, saving = report.corrections
    assert (row.quarter, row.job_number, row.what) == (
        "2026-Q2, all grants",
        job.number,
        "Reduction",
    )
    assert (row.old, row.new, row.unit) == (pytest.approx(50.0), pytest.approx(25.0), "percent")
    assert row.why.startswith("Tests compared anew on Aug 20, 2026")
    assert row.noted_on == date(2026, 8, 20)
    # Nobody has estimated the saving anew, so there is none that rests on the new comparison.
    assert (saving.what, saving.old, saving.new) == ("Saving, modelled", 20.0, None)
    assert report.corrected_units == 0
    assert spring().corrections == ()


def test_a_change_is_noted_once_and_its_way_back_again(
    locked: LockedQuarter, mixed_quarter: dict[str, Job], in_july: Any
) -> None:
    in_july.move_to(AUGUST)
    house = mixed_quarter["small"].house
    house.year_built = 1961
    house._change_reason = "Deed seen"
    house.save()
    note_corrections(AUGUST)
    assert note_corrections(AUGUST) == 0
    house.year_built = 1958
    house.save()
    note_corrections(AUGUST.replace(day=21))
    assert noted() == [("Year built", 1958, 1961), ("Year built", 1961, 1958)]
    assert "Deed seen" in Correction.objects.first().why


def test_withdrawn_unit_counts_minus_one_and_a_late_approval_plus_one(
    locked: LockedQuarter, mixed_quarter: dict[str, Job], make_job: Any, cast: Any
) -> None:
    gone = mixed_quarter["small"]
    # No step of the program takes an approved job back yet; the record is put right by hand.
    Job.objects.filter(pk=gone.pk).update(status="withdrawn", approved_at=None)
    gone.events.create(
        at=AUGUST, by=cast.manager, role="manager", old="approved", new="withdrawn",
        reason="Paid by another fund",
    )  # fmt: skip
    late = make_job(status="inspection_passed", inspection_passed_on=date(2026, 6, 30))
    with time_machine.travel(AUGUST, tick=False):
        workflows.approve_job(late.pk, cast.manager)
        workflows.approve_job(
            make_job(status="inspection_passed", inspection_passed_on=date(2026, 6, 1)).pk,
            cast.manager,
        )
    note_corrections(AUGUST)
    report = report_for(SUMMER, None, now=AUGUST)
    rows = {row.job_number: row for row in report.corrections}
    assert (rows[gone.number].old, rows[gone.number].new) == ("yes", "no")
    assert rows[gone.number].why == "Withdrawn on Aug 20, 2026 by marisol: Paid by another fund."
    assert (rows[late.number].old, rows[late.number].new) == ("no", "yes")
    assert rows[late.number].why == "Approved on Aug 20, 2026 by marisol."
    assert report.corrected_units == 2 - 1


def test_corrections_are_frozen_with_the_quarter_they_stand_in(
    locked: LockedQuarter, mixed_quarter: dict[str, Job], cast: Any
) -> None:
    house = mixed_quarter["small"].house
    house.year_built = 1961
    house.save()
    note_corrections(AUGUST)
    october = datetime(2026, 10, 1, 20, 0, tzinfo=UTC)
    summer = workflows.lock_quarter(SUMMER, None, cast.manager, typed="2026-Q3", now=october)
    house.year_built = 1975
    house.save()
    note_corrections(october)
    assert [row.new for row in report_for(SUMMER, None, now=october).corrections] == [1961]
    assert recomputed(summer).agrees


def test_locking_notes_what_nobody_has_looked_for_yet(
    locked: LockedQuarter, mixed_quarter: dict[str, Job], cast: Any
) -> None:
    mixed_quarter["small"].house.county.name = "Quillmoor Vale"
    mixed_quarter["small"].house.county.save()
    with transaction.atomic():
        lock(SUMMER, None, cast.manager, now=datetime(2026, 10, 1, 20, 0, tzinfo=UTC))
    assert {one.what for one in Correction.objects.all()} == {"County"}


def test_grants_quarter_is_locked_by_itself(two_homes: Any, cast: Any) -> None:
    program = make_program()
    period = Period.program_quarter(program, 2)
    with transaction.atomic():
        one = lock(period, program, cast.manager, now=JULY)
    assert str(one) == "QM-26-01-2, QM-26-01"
    assert report_for(SPRING, None, now=JULY).lock is None
    assert report_for(period, program, now=JULY).units.n == 2
    call_command("check_quarter", "QM-26-01-2", "--grant", "QM-26-01", stdout=StringIO())
