"""Worker's part: print the certificate of one approved job."""

from celery import shared_task

from agency.outbox.running import keep

from .issuing import issue_certificate


@shared_task
def print_certificate(errand_id: str) -> None:
    """Write one job's certificate. Safe to run twice."""
    keep(errand_id, issue_certificate)
