"""An older database gets every rule that came since its first ones."""

from django.db import migrations

from agency.rulebook.loading import load_shipped


def load(apps, schema_editor):
    load_shipped(apps.get_model("rulebook", "Rule"))


class Migration(migrations.Migration):
    dependencies = [("rulebook", "0002_shipped_rules")]

    operations = [migrations.RunPython(load, migrations.RunPython.noop)]
