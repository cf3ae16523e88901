"""Questions the intake desk asks about applications, in its own words."""

from datetime import date
from typing import TYPE_CHECKING, Any

from django.db import models
from django.db.models import Exists, OuterRef, Q, Subquery

from agency.houses.models import House
from agency.people.models import Client

if TYPE_CHECKING:
    from .models import Application  # noqa: F401  named in the base class

RANKED = ("-score__is_emergency", "-score__points", "score__waiting_since", "number")
"""Emergencies first, then points, then the date of application, then the number."""


class ApplicationQuerySet(models.QuerySet["Application"]):
    """Applications as the intake desk speaks of them."""

    def open(self) -> "ApplicationQuerySet":
        """Neither a job nor ended."""
        return self.filter(status__in=["received", "info_needed", "waitlisted"])

    def waiting(self) -> "ApplicationQuerySet":
        """On the waiting list, in the order in which they are served."""
        return self.filter(status="waitlisted").order_by(*RANKED)

    def undecided(self) -> "ApplicationQuerySet":
        """Somebody at the desk must act: received, or papers asked for."""
        return self.filter(status__in=["received", "info_needed"])

    def papers_overdue(self, day: date) -> "ApplicationQuerySet":
        """Papers were due before `day` and the application still waits for them."""
        return self.filter(status="info_needed", papers_due_on__lt=day)

    def to_renew(self, by: date) -> "ApplicationQuerySet":
        """On the waiting list, with a determination that ends on or before `by`."""
        waiting: Any = self.filter(status="waitlisted").with_expiry()
        ending: ApplicationQuerySet = waiting.filter(Q(expires_on__lte=by) | Q(expires_on=None))
        return ending

    def with_expiry(self) -> "ApplicationQuerySet":
        """Each row knows as `expires_on` when its newest determination ends, if it is eligible."""
        made: Any = self.model.determinations.rel.related_model
        newest = made.objects.filter(application=OuterRef("pk")).order_by("-made_at", "id")
        eligible = models.Case(
            models.When(outcome="eligible", then="expires_on"), output_field=models.DateField()
        )
        return self.annotate(expires_on=Subquery(newest.annotate(end=eligible).values("end")[:1]))

    def eligible_on(self, day: date) -> "ApplicationQuerySet":
        """The newest determination makes the household eligible on `day`."""
        known: Any = self.with_expiry()
        eligible: ApplicationQuerySet = known.filter(expires_on__gte=day)
        return eligible

    def matching(self, words: str) -> "ApplicationQuerySet":
        """Number, client or address contains each of the words."""
        found, every = self, self.model._default_manager.order_by()
        for word in words.split():
            clients = Client.objects.filter(name__icontains=word)
            houses = House.objects.filter(Q(address__icontains=word) | Q(city__icontains=word))
            # Asked apart and united, so that each part can use an index of its own.
            parts = (
                every.filter(number__icontains=word),
                every.filter(client__in=clients.order_by()),
                every.filter(house__in=houses.order_by()),
            )
            first, *others = (part.values("pk") for part in parts)
            found = found.filter(pk__in=first.union(*others))
        return found

    def lacking_permission(self, day: date) -> "ApplicationQuerySet":
        """Rentals whose owner has not permitted the work on `day`."""
        house: Any = self.model._meta.get_field("house").related_model
        signed = house.owner_permissions.rel.related_model.objects.filter(
            Q(withdrawn_on=None) | Q(withdrawn_on__gt=day),
            house=OuterRef("house"),
            signed_on__lte=day,
        )
        return self.filter(~Exists(signed), tenure="renter")

    def with_people(self) -> "ApplicationQuerySet":
        """Fetched with client, house, programme, household and score in one query."""
        return self.select_related("client", "house__county", "program", "household", "score")

    def with_decisions(self) -> "ApplicationQuerySet":
        """Fetched with their determinations in one more query."""
        return self.prefetch_related("determinations__made_by")

    def with_facts(self) -> "ApplicationQuerySet":
        """Fetched with all a determination is made from."""
        return self.prefetch_related(
            "incomes",
            "benefits__program",
            "energy_uses",
            "papers__seen_by",
            "house__owner_permissions",
        )
