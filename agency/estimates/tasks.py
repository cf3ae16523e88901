"""Workers' part: savings estimated and measured, what a budget buys, what a grant realized."""

from celery import shared_task

from agency.outbox.running import keep

from .analysing import analyse_study
from .estimating import estimate_job as estimate
from .estimating_measures import estimate_measures as estimate_their_measures
from .estimating_measures import run_package as choose
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


@shared_task
def estimate_measures(errand_id: str) -> None:
    """Work out and store what the measures of one job save. Safe to run twice."""
    keep(errand_id, estimate_their_measures)


@shared_task
def run_package(errand_id: str) -> None:
    """Choose and store what one budget buys. Safe to run twice."""
    keep(errand_id, choose)
