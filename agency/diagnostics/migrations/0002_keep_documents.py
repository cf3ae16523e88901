"""The database itself refuses to change a stored document."""

from django.db import migrations

SQLITE = """
CREATE TRIGGER test_run_document_stays
BEFORE UPDATE OF document, document_hash, client_key, device_id ON diagnostics_testrun
WHEN OLD.document IS NOT NEW.document OR OLD.document_hash IS NOT NEW.document_hash
  OR OLD.client_key IS NOT NEW.client_key OR OLD.device_id IS NOT NEW.device_id
BEGIN SELECT RAISE(ABORT, 'a stored test document cannot be changed'); END;
"""

POSTGRESQL = """
CREATE FUNCTION test_run_document_stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF ROW(OLD.document, OLD.document_hash, OLD.client_key, OLD.device_id)
     IS DISTINCT FROM ROW(NEW.document, NEW.document_hash, NEW.client_key, NEW.device_id) THEN
    RAISE EXCEPTION 'a stored test document cannot be changed'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER test_run_document_stays BEFORE UPDATE ON diagnostics_testrun
FOR EACH ROW EXECUTE FUNCTION test_run_document_stays();
"""

UNDO = {
    "sqlite": "DROP TRIGGER test_run_document_stays;",
    "postgresql": (
        "DROP TRIGGER test_run_document_stays ON diagnostics_testrun;"
        "DROP FUNCTION test_run_document_stays();"
    ),
}


def protect(apps, schema_editor):
    schema_editor.execute({"sqlite": SQLITE, "postgresql": POSTGRESQL}[schema_editor.connection.vendor])


def release(apps, schema_editor):
    schema_editor.execute(UNDO[schema_editor.connection.vendor])


class Migration(migrations.Migration):
    dependencies = [("diagnostics", "0001_initial")]

    operations = [migrations.RunPython(protect, release)]
