"""A job's card with its upload form open, and what tests of it do there."""

import hashlib
from pathlib import Path

from playwright.sync_api import Locator, Page, expect

from jobs.models import Visit
from tests.browser.lines import Line
from traces.models import Capture
from traces.uploads.files import uploads_folder

PART = 300_000
"""Parts of the tests: many for a small file, and no power of two."""
WITHIN_MS = 60_000


def open_form(page: Page, job: Visit, server: str = "") -> None:
    page.goto(f"{server}/jobs/{job.pk}/")
    page.evaluate("location.hash = 'add-captures'")


def send(page: Page, *paths: Path) -> None:
    form = page.locator("form[data-upload]").first
    form.locator("input[type=file]").set_input_files(paths)
    form.get_by_role("button", name="Upload").click()


def line_of(page: Page) -> Locator:
    return page.locator("form[data-upload] .upload").first


def check_arrived(page: Page, path: Path) -> None:
    expect(page.get_by_role("heading", name=path.name)).to_be_visible(timeout=WITHIN_MS)
    capture = Capture.objects.get()
    content = path.read_bytes()
    assert Path(capture.original.path).read_bytes() == content
    assert capture.sha256 == hashlib.sha256(content).hexdigest()
    assert list(uploads_folder().iterdir()) == []
    assert page.evaluate("Object.keys(localStorage).filter(k => k.startsWith('tus::'))") == []


def held_up(page: Page, recording: Path) -> Line:
    """Send until the line is cut after three parts; the rest waits."""
    line = Line(page)
    line.cut_after = 3
    send(page, recording)
    expect(line_of(page).locator(".upload-state")).to_contain_text("Connection lost at 0.9 MB")
    return line
