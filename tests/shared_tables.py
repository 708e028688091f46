"""The tables of the tests' database, made once for all processes of a parallel run.

Whoever comes first migrates; the others copy its empty database instead of migrating one of their
own. On a database server, and in one process, there is nothing to share.
"""

import fcntl
import os
import shutil
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from django.db import connection
from pytest_django.plugin import DjangoDbBlocker


def _shared() -> Path | None:
    """Return where the empty database lies for all processes, if they can share one."""
    if connection.vendor != "sqlite" or "PYTEST_XDIST_WORKER" not in os.environ:
        return None
    return Path(os.environ["SHOPDIAG_TEST_DATA"]) / "tables.sqlite3"


@pytest.fixture(scope="session")
def tables_awaited() -> Iterator[ExitStack]:
    """Keep other processes waiting until it is closed, if the tables are not there yet."""
    with ExitStack() as waiting:
        shared = _shared()
        if shared:
            lock = waiting.enter_context(shared.with_suffix(".lock").open("w"))
            fcntl.flock(lock, fcntl.LOCK_EX)
            if shared.exists():
                waiting.close()
        yield waiting


@pytest.fixture(scope="session")
def django_db_keepdb(
    django_db_keepdb: bool, django_db_modify_db_settings: None, tables_awaited: ExitStack
) -> bool:
    """Take over the tables that another process made, if there are any."""
    shared = _shared()
    if not shared or not shared.exists():
        return django_db_keepdb
    test = connection.settings_dict["TEST"]
    shutil.copy(shared, test["NAME"])
    test["MIGRATE"] = False
    return True


@pytest.fixture(scope="session")
def django_db_setup(
    django_db_setup: None,
    django_db_keepdb: bool,
    tables_awaited: ExitStack,
    django_db_blocker: DjangoDbBlocker,
) -> None:
    """Leave a copy of new tables to the other processes."""
    shared = _shared()
    if shared and not django_db_keepdb:
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute("VACUUM INTO %s", [str(shared)])
    tables_awaited.close()
