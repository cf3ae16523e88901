"""Worker's part: estimate the saving of one approved job."""

from celery import shared_task

from agency.outbox.running import keep

from .estimating import estimate_job as estimate


@shared_task
def estimate_job(errand_id: str) -> None:
    """Work out and store the saving of one approved job. Safe to run twice."""
    keep(errand_id, estimate)
