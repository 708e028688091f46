"""A shop with something behind every address."""

import pytest

from tests.api.conftest import no_throttle, world, world_of
from tests.jobs.conftest import four, take_in, visit
from tests.shopdiag.furnished import Furnished, furnish
from tests.traces.conftest import add, add_read, analysed

__all__ = ["add", "add_read", "four", "no_throttle", "take_in", "visit", "world", "world_of"]


@pytest.fixture
def furnished(cast, world, add_read, four) -> Furnished:
    """The cast's first shop with a job that has everything, a finished run included."""
    run = analysed(add_read, cast.diagnostician, "ref-01.csv", four)
    return furnish(cast, world, run, four)


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    """Keep every test's files in a folder of its own."""
    settings.MEDIA_ROOT = tmp_path / "files"
    return tmp_path / "files"
