"""The database refuses to change a locked quarter or a correction."""

from django.db import migrations

TABLES = {
    "reports_lockedquarter": "a locked quarter cannot be changed",
    "reports_correction": "a noted correction cannot be changed",
}


def protect(apps, schema_editor):
    for table, refusal in TABLES.items():
        if schema_editor.connection.vendor == "sqlite":
            schema_editor.execute(
                f"CREATE TRIGGER {table}_stays BEFORE UPDATE ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{refusal}'); END;"
            )
            continue
        schema_editor.execute(
            f"CREATE FUNCTION {table}_stays() RETURNS trigger LANGUAGE plpgsql AS $$ "
            f"BEGIN RAISE EXCEPTION '{refusal}' "
            "USING ERRCODE = 'integrity_constraint_violation'; END $$;"
            f"CREATE TRIGGER {table}_stays BEFORE UPDATE OR DELETE ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION {table}_stays();"
        )


def release(apps, schema_editor):
    for table in TABLES:
        if schema_editor.connection.vendor == "sqlite":
            schema_editor.execute(f"DROP TRIGGER {table}_stays;")
            continue
        schema_editor.execute(
            f"DROP TRIGGER {table}_stays ON {table}; DROP FUNCTION {table}_stays();"
        )


class Migration(migrations.Migration):

    dependencies = [("reports", "0001_locked_quarter")]
    operations = [migrations.RunPython(protect, release)]
