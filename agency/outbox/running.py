"""How a worker keeps a promise: claim it, do it, tick it off; safe to be told twice."""

import logging
from collections.abc import Callable
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from agency.errors import AgencyError

from .models import Errand

log = logging.getLogger(__name__)


def keep(errand_id: str, work: Callable[[UUID], object]) -> bool:
    """Run `work` on the errand's subject; False when there was nothing to do.

    The work and the tick commit together, so a worker killed in between leaves a promise
    that is still open. An AgencyError is final and kept in words; anything else is tried again.
    """
    errand = Errand.objects.get(pk=errand_id)
    if not errand.claim():
        return False
    try:
        with transaction.atomic():
            work(errand.subject)
            errand.finish()
    except AgencyError as refusal:
        errand.give_up(str(refusal))
    except Exception as fault:
        log.exception("Errand %s failed", errand.pk)
        errand.put_back(f"{type(fault).__name__}: {fault}"[:500])
        raise
    return True


def keep_at_length(errand_id: str, work: Callable[[UUID, Callable[[], None]], object]) -> bool:
    """The same for work of minutes, which commits as it goes so that others see how far it is.

    `work` gets the subject and a sign of life to give now and then; done twice, it must come to
    the same. False when there was nothing to do.
    """
    errand = Errand.objects.get(pk=errand_id)
    if not errand.claim():
        return False
    try:
        work(errand.subject, errand.prolong)
        with transaction.atomic():
            errand.finish()
    except AgencyError as refusal:
        errand.give_up(str(refusal))
    except Exception as fault:
        log.exception("Errand %s failed", errand.pk)
        errand.put_back(f"{type(fault).__name__}: {fault}"[:500])
        raise
    return True


def sweep() -> int:
    """Nudge every promise whose message was lost or whose worker died; how many there were."""
    overlooked = list(Errand.objects.overlooked(timezone.now()))
    for errand in overlooked:
        errand.nudge()
    return len(overlooked)
