"""Every kind of test: kinds by their form definitions, the answer of a test, turned channels."""

import uuid
from importlib import import_module

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


KEEPING = import_module("agency.diagnostics.migrations.0002_keep_documents").SQLITE


def keep_documents(apps, schema_editor):
    """SQLite rebuilds a table to alter it, and forgets its triggers."""
    if schema_editor.connection.vendor == "sqlite":
        schema_editor.execute("DROP TRIGGER IF EXISTS test_run_document_stays;")
        schema_editor.execute(KEEPING)


class Migration(migrations.Migration):
    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("diagnostics", "0003_instrument_use"),
    ]

    operations = [
        migrations.RunPython(migrations.RunPython.noop, keep_documents),
        migrations.AddField(
            model_name="result",
            name="answer",
            field=models.CharField(
                blank=True,
                choices=[
                    ("found", "Found"),
                    ("met", "Within the limit"),
                    ("missed", "Beyond the limit"),
                    ("action", "Action needed"),
                    ("open", "Not tested in full"),
                ],
                default="",
                max_length=8,
            ),
            preserve_default=False,
        ),
        *(
            migrations.AlterField(model_name=model, name=name, field=field)
            for model in ("testrun", "historicaltestrun")
            for name, field in (
                (
                    "kind",
                    models.CharField(help_text="One of the form definitions.", max_length=24),
                ),
                ("method", models.CharField(max_length=24)),
            )
        ),
        migrations.CreateModel(
            name="SideSwap",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, primary_key=True, serialize=False
                    ),
                ),
                (
                    "channel",
                    models.CharField(
                        choices=[("A", "Channel A"), ("B", "Channel B")], max_length=1
                    ),
                ),
                (
                    "at",
                    models.DateTimeField(default=django.utils.timezone.now, editable=False),
                ),
                ("reason", models.TextField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "test_run",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="side_swaps",
                        to="diagnostics.testrun",
                    ),
                ),
            ],
            options={"ordering": ["at", "id"]},
        ),
        migrations.RunPython(keep_documents, migrations.RunPython.noop),
    ]
