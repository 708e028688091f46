"""A job whose upload form is open in a browser, and something to upload."""

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from playwright.sync_api import Page

from jobs.models import Visit
from tests.browser.upload_page import PART, open_form
from tests.conftest import Cast
from tests.jobs.conftest import four, take_in, visit  # noqa: F401
from tests.traces.conftest import media  # noqa: F401


@pytest.fixture
def card(
    signed_in_page: Callable,
    cast: Cast,
    visit: Visit,  # noqa: F811
    media: Path,  # noqa: F811
    monkeypatch,
) -> Page:
    """The card of a job in its diagnostician's browser, with the upload form open."""
    monkeypatch.setattr("shopdiag.context.PART_BYTES", PART)
    page: Page = signed_in_page(cast.diagnostician)[0]
    open_form(page, visit)
    return page


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    """A recording of three megabytes, every line another."""
    path = tmp_path / "long crank.csv"
    path.write_text(_long_text())
    return path


@cache
def _long_text() -> str:
    return "time,A\n" + "".join(f"{i / 1000:.3f},{i % 977}\n" for i in range(260_000))
