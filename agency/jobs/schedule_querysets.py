"""Questions the scheduler asks about bookings and what they hold."""

from datetime import datetime
from typing import TYPE_CHECKING, Any, Self

from django.db import models
from django.db.models import OuterRef, Prefetch, Q, Subquery

if TYPE_CHECKING:
    from agency.accounts.models import User

    from .bookings import Booking, Claim  # noqa: F401  named in the base classes


class BookingQuerySet(models.QuerySet["Booking"]):
    """Bookings as the scheduler speaks of them."""

    def standing(self) -> Self:
        """Not called off."""
        return self.filter(cancelled_at=None)

    def between(self, first: datetime, last: datetime) -> Self:
        """Those that begin from `first` up to, not including, `last`."""
        return self.filter(starts_at__gte=first, starts_at__lt=last)

    def visible_to(self, user: "User") -> Self:
        """Desk staff see every booking, a crew member only those of the own crew."""
        if user.works_at_desk:
            return self
        return self.filter(crew__members__user=user)

    def with_records(self) -> Self:
        """Fetched with visit, job, house, client, crew, vehicle and inspector in one query."""
        return self.select_related(
            "visit__job__house__county", "visit__job__client", "crew", "inspector", "vehicle"
        )

    def with_claims(self) -> Self:
        """Fetched with what they hold, and the calibrations of their instruments."""
        claim: Any = self.model.claims.rel.related_model
        held = claim.objects.select_related("instrument")
        return self.prefetch_related(Prefetch("claims", held), "claims__instrument__calibrations")

    def marking_news(self) -> Self:
        """Each row knows when it was last moved, and when its client was last reached since."""
        moved: Any = self.model.rebookings.rel.related_model
        last = moved.objects.filter(booking=OuterRef("pk")).order_by("-at").values("at")[:1]
        visit: Any = self.model._meta.get_field("visit").related_model
        contact: Any = visit.contacts.rel.related_model
        told = contact.objects.reached().filter(visit=OuterRef("visit")).order_by("-at")
        return self.annotate(moved_at=Subquery(last), told_at=Subquery(told.values("at")[:1]))


class ClaimQuerySet(models.QuerySet["Claim"]):
    """Claims to crews, people, vehicles and instruments."""

    def meeting(self, starts_at: datetime, ends_at: datetime) -> Self:
        """Those whose time meets this one; touching ends do not meet."""
        return self.filter(Q(starts_at__lt=ends_at) & Q(ends_at__gt=starts_at))
