"""Questions the office asks about jobs, visits and safety stops, in its own words."""

from datetime import date
from typing import TYPE_CHECKING, Any
from uuid import UUID

from django.db import models
from django.db.models import Exists, OuterRef, Prefetch, Q

from agency.houses.models import House
from agency.people.models import Client

from .states import CLOSED, ENDED

if TYPE_CHECKING:
    from agency.accounts.models import User

    from .models import Job, Visit  # noqa: F401  named in the base classes
    from .safety_stops import SafetyStop


class JobQuerySet(models.QuerySet["Job"]):
    """Jobs as the office speaks of them."""

    def open(self) -> "JobQuerySet":
        """Neither closed nor ended without work."""
        return self.exclude(status__in=ENDED)

    def visible_to(self, user: "User") -> "JobQuerySet":
        """Desk staff see every job, a crew member only the own crew's."""
        if user.works_at_desk:
            return self
        return self.filter(crew__members__user=user)

    def on_the_round_of(self, user: "User", *, first: date, last: date) -> "JobQuerySet":
        """Open jobs that the person, or the person's crew, visits from `first` to `last`."""
        visit: Any = self.model.visits.rel.related_model
        planned = visit.objects.made_by(user).between(first, last)
        return self.open().filter(Exists(planned.filter(job=OuterRef("pk"))))

    def counted_between(self, first: date, last: date) -> "JobQuerySet":
        """Approved units whose first passed final inspection lies from `first` to `last`."""
        return self.filter(status__in=CLOSED, inspection_passed_on__range=(first, last))

    def ready_to_approve(self) -> "JobQuerySet":
        """Final inspection passed, waiting for a manager."""
        return self.filter(status=self.model.Status.INSPECTION_PASSED)

    def awaiting_inspection(self) -> "JobQuerySet":
        """Tested out, waiting for an inspector, agreed with one or not."""
        waiting = [self.model.Status.TESTED_OUT, self.model.Status.INSPECTION_SCHEDULED]
        return self.filter(status__in=waiting)

    def matching(self, words: str) -> "JobQuerySet":
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

    def with_people(self) -> "JobQuerySet":
        """Fetched with house, client, crew and programme in one query."""
        return self.select_related("house__county", "client", "crew", "program")

    def with_stops(self) -> "JobQuerySet":
        """Fetched with the safety stops, and who acknowledged or cleared them, in one more."""
        stop: Any = self.model.safety_stops.rel.related_model
        people = stop.objects.select_related("acknowledged_by", "cleared_by")
        return self.prefetch_related(Prefetch("safety_stops", people))

    def marking_stopped(self) -> "JobQuerySet":
        """Each row knows as `is_stopped` whether a safety stop is open on it."""
        stop: Any = self.model.safety_stops.rel.related_model
        return self.annotate(is_stopped=Exists(stop.objects.open().filter(job=OuterRef("pk"))))


class VisitQuerySet(models.QuerySet["Visit"]):
    """Visits as the scheduler speaks of them."""

    def on(self, day: date) -> "VisitQuerySet":
        """Planned for `day`."""
        return self.filter(planned_on=day)

    def made_by(self, user: "User") -> "VisitQuerySet":
        """To be made by the person as inspector, or by the person's crew where there is none."""
        crew = Q(inspector=None, job__crew__members__user=user)
        return self.filter(Q(inspector=user) | crew).distinct()

    def between(self, first: date, last: date) -> "VisitQuerySet":
        """Planned from `first` to `last`."""
        return self.filter(planned_on__range=(first, last))

    def unbooked(self) -> "VisitQuerySet":
        """Still to be made, and without a time."""
        booking: Any = self.model.bookings.rel.related_model
        booked = booking.objects.standing().filter(visit=OuterRef("pk"))
        return self.filter(outcome="").exclude(Exists(booked))

    def overdue(self, day: date) -> "VisitQuerySet":
        """Planned before `day` and still without an outcome."""
        return self.filter(planned_on__lt=day, outcome="")


class SafetyStopQuerySet(models.QuerySet["SafetyStop"]):
    """Safety stops as those who answer for them speak of them."""

    def open(self) -> "SafetyStopQuerySet":
        """Not cleared yet."""
        return self.filter(cleared_at=None)

    def cleared(self) -> "SafetyStopQuerySet":
        """An inspector or manager has let the work go on."""
        return self.exclude(cleared_at=None)

    def unacknowledged(self) -> "SafetyStopQuerySet":
        """Open, and nobody has said by name that it was read."""
        return self.open().filter(acknowledged_at=None)

    def visible_to(self, user: "User") -> "SafetyStopQuerySet":
        """Desk staff see every stop, a crew member only those of the own crew's jobs."""
        if user.works_at_desk:
            return self
        return self.filter(job__crew__members__user=user)

    def with_people(self) -> "SafetyStopQuerySet":
        """Fetched with job, house, crew and whoever acknowledged or cleared in one query."""
        return self.select_related("job__house", "job__crew", "acknowledged_by", "cleared_by")

    def raise_once(
        self,
        *,
        job: "Job",
        hazard: str,
        words: str,
        steps: list[str],
        cautions: str,
        source: UUID | None = None,
    ) -> "SafetyStop":
        """The stop of this hazard from this source, raised unless it was raised before.

        A test run raises a hazard once, even when it is evaluated again after the stop was
        cleared. Without a source only an open stop counts as raised before: a hazard found anew
        stops the job anew.
        """
        if not (words.strip() and cautions.strip() and steps and all(map(str.strip, steps))):
            raise ValueError(f"A safety stop on {job} needs words, steps and cautions.")
        known: dict[str, Any] = {"job": job, "hazard": hazard, "source": source}
        if source is None:
            known["cleared_at"] = None
        told = {"words": words, "steps": steps, "cautions": cautions}
        return self.get_or_create(**known, defaults=told)[0]
