"""Reports of visits; the database refuses to change their documents."""

import django.db.models.deletion
import django.utils.timezone
import uuid
from django.conf import settings
from django.db import migrations, models


SQLITE = """
CREATE TRIGGER visit_report_stays BEFORE UPDATE ON diagnostics_visitreport
BEGIN SELECT RAISE(ABORT, 'a stored visit report cannot be changed'); END;
"""

POSTGRESQL = """
CREATE FUNCTION visit_report_stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'a stored visit report cannot be changed'
    USING ERRCODE = 'integrity_constraint_violation';
END $$;
CREATE TRIGGER visit_report_stays BEFORE UPDATE ON diagnostics_visitreport
FOR EACH ROW EXECUTE FUNCTION visit_report_stays();
"""

UNDO = {
    "sqlite": "DROP TRIGGER visit_report_stays;",
    "postgresql": (
        "DROP TRIGGER visit_report_stays ON diagnostics_visitreport;"
        "DROP FUNCTION visit_report_stays();"
    ),
}


def protect(apps, schema_editor):
    schema_editor.execute({"sqlite": SQLITE, "postgresql": POSTGRESQL}[schema_editor.connection.vendor])


def release(apps, schema_editor):
    schema_editor.execute(UNDO[schema_editor.connection.vendor])


class Migration(migrations.Migration):

    dependencies = [
        ('accounts', '0002_device'),
        ('diagnostics', '0004_bench'),
        ('jobs', '0002_safety_stop'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='VisitReport',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('client_key', models.UUIDField()),
                ('arrived_at', models.DateTimeField(help_text="By the phone's clock.")),
                ('left_at', models.DateTimeField(help_text="By the phone's clock; empty: still there.", null=True)),
                ('not_safe', models.CharField(blank=True, help_text='Code of the reason.', max_length=40)),
                ('received_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('document', models.TextField(editable=False)),
                ('document_hash', models.CharField(editable=False, max_length=64)),
                ('answer', models.JSONField(editable=False, help_text='First answer given to the phone.')),
                ('device', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='visit_reports', to='accounts.device')),
                ('sent_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reports', to='jobs.visit')),
            ],
            options={
                'ordering': ['received_at', 'id'],
                'constraints': [models.UniqueConstraint(fields=('device', 'client_key'), name='visit_report_once_a_device_and_key')],
            },
        ),
        migrations.RunPython(protect, release),
    ]
