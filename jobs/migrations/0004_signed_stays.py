"""Signed judgements and findings are refused a change by the database itself."""

from django.db import migrations

TABLES = ("jobs_judgement", "jobs_cylinderfinding")
WORDS = "lines of {table} are added and never changed"


def _sqlite(table: str) -> tuple[str, str]:
    return (
        f"CREATE TRIGGER {table}_append_only BEFORE UPDATE ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{WORDS.format(table=table)}'); END",
        f"DROP TRIGGER IF EXISTS {table}_append_only",
    )


def _postgresql(table: str) -> tuple[str, str]:
    return (
        f"CREATE FUNCTION {table}_append_only() RETURNS trigger LANGUAGE plpgsql AS $$ "
        f"BEGIN RAISE EXCEPTION '{WORDS.format(table=table)}' "
        f"USING ERRCODE = 'restrict_violation'; END $$; "
        f"CREATE TRIGGER {table}_append_only BEFORE UPDATE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION {table}_append_only()",
        f"DROP TRIGGER IF EXISTS {table}_append_only ON {table}; "
        f"DROP FUNCTION IF EXISTS {table}_append_only()",
    )


_STATEMENTS = {"sqlite": _sqlite, "postgresql": _postgresql}


def put_on(apps, schema_editor):
    for table in TABLES:
        schema_editor.execute(_STATEMENTS[schema_editor.connection.vendor](table)[0])


def take_off(apps, schema_editor):
    for table in TABLES:
        schema_editor.execute(_STATEMENTS[schema_editor.connection.vendor](table)[1])


class Migration(migrations.Migration):
    dependencies = [("jobs", "0003_work_details")]

    operations = [migrations.RunPython(put_on, take_off)]
