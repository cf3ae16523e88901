"""The benefits every state must count; what a state adds is entered in its records."""

from datetime import date

from django.db import migrations

SOURCE = "10 CFR 440.22(a)(2), second-hand; from memory"
NAMES = (
    "Cash assistance under Title IV of the Social Security Act (TANF)",
    "Cash assistance under Title XVI of the Social Security Act (SSI)",
)


def load(apps, schema_editor):
    model = apps.get_model("programs", "BenefitProgram")
    for name in NAMES:
        model.objects.get_or_create(
            name=name,
            state="",
            effective_from=date(2000, 1, 1),
            defaults={"window_months": 12, "proof": "Award letter", "source": SOURCE},
        )


class Migration(migrations.Migration):
    dependencies = [("programs", "0002_intake")]

    operations = [migrations.RunPython(load, migrations.RunPython.noop)]
