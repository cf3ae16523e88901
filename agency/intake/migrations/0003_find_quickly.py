"""Parts of words are found by an index where the database knows how: PostgreSQL with pg_trgm."""

from django.db import migrations

COLUMNS = (
    ("jobs_job", "number"),
    ("intake_application", "number"),
    ("people_client", "name"),
    ("people_client", "phone"),
    ("houses_house", "address"),
    ("houses_house", "city"),
    ("houses_house", "parcel"),
)
AVAILABLE = "SELECT 1 FROM pg_available_extensions WHERE name = 'pg_trgm'"


def build(apps, schema_editor):
    """Without the extension everything is found too, only slower."""
    if schema_editor.connection.vendor != "postgresql":
        return
    with schema_editor.connection.cursor() as cursor:
        cursor.execute(AVAILABLE)
        if cursor.fetchone() is None:
            return
    schema_editor.execute("CREATE EXTENSION IF NOT EXISTS pg_trgm")
    for table, column in COLUMNS:
        # The expression is the one a search without regard to case asks with.
        schema_editor.execute(
            f"CREATE INDEX {table}_{column}_parts ON {table} "
            f"USING gin (UPPER({column}::text) gin_trgm_ops)"
        )


def drop(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        for table, column in COLUMNS:
            schema_editor.execute(f"DROP INDEX IF EXISTS {table}_{column}_parts")


class Migration(migrations.Migration):
    dependencies = [
        ("intake", "0002_keep_decisions"),
        ("jobs", "0002_safety_stop"),
        ("people", "0003_find_quickly"),
        ("houses", "0003_find_quickly"),
    ]

    operations = [migrations.RunPython(build, drop)]
