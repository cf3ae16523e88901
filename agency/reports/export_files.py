"""Files asked for: written by a worker row by row, kept for a week, then thrown away."""

import hashlib
import io
import tempfile
import uuid
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import BinaryIO
from uuid import UUID

from django.core.files import File
from django.utils import timezone

from agency.outbox.models import Errand

from .disclosure import Telling, hidden_in, people_of, smallest_count
from .exports import BYTE_ORDER_MARK, named_table, write_csv, write_xlsx
from .locking import report_for
from .models import KEPT, Export
from .periods import period_of
from .quarter import QuarterReport
from .tables import head_of, tables_of

EVERY = 2_000
"""Rows between two signs of life. Own choice: about four seconds of the slower form."""
TASK = "agency.reports.tasks.write_report_file"


def promise_file(export: Export) -> Export:
    """Have a worker write it; the caller holds the transaction."""
    export.errand = Errand.promise(TASK, export.pk)
    export.save(update_fields=["errand"])
    return export


def write_export(export_id: UUID, alive: Callable[[], None]) -> None:
    """Write the file and put it in its place; written twice, the last one stays."""
    export = Export.objects.select_related("program").get(pk=export_id)
    period = period_of(export.quarter, program=export.program)
    report = report_for(period, export.program, now=timezone.now())
    alive()
    told = telling_for(
        report, names=export.options.get("names", False),
        withhold=export.options.get("withhold", False), now=timezone.now(),
    )  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "export"
        with path.open("w+b") as data:
            for done, total in _written(data, export, report, told):
                if done % EVERY == 0 or done == total:
                    export.note_progress(done, total)
                    alive()
        _put_in_place(export, path)


def telling_for(report: QuarterReport, *, names: bool, withhold: bool, now: datetime) -> Telling:
    """What a file may say, as it was asked for."""
    hidden = None
    if withhold:
        hidden = hidden_in(report, smallest=smallest_count(timezone.localdate(now)))
    return Telling(hidden=hidden, people=people_of(report) if names and not withhold else None)


def _written(
    data: BinaryIO, export: Export, report: QuarterReport, telling: Telling
) -> Iterator[tuple[int, int]]:
    """Rows done of rows in all, after each row."""
    if export.form == Export.Form.XLSX:
        total = sum(len(table.rows) for table in tables_of(report, telling))
        for done in write_xlsx(data, report, telling):
            yield done, total
        return
    table = named_table(report, export.table, telling)
    if export.options.get("mark"):
        data.write(BYTE_ORDER_MARK)
    text = io.TextIOWrapper(data, encoding="utf-8", newline="", write_through=True)
    for done in write_csv(text, table, head_of(report, telling)):
        yield done, len(table.rows)
    text.flush()
    text.detach()


def _put_in_place(export: Export, path: Path) -> None:
    with path.open("rb") as data:
        export.file_hash = hashlib.file_digest(data, "sha256").hexdigest()
    table = f"-{export.table}" if export.table else ""
    export.file_name = f"{export.quarter}{table}.{export.form}"
    export.file_size = path.stat().st_size
    export.finished_at = timezone.now()
    if export.file:
        export.file.delete(save=False)
    with path.open("rb") as data:
        # A name that nobody can guess.
        export.file.save(f"{uuid.uuid4().hex}.{export.form}", File(data), save=False)
    export.save(update_fields=["file", "file_hash", "file_name", "file_size", "finished_at"])


def clean_exports(now: datetime) -> int:
    """Throw away the files whose time is over; how many there were."""
    expired = list(Export.objects.expired(before=now - KEPT))
    for export in expired:
        export.throw_away()
    return len(expired)
