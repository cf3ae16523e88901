"""The database itself refuses two claims to one thing at one time."""

from django.db import migrations

CLASH = """
CREATE TRIGGER claim_not_twice_{when} BEFORE {verb} ON jobs_claim
WHEN EXISTS (
  SELECT 1 FROM jobs_claim AS other
  WHERE other.thing = NEW.thing AND other.id <> NEW.id
    AND other.starts_at < NEW.ends_at AND other.ends_at > NEW.starts_at
)
BEGIN SELECT RAISE(ABORT, 'claim_not_twice'); END;
"""
SQLITE = [
    CLASH.format(when="added", verb="INSERT"),
    CLASH.format(when="moved", verb="UPDATE"),
]

POSTGRESQL = [
    "CREATE EXTENSION IF NOT EXISTS btree_gist;",
    # Half-open: a visit may begin when the one before it ends.
    """
    ALTER TABLE jobs_claim ADD CONSTRAINT claim_not_twice
    EXCLUDE USING gist (thing WITH =, tstzrange(starts_at, ends_at, '[)') WITH &&);
    """,
]

UNDO = {
    "sqlite": ["DROP TRIGGER claim_not_twice_added;", "DROP TRIGGER claim_not_twice_moved;"],
    "postgresql": ["ALTER TABLE jobs_claim DROP CONSTRAINT claim_not_twice;"],
}


def refuse(apps, schema_editor):
    for one in {"sqlite": SQLITE, "postgresql": POSTGRESQL}[schema_editor.connection.vendor]:
        schema_editor.execute(one)


def allow(apps, schema_editor):
    for one in UNDO[schema_editor.connection.vendor]:
        schema_editor.execute(one)


class Migration(migrations.Migration):
    dependencies = [("jobs", "0003_states_and_schedule")]

    operations = [migrations.RunPython(refuse, allow)]
