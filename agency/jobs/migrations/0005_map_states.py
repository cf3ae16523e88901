"""Jobs of before the long way of states keep their state, but for those that wait for an audit."""

from django.db import migrations
from django.db.models import Exists, OuterRef

BACK = {
    "application": "scheduled",
    "info_needed": "scheduled",
    "waitlisted": "scheduled",
    "scheduled_audit": "scheduled",
    "deferred": "scheduled",
    "work_ordered": "scheduled",
    "audit_in_progress": "in_progress",
    "audit_review": "in_progress",
    "inspection_scheduled": "tested_out",
    "reported": "approved",
    "denied": "withdrawn",
    "cancelled": "withdrawn",
}


def forward(apps, schema_editor):
    """A scheduled job whose test-in is still to be made waits for its audit, not for its work."""
    job, visit = apps.get_model("jobs", "Job"), apps.get_model("jobs", "Visit")
    test_in = visit.objects.filter(job=OuterRef("pk"), kind="test_in")
    waiting = job.objects.filter(status="scheduled", work_started_on=None)
    waiting = waiting.filter(Exists(test_in.filter(outcome="")))
    waiting.exclude(Exists(test_in.filter(outcome="done"))).update(status="scheduled_audit")


def backward(apps, schema_editor):
    """The nearest of the old states; the events keep the words they were written with."""
    job = apps.get_model("jobs", "Job")
    for new, old in BACK.items():
        job.objects.filter(status=new).update(status=old)


class Migration(migrations.Migration):
    dependencies = [("jobs", "0004_no_double_booking")]

    operations = [migrations.RunPython(forward, backward)]
