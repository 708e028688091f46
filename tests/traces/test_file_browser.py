"""A file that was understood wrongly is corrected in a browser, by keyboard and on a phone."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.conftest import Cast
from traces.models import Capture, Reading
from traces.runs.presence import beat
from traces.runs.reading import reading_read

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# One column of decimal commas, which looks like two columns of whole numbers.
COMMAS = b"".join(b"%d,%d\n" % (12 + i % 2, 25 + i % 7) for i in range(60))
_MOST_TABS = 120


@pytest.fixture
def signed_in(signed_in_page: Callable, cast: Cast) -> tuple[Page, list[str]]:
    """A diagnostician's browser, and what it complains about."""
    page, complaints = signed_in_page(cast.diagnostician, keep=True)
    return page, complaints


def _tab_to(page: Page, what: str) -> None:
    """Press Tab until what is focused matches a selector; nobody may be locked in before it."""
    for _ in range(_MOST_TABS):
        page.keyboard.press("Tab")
        if page.evaluate("s => document.activeElement.matches(s)", what):
            return
    pytest.fail(f"Tab does not lead to {what}")


def test_a_wrong_guess_is_corrected_by_keyboard(
    signed_in: tuple[Page, list[str]], add_read: Callable[..., Capture]
) -> None:
    page, complaints = signed_in
    capture = add_read(COMMAS, name="clamp.csv")
    beat("celery@bench")
    page.goto(f"/captures/{capture.pk}/")
    expect(page.get_by_text("Is this right?")).to_be_visible()
    channels = page.get_by_role("table", name="Channels")
    expect(channels.get_by_role("row")).to_have_count(3)

    _tab_to(page, f"a[href='/captures/{capture.pk}/file/']")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="What the file is")).to_be_visible()
    expect(page.get_by_text("12,25")).to_be_visible()
    _tab_to(page, "#id_rate_hz")
    page.keyboard.type("500")
    _tab_to(page, "#id_decimal")
    page.keyboard.type("comma")
    _tab_to(page, "form.form button[type=submit]")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Reading the file anew")).to_be_visible()
    page.evaluate("window.notLoadedAgain = true")
    reading_read(Reading.objects.latest("pk").pk)
    expect(channels.get_by_role("row")).to_have_count(2)
    assert page.evaluate("window.notLoadedAgain"), "the page followed by itself"
    rows = page.get_by_role("table", name="First rows")
    expect(rows.get_by_role("cell", name="12.25")).to_be_visible()
    expect(page.get_by_text("decimal comma; 500 Hz.")).to_be_visible()

    # and the way back, by keyboard too
    _tab_to(page, "form[action$='take-again/'] button")
    page.keyboard.press("Enter")
    expect(channels.get_by_role("row")).to_have_count(3)
    assert complaints == []


def test_nothing_sticks_out_at_any_width(
    signed_in: tuple[Page, list[str]], add_read: Callable[..., Capture]
) -> None:
    page, complaints = signed_in
    names = ";".join(f"channel number {n} [V]" for n in range(9))
    rows = "".join(";".join(f"{r * n / 7:.6f}" for n in range(9)) + "\n" for r in range(40))
    capture = add_read(f"{'long head ' * 60}\n{names}\n{rows}".encode(), name="c" * 120 + ".csv")
    for address in ("", "file/"):
        page.goto(f"/captures/{capture.pk}/{address}")
        expect(page.get_by_role("heading", level=1)).to_be_visible()
        for width in (390, 820, 1280):
            page.set_viewport_size({"width": width, "height": 900})
            wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, (address, width)
    assert complaints == []
