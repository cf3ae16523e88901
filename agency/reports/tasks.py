"""Worker's part: write files asked for, note corrections, throw old files away."""

from celery import shared_task
from django.utils import timezone

from agency.outbox.running import keep_at_length

from .corrections import note_corrections
from .export_files import clean_exports, write_export

LONGEST = 1800
"""Seconds after which writing one file is given up. Own choice."""


@shared_task(time_limit=LONGEST)
def write_report_file(errand_id: str) -> None:
    """Write one file. Safe to run twice: the second run writes it anew."""
    keep_at_length(errand_id, write_export)


@shared_task
def note_changes_in_locked_quarters() -> None:
    """Note what changed in locked quarters. Safe to run at any time."""
    note_corrections(timezone.now())


@shared_task
def throw_old_files_away() -> None:
    """Delete expired files. Safe to run at any time."""
    clean_exports(timezone.now())
