"""Worker's part: evaluate a stored test run."""

from celery import shared_task

from agency.outbox.running import keep

from .results import evaluate_run


@shared_task
def evaluate_test_run(errand_id: str) -> None:
    """Compute and store the result of one test run. Safe to run twice."""
    keep(errand_id, evaluate_run)
