"""Every row of the database, as it is stored: to tell what a request changed."""

from collections.abc import Collection, Iterator
from typing import Any

from django.db import connection
from django.db.models import Model

from shopdiag.backups import _models

Rows = dict[tuple[str, str], dict[str, Any]]


def stored_rows(*, but: Collection[str]) -> Rows:
    """Return each row's columns by its table and key, apart from the columns called `but`.

    The tables are those of a backup, and those between two of them. They are asked in plain SQL,
    because hundreds of tests ask for all of them several times.
    """
    found: Rows = {}
    with connection.cursor() as cursor:
        for table, key in _tables():
            quoted = connection.ops.quote_name(table)
            cursor.execute(f"SELECT * FROM {quoted}")  # noqa: S608 - a table's name
            columns = [one[0] for one in cursor.description]
            for values in cursor.fetchall():
                row = dict(zip(columns, values, strict=True))
                number = str(row[key])
                found[table, number] = {k: v for k, v in row.items() if k not in but}
    return found


def _tables() -> Iterator[tuple[str, str]]:
    for model in _models():
        yield _table(model)
        for between in model._meta.local_many_to_many:
            through = between.remote_field.through
            assert through is not None
            yield _table(through)


def _table(model: type[Model]) -> tuple[str, str]:
    key = model._meta.pk
    assert key is not None
    return model._meta.db_table, str(key.column)
