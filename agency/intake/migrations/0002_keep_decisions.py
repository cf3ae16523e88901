"""The database itself refuses to change a decision; erasure may blank it, once."""

from django.db import migrations

KEPT = {
    "intake_determination": (
        "application_id", "made_at", "made_on", "made_by_id", "rules_version", "outcome",
        "method", "household_size", "basis", "table_version", "expires_on",
    ),
    "intake_priorityscore": (
        "application_id", "made_at", "made_on", "made_by_id", "rules_version", "points",
        "is_emergency", "waiting_since",
    ),
}


def sqlite(table, kept):
    changed = " OR ".join(f"OLD.{name} IS NOT NEW.{name}" for name in kept)
    return f"""
CREATE TRIGGER {table}_stays BEFORE UPDATE ON {table}
WHEN OLD.erased_at IS NOT NULL OR NEW.erased_at IS NULL OR {changed}
BEGIN SELECT RAISE(ABORT, 'a decision cannot be changed'); END;
"""


def postgresql(table, kept):
    old, new = (", ".join(f"{row}.{name}" for name in kept) for row in ("OLD", "NEW"))
    return f"""
CREATE FUNCTION {table}_stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF OLD.erased_at IS NOT NULL OR NEW.erased_at IS NULL
     OR ROW({old}) IS DISTINCT FROM ROW({new}) THEN
    RAISE EXCEPTION 'a decision cannot be changed'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER {table}_stays BEFORE UPDATE ON {table}
FOR EACH ROW EXECUTE FUNCTION {table}_stays();
"""


def protect(apps, schema_editor):
    write = {"sqlite": sqlite, "postgresql": postgresql}[schema_editor.connection.vendor]
    for table, kept in KEPT.items():
        schema_editor.execute(write(table, kept))


def release(apps, schema_editor):
    for table in KEPT:
        if schema_editor.connection.vendor == "sqlite":
            schema_editor.execute(f"DROP TRIGGER {table}_stays;")
        else:
            schema_editor.execute(f"DROP TRIGGER {table}_stays ON {table};")
            schema_editor.execute(f"DROP FUNCTION {table}_stays();")


class Migration(migrations.Migration):
    dependencies = [("intake", "0001_initial")]

    operations = [migrations.RunPython(protect, release)]
