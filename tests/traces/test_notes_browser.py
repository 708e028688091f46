"""Notes and the cycles' pictures in a browser, by keyboard alone."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.conftest import Cast
from tests.unfolding import unfold
from tests.wording import says
from traces.models import PinnedNote, Run

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def shown(signed_in_page: Callable, cast: Cast, run: Run) -> tuple[Page, list[str]]:
    """A diagnostician's browser on the capture's page with its curve drawn."""
    page, complaints = signed_in_page(cast.diagnostician, keep=True)
    page.goto(f"/captures/{run.capture_id}/")
    expect(page.locator("#curve-plot .textpoint").first).to_be_visible()
    return page, complaints


def _seconds_shown(page: Page) -> list[float]:
    found = page.evaluate("document.querySelector('#curve-plot')._fullLayout.xaxis.range")
    return [float(v) for v in found]


def test_a_note_is_pinned_by_keyboard_and_leads_into_the_curve(
    shown: tuple[Page, list[str]],
) -> None:
    page, complaints = shown
    unfold(page, "Notes")
    form = page.locator("#notes form[data-follows-cursors]")
    form.get_by_label("Time in the recording").focus()
    page.keyboard.type("1.75")
    page.keyboard.press("Tab")
    expect(form.get_by_label("Note")).to_be_focused()
    page.keyboard.type("knocks <i>from</i> here")
    page.keyboard.press("Tab")
    expect(form.get_by_role("button", name="Pin the note")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#notes .note")).to_contain_text("knocks <i>from</i> here")
    assert PinnedNote.objects.get().at_s == 1.75

    whole = _seconds_shown(page) if page.locator("#curve-plot .textpoint").count() else [0, 9]
    link = page.locator("#notes [data-plot-goto]")
    link.focus()
    page.keyboard.press("Enter")
    page.wait_for_function(
        "() => { const r = document.querySelector('#curve-plot')._fullLayout?.xaxis.range;"
        " return r && r[1] - r[0] < 0.6 && r[0] < 1.75 && r[1] > 1.75; }"
    )
    narrow = _seconds_shown(page)
    assert narrow[1] - narrow[0] < whole[1] - whole[0]
    expect(page.locator("#curve-plot")).to_be_focused()

    strike = page.locator("#notes .note form button")
    strike.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#notes .note-struck s")).to_have_text("knocks <i>from</i> here")
    assert complaints == []


def test_cursor_a_fills_in_the_time_of_a_note(shown: tuple[Page, list[str]]) -> None:
    page, complaints = shown
    page.locator("#curve-plot").focus()
    page.keyboard.press("a")
    unfold(page, "Notes")
    field = page.locator("#notes").get_by_label("Time in the recording")
    expect(field).not_to_have_value("")
    page.locator("#notes").get_by_label("Note").fill("here")
    at_s = float(field.input_value())
    page.locator("#notes").get_by_role("button", name="Pin the note").press("Enter")
    expect(page.locator("#notes .note")).to_contain_text("here")
    assert PinnedNote.objects.get().at_s == pytest.approx(at_s)
    # its number hangs in the curve of the page that comes back, not in one kept from before
    page.wait_for_function(
        "() => (document.querySelector('#curve-plot').layout?.annotations || [])"
        ".some((a) => a.name === 'note 1' && a.text === '1')"
    )
    assert complaints == []


def test_the_fitted_curve_is_shown_and_hidden_by_its_box(shown: tuple[Page, list[str]]) -> None:
    page, complaints = shown
    box = page.get_by_label("Show the fitted curve")
    expect(box).to_be_checked()
    drawn = (
        "() => document.querySelector('#curve-plot')._fullData"
        ".filter((t) => t.name === 'fitted curve' && t.visible === true).length"
    )
    assert page.evaluate(drawn) == 1
    box.focus()
    page.keyboard.press("Space")
    page.wait_for_function(f"() => ({drawn})() === 0")
    page.keyboard.press("Space")
    page.wait_for_function(f"() => ({drawn})() === 1")
    assert complaints == []


@pytest.mark.parametrize("width", [390, 1280])
def test_the_pictures_of_cycles_fit_and_are_told_in_words(
    shown: tuple[Page, list[str]], width: int
) -> None:
    page, complaints = shown
    page.set_viewport_size({"width": width, "height": 900})
    unfold(page, "Figures")
    strip = page.locator("#cycle-strip svg").first
    expect(strip).to_be_visible()
    assert says(strip.get_attribute("aria-label") or "", "strip.low", what="cylinder", name=1)
    expect(page.locator("#cycle-fit")).to_be_visible()
    assert "measured and fitted" in (page.locator("#cycle-fit").get_attribute("aria-label") or "")
    for picture in ("#cycle-strip", "#cycle-fit", "#bars"):
        right = page.locator(picture).evaluate("e => e.getBoundingClientRect().right")
        assert right <= width, picture
    number = page.locator("#cycle-strip svg text").last
    assert number.evaluate("e => e.getBoundingClientRect().height") >= 9
    assert complaints == []
