"""Which instruments each run used, for the runs already stored as well."""

import json
import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

ROWS_AT_ONCE = 500


def note_stored_runs(apps, schema_editor):
    """Gauge and fans as the stored documents name them."""
    run_model = apps.get_model("diagnostics", "TestRun")
    use_model = apps.get_model("diagnostics", "InstrumentUse")
    waiting = []
    stored = run_model.objects.order_by("pk").values_list("pk", "document")
    for pk, document in stored.iterator(chunk_size=ROWS_AT_ONCE):
        waiting += [use_model(test_run_id=pk, kind=k, serial=s) for k, s in serials_in(document)]
        if len(waiting) >= ROWS_AT_ONCE:
            use_model.objects.bulk_create(waiting)
            waiting = []
    use_model.objects.bulk_create(waiting)


def serials_in(document):
    """Kind and serial number of each instrument, once; a document without one has none."""
    said = json.loads(document)
    gauge = said.get("gauge")
    named = [("gauge", gauge["serial"])] if gauge else []
    named += [("fan", fan["serial"]) for fan in said.get("fans") or []]
    return dict.fromkeys(named)


class Migration(migrations.Migration):

    dependencies = [
        ('diagnostics', '0002_keep_documents'),
        ('instruments', '0002_as_found_good'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='InstrumentException',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('cause', models.CharField(choices=[('never_calibrated', 'No calibration'), ('out_of_tolerance', 'Out of tolerance as found'), ('overdue', 'Calibration overdue')], max_length=20)),
                ('from_day', models.DateField(blank=True, null=True)),
                ('to_day', models.DateField(blank=True, null=True)),
                ('reason', models.TextField()),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('instrument', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='exceptions', to='instruments.instrument')),
                ('test_run', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='instrument_exceptions', to='diagnostics.testrun')),
                ('withdrawn_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-at', 'id'],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('from_day__isnull', True), ('test_run__isnull', False), ('to_day__isnull', True)), models.Q(('from_day__isnull', False), ('test_run__isnull', True), ('to_day__gte', models.F('from_day')), ('to_day__isnull', False)), _connector='OR'), name='instrument_exception_run_or_days'), models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='instrument_exception_with_reason'), models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at__isnull', True), ('withdrawn_by__isnull', True)), models.Q(('withdrawn_at__isnull', False), ('withdrawn_by__isnull', False)), _connector='OR'), name='instrument_exception_withdrawn_by_name'), models.UniqueConstraint(condition=models.Q(('test_run__isnull', False), ('withdrawn_at__isnull', True)), fields=('instrument', 'test_run', 'cause'), name='instrument_exception_once_a_run')],
            },
        ),
        migrations.CreateModel(
            name='InstrumentUse',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('kind', models.CharField(blank=True, choices=[('gauge', 'Pressure gauge'), ('fan', 'Test fan'), ('thermometer', 'Thermometer')], max_length=12)),
                ('serial', models.CharField(max_length=40)),
                ('test_run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='instrument_uses', to='diagnostics.testrun')),
            ],
            options={
                'ordering': ['kind', 'serial'],
                'indexes': [models.Index(fields=['serial'], name='instrument_use_serial')],
                'constraints': [models.UniqueConstraint(fields=('test_run', 'kind', 'serial'), name='instrument_use_once_a_run')],
            },
        ),
        migrations.RunPython(note_stored_runs, migrations.RunPython.noop),
    ]
