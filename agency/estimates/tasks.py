"""Worker's part: savings of jobs, estimated and measured, and what a grant realized."""

from celery import shared_task

from agency.outbox.running import keep

from .analysing import analyse_study
from .estimating import estimate_job as estimate
from .realizing import realize_program as realize


@shared_task
def estimate_job(errand_id: str) -> None:
    """Work out and store the saving of one approved job. Safe to run twice."""
    keep(errand_id, estimate)


@shared_task
def analyse_bills(errand_id: str) -> None:
    """Work out and store the saving one account's bills tell. Safe to run twice."""
    keep(errand_id, analyse_study)


@shared_task
def realize_program(errand_id: str) -> None:
    """Work out and store what one grant realized. Safe to run twice."""
    keep(errand_id, realize)
