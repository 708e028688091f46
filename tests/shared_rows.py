"""Rows and files that all tests of one file begin with, made once.

Each test's own transaction is a savepoint inside of the one they are made in, so that what a test
changes is gone before the next one; it takes copies of the objects and of the files. Not for tests
with a live server, which sees only what is committed.
"""

import pickle
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

import pytest
from django.db import transaction
from django.test.utils import override_settings

T = TypeVar("T")


@dataclass(frozen=True)
class Kept(Generic[T]):
    """What was made, and the folder with its files."""

    packed: bytes
    folder: Path

    def taken(self, media: Path) -> T:
        """Return what was made for one test, whose files lie in `media`."""
        shutil.copytree(self.folder, media, dirs_exist_ok=True)
        made: T = pickle.loads(self.packed)  # noqa: S301 - packed below
        return made


def kept_rows(make: Callable[[], T]) -> Any:
    """Return a fixture of a file that makes rows once; tests need `db` beside it."""

    @pytest.fixture(scope="module")
    def kept(django_db_setup, django_db_blocker, tmp_path_factory) -> Iterator[Kept[T]]:
        folder = tmp_path_factory.mktemp("kept")
        outer = transaction.atomic()
        with django_db_blocker.unblock():
            outer.__enter__()
            with override_settings(MEDIA_ROOT=folder):
                made = make()
        yield Kept(pickle.dumps(made), folder)
        with django_db_blocker.unblock():
            transaction.set_rollback(True)
            outer.__exit__(None, None, None)

    return kept
