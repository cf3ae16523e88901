"""A worker writes the file that was asked for, tells how far it is, and can be killed meanwhile."""

import csv
import hashlib
import io
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from io import StringIO
from typing import Any

import openpyxl
import pytest
import time_machine
from django.core.management import call_command

from agency import workflows
from agency.jobs.models import Job
from agency.outbox.models import Errand
from agency.reports import export_files
from agency.reports.export_files import write_export
from agency.reports.exports import csv_bytes
from agency.reports.locking import report_for
from agency.reports.models import KEPT, Export
from agency.reports.periods import Period
from agency.reports.tasks import write_report_file

JULY = datetime(2026, 7, 2, 14, 30, tzinfo=UTC)


@pytest.fixture(autouse=True)
def in_july() -> Any:
    with time_machine.travel(JULY, tick=False) as traveller:
        yield traveller


@pytest.fixture
def ask(mixed_quarter: dict[str, Job], cast: Any) -> Callable[..., Export]:
    def asked(form: str = "csv", table: str = "homes", **options: bool) -> Export:
        return workflows.ask_for_file(
            Export(asked_by=cast.office, quarter="2026-Q2", form=form, table=table, options=options)
        )

    return asked


def content(export: Export) -> bytes:
    export.refresh_from_db()
    with export.file.open("rb") as file:
        return bytes(file.read())


def test_asking_promises_and_a_worker_writes(ask: Any, work_off: Any) -> None:
    export = ask()
    assert (export.state, export.rows_total) == ("queued", None)
    assert not export.is_ready(JULY)
    work_off()
    export.refresh_from_db()
    assert (export.state, export.rows_done, export.rows_total) == ("done", 8, 8)
    assert content(export) == csv_bytes(
        report_for(Period.parse("2026-Q2"), None, now=JULY), "homes"
    )
    assert export.file_hash == hashlib.sha256(content(export)).hexdigest()
    assert export.file_size == len(content(export))
    assert export.file_name == "2026-Q2-homes.csv"
    assert export.is_ready(JULY)


def test_workbook_and_options_are_those_asked_for(
    ask: Any, work_off: Any, mixed_quarter: dict[str, Job]
) -> None:
    named, withheld = ask("xlsx", "", names=True), ask("xlsx", "", withhold=True)
    marked = ask(mark=True)
    work_off()
    homes = openpyxl.load_workbook(io.BytesIO(content(named)))["Homes"]
    assert mixed_quarter["small"].client.name in {cell.value for cell in homes["C"]}
    sheets = openpyxl.load_workbook(io.BytesIO(content(withheld))).sheetnames
    assert "Homes" not in sheets
    assert "Summary" in sheets
    assert content(marked).startswith(b"\xef\xbb\xbf")


def test_others_see_how_far_it_is_while_it_is_written(
    ask: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    export = ask()
    monkeypatch.setattr(export_files, "EVERY", 3)
    seen: list[tuple[int, int | None]] = []

    def alive() -> None:
        stored = Export.objects.get(pk=export.pk)
        seen.append((stored.rows_done, stored.rows_total))

    write_export(export.pk, alive)
    assert seen == [(0, None), (3, 8), (6, 8), (8, 8)]


def test_worker_that_dies_leaves_the_promise_open(
    ask: Any, work_off: Any, monkeypatch: pytest.MonkeyPatch, in_july: Any
) -> None:
    export = ask()
    errand = export.errand
    assert errand is not None
    errand.claim()
    errand.prolong()
    assert not Errand.objects.due(JULY + timedelta(seconds=80)).exists()
    in_july.move_to(JULY + timedelta(seconds=100))
    work_off()
    export.refresh_from_db()
    assert export.state == "done"
    assert export.errand.attempts == 2


def test_what_cannot_be_written_is_told_in_words(ask: Any, cast: Any) -> None:
    export = ask(table="people")
    write_report_file(str(export.errand.pk))
    export = Export.objects.get(pk=export.pk)
    assert export.state == "failed"
    assert "There is no table" in export.errand.problem


def test_written_again_the_last_file_stays(ask: Any) -> None:
    export = ask()
    write_export(export.pk, lambda: None)
    export.refresh_from_db()
    first = export.file.name
    write_export(export.pk, lambda: None)
    export.refresh_from_db()
    assert export.file.name != first
    assert not export.file.storage.exists(first)


def test_cleaning_throws_only_old_files_away(ask: Any, work_off: Any, in_july: Any) -> None:
    old = ask()
    work_off()
    in_july.move_to(JULY + KEPT)
    new = ask("xlsx", "")
    work_off()
    in_july.shift(timedelta(seconds=1))
    old.refresh_from_db()
    name = old.file.name
    said = StringIO()
    call_command("clean_exports", stdout=said)
    assert said.getvalue() == "1 file(s) thrown away.\n"
    old.refresh_from_db()
    new.refresh_from_db()
    assert (old.state, new.state) == ("expired", "done")
    assert not new.file.storage.exists(name)
    assert content(new)


def test_csv_of_many_rows_is_whole(ledger: Any, cast: Any, work_off: Any) -> None:
    """Each job once, read back by the standard library."""
    jobs = [ledger.make_job(status="approved") for _ in range(60)]
    export = workflows.ask_for_file(
        Export(asked_by=cast.office, quarter="2026-Q2", form="csv", table="homes")
    )
    work_off()
    table = content(export).decode().partition("\r\n\r\n")[2]
    numbers = [row["job_number"] for row in csv.DictReader(io.StringIO(table))]
    assert numbers == sorted(job.number for job in jobs)
