"""The database's clock: hosts' own clocks differ, and all of them write into the same rows."""

from datetime import UTC, datetime

from django.db import connection
from django.utils.dateparse import parse_datetime

_SQLITE = "SELECT STRFTIME('%Y-%m-%d %H:%M:%f', 'NOW')"
_OTHERS = "SELECT CLOCK_TIMESTAMP()"


def database_now() -> datetime:
    """Return the time by the database's clock, aware, to a millisecond at least."""
    with connection.cursor() as cursor:
        cursor.execute(_SQLITE if connection.vendor == "sqlite" else _OTHERS)
        (found,) = cursor.fetchone()
    # SQLite gives text in UTC, PostgreSQL a time with its zone
    now = found if isinstance(found, datetime) else parse_datetime(str(found))
    if now is None:
        raise ValueError(f"the database gave no time but {found!r}")
    return now if now.tzinfo else now.replace(tzinfo=UTC)
