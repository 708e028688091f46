"""Rows that tests of many files begin with, laid one over the other and made once.

The cast, a visit of the cast, a work order on that visit: each is a layer with a savepoint of its
own. A test asks for a layer as for any fixture. Layers that it does not ask for are taken back
before it, those it asks for and that are not there are made, and the test's own transaction is a
savepoint above them. It takes copies of the objects and of the files. Tests with a live server, or
in a file that keeps rows of its own (`tests/shared_rows.py`), have theirs made anew.
"""

import inspect
import pickle
import shutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from django.test.utils import override_settings
from django.utils.translation import get_language
from pytest_django.plugin import DjangoDbBlocker

Make = Callable[..., Any]

_LAYERS: dict[str, Make] = {}
"""What makes each layer, by its name; those below come first."""


def layer(make: Make) -> Any:
    """Return the fixture of a layer; what it takes are the layers below."""
    name = make.__name__
    _LAYERS[name] = make

    @wraps(make)
    def fixture(laid: Mapping[str, Any], **below: Any) -> Any:
        return laid[name] if name in laid else make(**below)

    signature = inspect.signature(make)
    laid = inspect.Parameter("laid", inspect.Parameter.KEYWORD_ONLY)
    fixture.__signature__ = signature.replace(  # type: ignore[attr-defined]
        parameters=[*signature.parameters.values(), laid]
    )
    fixture.makes = make  # type: ignore[attr-defined]
    return pytest.fixture(fixture)


def layers_of(item: pytest.Item) -> tuple[str, ...]:
    """Return the layers that a test begins with, from the lowest up."""
    found: list[str] = []
    if _is_alone(item):
        return ()
    fixtures = item._fixtureinfo.name2fixturedefs  # type: ignore[attr-defined]
    for name, make in _LAYERS.items():
        # a file may have a fixture of that name that makes something else
        if name not in fixtures or getattr(fixtures[name][-1].func, "makes", None) is not make:
            continue
        if all(below in found for below in inspect.signature(make).parameters):
            found.append(name)
    return tuple(found)


def _is_alone(item: pytest.Item) -> bool:
    """Return whether a test's rows are committed, or its file keeps rows of its own."""
    names = set(getattr(item, "fixturenames", ()))
    mark = item.get_closest_marker("django_db")
    return (
        "db" not in names
        or bool(names & {"live_server", "transactional_db"})
        or (mark is not None and bool(mark.kwargs.get("transaction")))
        or hasattr(getattr(item, "module", None), "kept")
    )


@dataclass(frozen=True)
class _Laid:
    """One layer, with everything made up to it."""

    name: str
    savepoint: transaction.Atomic
    made: bytes
    folder: Path
    language: str | None
    """In which words were written into it that a person's language decides."""


class Layers:
    """What lies under the tests of this process now."""

    def __init__(self, folder_new: Callable[[], Path], blocker: DjangoDbBlocker) -> None:
        self._folder_new = folder_new
        self._blocker = blocker
        self._laid: list[_Laid] = []

    def take_back(self, wanted: tuple[str, ...] = ()) -> None:
        """Take back from the top what is not wanted."""
        with self._blocker.unblock():
            while tuple(one.name for one in self._laid) != wanted[: len(self._laid)]:
                gone = self._laid.pop()
                transaction.set_rollback(True)
                gone.savepoint.__exit__(None, None, None)
                shutil.rmtree(gone.folder)

    def settle(self, wanted: tuple[str, ...]) -> None:
        """Have exactly the layers that are wanted, in the language that is spoken now."""
        if any(one.language != get_language() for one in self._laid):
            self.take_back()
        self.take_back(wanted)
        with self._blocker.unblock():
            for name in wanted[len(self._laid) :]:
                self._lay(name)

    def _lay(self, name: str) -> None:
        folder = self._folder_new()
        made: dict[str, Any] = self.taken(folder)
        savepoint = transaction.atomic()
        savepoint.__enter__()
        with override_settings(MEDIA_ROOT=folder):
            make = _LAYERS[name]
            made[name] = make(**{n: made[n] for n in inspect.signature(make).parameters})
        self._laid.append(_Laid(name, savepoint, pickle.dumps(made), folder, get_language()))

    def taken(self, media: Path) -> dict[str, Any]:
        """Return what was made for one test, whose files lie in `media`."""
        if not self._laid:
            return {}
        top = self._laid[-1]
        if any(top.folder.iterdir()):
            shutil.copytree(top.folder, media, dirs_exist_ok=True)
        made: dict[str, Any] = pickle.loads(top.made)  # noqa: S301 - packed above
        return made


_now: list[Layers] = []
"""The layers of this process, once a test asked for the database."""


@pytest.fixture(scope="session")
def layers(
    django_db_setup: None,
    django_db_blocker: DjangoDbBlocker,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Layers]:
    made = Layers(lambda: tmp_path_factory.mktemp("laid"), django_db_blocker)
    _now.append(made)
    yield made
    made.take_back()
    _now.clear()


@pytest.fixture
def laid(db: None, layers: Layers, request: pytest.FixtureRequest) -> dict[str, Any]:
    """What lies under this test, by the layers' names."""
    return layers.taken(Path(settings.MEDIA_ROOT)) if layers_of(request.node) else {}


def take_back_before(item: pytest.Item) -> None:
    """Take back what a test does not begin with, before any fixture of it is made."""
    for one in _now:
        one.take_back(layers_of(item))


def take_back_all() -> None:
    """Take back everything, by the database connection it was laid with."""
    for one in _now:
        one.take_back()


def settle_before(request: pytest.FixtureRequest) -> None:
    """Lay what a test begins with, before its own transaction begins."""
    wanted = layers_of(request.node)
    if wanted:
        request.getfixturevalue("layers").settle(wanted)
