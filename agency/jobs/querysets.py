"""Questions the office asks about jobs, in its own words."""

from datetime import date
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Q

if TYPE_CHECKING:
    from agency.accounts.models import User

    from .models import Job, Visit  # noqa: F401  named in the base classes


class JobQuerySet(models.QuerySet["Job"]):
    """Jobs as the office speaks of them."""

    def open(self) -> "JobQuerySet":
        """Neither approved nor withdrawn."""
        return self.exclude(status__in=[self.model.Status.APPROVED, self.model.Status.WITHDRAWN])

    def visible_to(self, user: "User") -> "JobQuerySet":
        """Desk staff see every job, a crew member only the own crew's."""
        if user.works_at_desk:
            return self
        return self.filter(crew__members__user=user)

    def counted_between(self, first: date, last: date) -> "JobQuerySet":
        """Approved units whose first passed final inspection lies from `first` to `last`."""
        return self.filter(
            status=self.model.Status.APPROVED, inspection_passed_on__range=(first, last)
        )

    def ready_to_approve(self) -> "JobQuerySet":
        """Final inspection passed, waiting for a manager."""
        return self.filter(status=self.model.Status.INSPECTION_PASSED)

    def awaiting_inspection(self) -> "JobQuerySet":
        """Tested out, waiting for an inspector."""
        return self.filter(status=self.model.Status.TESTED_OUT)

    def matching(self, words: str) -> "JobQuerySet":
        """Number, client or address contains each of the words."""
        found = self
        for word in words.split():
            found = found.filter(
                Q(number__icontains=word)
                | Q(client__name__icontains=word)
                | Q(house__address__icontains=word)
                | Q(house__city__icontains=word)
            )
        return found

    def with_people(self) -> "JobQuerySet":
        """Fetched with house, client, crew and programme in one query."""
        return self.select_related("house__county", "client", "crew", "program")


class VisitQuerySet(models.QuerySet["Visit"]):
    """Visits as the scheduler speaks of them."""

    def on(self, day: date) -> "VisitQuerySet":
        """Planned for `day`."""
        return self.filter(planned_on=day)

    def overdue(self, day: date) -> "VisitQuerySet":
        """Planned before `day` and still without an outcome."""
        return self.filter(planned_on__lt=day, outcome="")
