"""An older database gets the rules of the gates and of the schedule."""

from django.db import migrations

from agency.rulebook.loading import load_shipped


def load(apps, schema_editor):
    load_shipped(apps.get_model("rulebook", "Rule"))


class Migration(migrations.Migration):
    dependencies = [("rulebook", "0010_bill_rules")]

    operations = [migrations.RunPython(load, migrations.RunPython.noop)]
