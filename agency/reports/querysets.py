"""Questions about locked quarters, their corrections, and files asked for."""

from datetime import datetime
from typing import TYPE_CHECKING, NoReturn

from django.db import models

from agency.errors import ActionRefused

from .periods import Period

if TYPE_CHECKING:
    from agency.accounts.models import User
    from agency.programs.models import Program

    from .models import Correction, Export, LockedQuarter  # noqa: F401  in the base classes


class LockedQuarterQuerySet(models.QuerySet["LockedQuarter"]):
    """Quarters nobody unlocks."""

    def of(self, period: Period, program: "Program | None") -> "LockedQuarter | None":
        """The lock on this report; None while it is open."""
        grant = "" if program is None else program.grant_number
        return self.filter(code=period.code, grant=grant).select_related("locked_by").first()

    def delete(self) -> NoReturn:
        """Refused."""
        raise ActionRefused("A locked quarter stays. Changes appear as corrections of a later one.")


class CorrectionQuerySet(models.QuerySet["Correction"]):
    """Changes after the lock."""

    def noted_in(self, period: Period, program: "Program | None") -> "CorrectionQuerySet":
        """Those that belong into the report of `period`, oldest first."""
        found = self.filter(
            noted_on__range=(period.first, period.last), locked__program=program
        ).select_related("locked", "job")
        return found.order_by("noted_at", "job__number", "what", "id")


class ExportQuerySet(models.QuerySet["Export"]):
    """Files asked for."""

    def visible_to(self, user: "User") -> "ExportQuerySet":
        """The person's own; managers see all."""
        return self if user.may_approve else self.filter(asked_by=user)

    def expired(self, before: datetime) -> "ExportQuerySet":
        """Finished before, and the file still there."""
        return self.filter(finished_at__lt=before, cleaned_at=None).exclude(file="")
