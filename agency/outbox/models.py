"""Work promised to the workers: the row is the promise, the queue message only a nudge."""

import uuid
from datetime import datetime, timedelta

from celery import current_app
from django.db import models, transaction
from django.db.models import Q
from django.utils import timezone

from agency.errors import TransitionRefused

LEASE = timedelta(seconds=90)
"""A worker that says nothing for this long is taken for dead. Own choice."""

PATIENCE = timedelta(seconds=20)
"""A promise not picked up for this long after a nudge is nudged again. Own choice."""

STUCK_AFTER = timedelta(minutes=10)
"""A promise still open after this long is shown to a person. Own choice."""

MOST_ATTEMPTS = 5
"""After this many starts the promise is marked failed and waits for a person. Own choice."""


class ErrandQuerySet(models.QuerySet["Errand"]):
    """Questions about promised work."""

    def open(self) -> "ErrandQuerySet":
        """Not done and not given up."""
        return self.filter(state__in=["queued", "running"])

    def due(self, now: datetime) -> "ErrandQuerySet":
        """Ready to start: what it waits for is done, and nobody holds a living lease."""
        ready = Q(after=None) | Q(after__state="done")
        waiting = Q(state="queued") | Q(state="running", lease_until__lt=now)
        return self.filter(ready & waiting)

    def overlooked(self, now: datetime) -> "ErrandQuerySet":
        """Due, but the last nudge was lost or never sent."""
        return self.due(now).filter(Q(nudged_at=None) | Q(nudged_at__lt=now - PATIENCE))

    def needing_a_person(self, now: datetime) -> "ErrandQuerySet":
        """Given up, or promised long ago and still not done."""
        late = Q(state__in=["queued", "running"], created_at__lt=now - STUCK_AFTER)
        return self.filter(Q(state="failed") | late)


class Errand(models.Model):
    """One piece of work for a worker, written in the transaction that makes it necessary."""

    class State(models.TextChoices):
        QUEUED = "queued", "Waiting"
        RUNNING = "running", "Running"
        DONE = "done", "Done"
        FAILED = "failed", "Failed"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    task = models.CharField(max_length=80)
    subject = models.UUIDField(help_text="The record the task works on.")
    after = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="followers"
    )
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True)
    nudged_at = models.DateTimeField(null=True)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    finished_at = models.DateTimeField(null=True)
    problem = models.TextField(blank=True)

    objects = ErrandQuerySet.as_manager()

    class Meta:
        ordering = ["created_at", "id"]
        indexes = [models.Index(fields=["state", "nudged_at"], name="errand_state_nudged")]

    def __str__(self) -> str:
        return f"{self.work} ({self.get_state_display().lower()})"

    @property
    def work(self) -> str:
        """What the worker was asked to do, in words."""
        name = self.task.rsplit(".", 1)[-1].replace("_", " ")
        return name[:1].upper() + name[1:]

    @classmethod
    def promise(cls, task: str, subject: uuid.UUID, *, after: "Errand | None" = None) -> "Errand":
        """Write the promise; the worker is nudged once the surrounding transaction commits."""
        errand = cls.objects.create(task=task, subject=subject, after=after)
        if after is None:
            transaction.on_commit(errand.nudge, robust=True)
        return errand

    def nudge(self) -> None:
        """Tell a worker. A broker that is down is no harm: the sweeper nudges again."""
        Errand.objects.filter(pk=self.pk).update(nudged_at=timezone.now())
        current_app.send_task(self.task, args=[str(self.pk)], retry=False)

    def claim(self) -> bool:
        """Take the lease; False when another worker has it, it is done, or must still wait."""
        now = timezone.now()
        with transaction.atomic():
            row = Errand.objects.select_for_update().get(pk=self.pk)
            if not row.is_due(now):
                return False
            row.state, row.lease_until = self.State.RUNNING, now + LEASE
            row.attempts += 1
            row.save(update_fields=["state", "lease_until", "attempts"])
        self.refresh_from_db()
        return True

    def prolong(self) -> None:
        """Still at it: nobody else may start for another lease."""
        Errand.objects.filter(pk=self.pk).update(lease_until=timezone.now() + LEASE)

    def is_due(self, now: datetime) -> bool:
        """The rule of `ErrandQuerySet.due` for one locked row."""
        ready = self.after is None or self.after.state == self.State.DONE
        abandoned = (
            self.state == self.State.RUNNING
            and self.lease_until is not None
            and self.lease_until < now
        )
        return ready and (self.state == self.State.QUEUED or abandoned)

    def finish(self) -> None:
        """Done; those that waited for it are nudged."""
        self.state, self.finished_at, self.problem = self.State.DONE, timezone.now(), ""
        self.save(update_fields=["state", "finished_at", "problem"])
        for follower in self.followers.filter(state=self.State.QUEUED):
            transaction.on_commit(follower.nudge, robust=True)

    def put_back(self, problem: str) -> None:
        """Failed this time: wait for the sweeper, or give up after the last attempt."""
        spent = self.attempts >= MOST_ATTEMPTS
        self.state = self.State.FAILED if spent else self.State.QUEUED
        self.problem, self.lease_until = problem, None
        self.save(update_fields=["state", "problem", "lease_until"])

    def try_again(self) -> None:
        """A person has cured what stood in the way: start anew with all attempts."""
        if self.state != self.State.FAILED:
            raise TransitionRefused(self, "tried again", "only failed work is")
        self.state, self.attempts, self.problem = self.State.QUEUED, 0, ""
        self.save(update_fields=["state", "attempts", "problem"])
        transaction.on_commit(self.nudge, robust=True)

    def give_up(self, problem: str) -> None:
        """The work itself is impossible: trying again would say the same."""
        self.state, self.problem, self.lease_until = self.State.FAILED, problem, None
        self.save(update_fields=["state", "problem", "lease_until"])
