"""Triggers by which the database itself refuses to change lines that are only added.

On SQLite a migration that rebuilds a table drops its triggers: call `guard` for it again.
"""

from django.db.backends.base.schema import BaseDatabaseSchemaEditor

_WORDS = "lines of {table} are added and never changed"


def guard(schema_editor: BaseDatabaseSchemaEditor, table: str) -> None:
    """Put the trigger on a table, also where it is on already."""
    release(schema_editor, table)
    words = _WORDS.format(table=table)
    if schema_editor.connection.vendor == "sqlite":
        schema_editor.execute(
            f"CREATE TRIGGER {table}_append_only BEFORE UPDATE ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{words}'); END"
        )
        return
    schema_editor.execute(
        f"CREATE FUNCTION {table}_append_only() RETURNS trigger LANGUAGE plpgsql AS $$ "
        f"BEGIN RAISE EXCEPTION '{words}' USING ERRCODE = 'restrict_violation'; END $$; "
        f"CREATE TRIGGER {table}_append_only BEFORE UPDATE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION {table}_append_only()"
    )


def release(schema_editor: BaseDatabaseSchemaEditor, table: str) -> None:
    """Take the trigger off a table, if it is on."""
    if schema_editor.connection.vendor == "sqlite":
        schema_editor.execute(f"DROP TRIGGER IF EXISTS {table}_append_only")
        return
    schema_editor.execute(
        f"DROP TRIGGER IF EXISTS {table}_append_only ON {table}; "
        f"DROP FUNCTION IF EXISTS {table}_append_only()"
    )
