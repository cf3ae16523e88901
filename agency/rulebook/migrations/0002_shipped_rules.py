"""A new database starts with the rules that are shipped."""

from django.db import migrations

from agency.rulebook.loading import load_shipped


def load(apps, schema_editor):
    load_shipped(apps.get_model("rulebook", "Rule"))


class Migration(migrations.Migration):
    dependencies = [("rulebook", "0001_initial")]

    operations = [migrations.RunPython(load, migrations.RunPython.noop)]
