"""A furnished job that all tests of a file begin with: fixtures to import over the usual ones."""

from pathlib import Path

import pytest

from engines.models import Engine
from jobs.models import Visit
from tests.api.conftest import World, furnish_job
from tests.conftest import Cast, make_cast
from tests.jobs.conftest import make_four, visit_taken_in
from tests.shared_rows import Kept, kept_rows

__all__ = ["cast", "four", "kept", "taken", "visit", "world"]

Made = tuple[Cast, World]


def _make() -> Made:
    cast = make_cast()
    return cast, furnish_job(cast, visit_taken_in(cast.writer, engine=make_four(cast)))


kept = kept_rows(_make)


@pytest.fixture
def taken(db: None, kept: Kept[Made], media: Path) -> Made:
    return kept.taken(media)


@pytest.fixture
def cast(taken: Made) -> Cast:
    return taken[0]


@pytest.fixture
def world(taken: Made) -> World:
    return taken[1]


@pytest.fixture
def visit(world: World) -> Visit:
    return world.visit


@pytest.fixture
def four(world: World) -> Engine:
    return world.engine
