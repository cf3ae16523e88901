"""The sweeper's timetable entry."""

from celery import shared_task

from .running import sweep


@shared_task
def sweep_outbox() -> None:
    """Nudge promises that were overlooked. Safe to run at any time."""
    sweep()
