"""Check codes that can be looked up, the chain of issued papers, and what a household is told."""

import django.db.models.deletion
import simple_history.models
from django.conf import settings
from django.db import migrations, models

from agency.certificates import chain
from agency.rulebook.loading import load_shipped


def link_issued(apps, schema_editor):
    """Chain the papers issued so far, in the order of issue."""
    last, position = chain.FIRST, 0
    papers = apps.get_model("certificates", "Certificate").objects.select_related("replaces")
    for position, paper in enumerate(papers.order_by("issued_at", "number"), start=1):
        paper.position, paper.check_code = position, paper.figures["check_code"]
        paper.content_hash = chain.content_hash(
            figures=paper.figures,
            file_hash=paper.file_hash,
            issued_at=paper.issued_at.isoformat(),
            reason=paper.reason,
            replaces=paper.replaces.number if paper.replaces else "",
        )
        paper.chain_hash = last = chain.link(last, paper.content_hash)
        paper.save(update_fields=["position", "check_code", "content_hash", "chain_hash"])


def load_rules(apps, schema_editor):
    load_shipped(apps.get_model("rulebook", "Rule"))


HANDOVER = [
    ("work", models.TextField(blank=True, help_text="One line a piece of work, the room first.")),
    ("ventilation", models.TextField(blank=True, help_text="What was fitted, and how to use it.")),
    ("alarms", models.TextField(blank=True, help_text="One line an alarm, with the year to replace.")),
    (
        "lead_safe",
        models.CharField(
            blank=True,
            choices=[("used", "Used"), ("not_needed", "Not needed")],
            help_text="Blank: not recorded.",
            max_length=12,
        ),
    ),
    (
        "inspector_certificate",
        models.CharField(
            blank=True, help_text="Of whoever passed the final inspection.", max_length=40
        ),
    ),
]


class Migration(migrations.Migration):
    dependencies = [
        ("certificates", "0001_initial"),
        ("jobs", "0002_safety_stop"),
        ("rulebook", "0003_more_rules"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RunPython(load_rules, migrations.RunPython.noop),
        migrations.AddField(
            "certificate", "check_code", models.CharField(max_length=9, unique=True, null=True)
        ),
        migrations.AddField(
            "certificate",
            "position",
            models.PositiveIntegerField(
                unique=True, null=True, help_text="In the chain, from 1."
            ),
        ),
        migrations.AddField(
            "certificate", "content_hash", models.CharField(max_length=64, default="")
        ),
        migrations.AddField(
            "certificate", "chain_hash", models.CharField(max_length=64, default="")
        ),
        migrations.RunPython(link_issued, migrations.RunPython.noop),
        migrations.AlterField(
            "certificate", "check_code", models.CharField(max_length=9, unique=True)
        ),
        migrations.AlterField(
            "certificate",
            "position",
            models.PositiveIntegerField(unique=True, help_text="In the chain, from 1."),
        ),
        migrations.AlterField("certificate", "content_hash", models.CharField(max_length=64)),
        migrations.AlterField("certificate", "chain_hash", models.CharField(max_length=64)),
        migrations.CreateModel(
            name="Handover",
            fields=[
                (
                    "job",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        primary_key=True,
                        related_name="handover",
                        serialize=False,
                        to="jobs.job",
                    ),
                ),
                *HANDOVER,
                (
                    "written_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("written_at", models.DateTimeField(auto_now=True)),
            ],
            options={"ordering": ["job"]},
        ),
        migrations.CreateModel(
            name="HistoricalHandover",
            fields=[
                *[(name, field.clone()) for name, field in HANDOVER],
                ("written_at", models.DateTimeField(blank=True, editable=False)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(
                        choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")],
                        max_length=1,
                    ),
                ),
                *[
                    (
                        name,
                        models.ForeignKey(
                            blank=True,
                            db_constraint=False,
                            null=True,
                            on_delete=django.db.models.deletion.DO_NOTHING,
                            related_name="+",
                            to=to,
                        ),
                    )
                    for name, to in (("job", "jobs.job"), ("written_by", settings.AUTH_USER_MODEL))
                ],
                (
                    "history_user",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "historical handover",
                "verbose_name_plural": "historical handovers",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
    ]
