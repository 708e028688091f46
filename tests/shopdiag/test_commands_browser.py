"""The command box: by keys and by the list, and no key fires while somebody types."""

import pytest
from playwright.sync_api import Page, expect

from jobs.models import Visit
from tests.conftest import make_cast
from tests.jobs.conftest import visit_taken_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def page(signed_in_page) -> Page:
    cast = make_cast()
    visit_taken_in(cast.writer, plate="KD TL 204", name="Ines Calloway")
    visit_taken_in(cast.writer, plate="ZZ 9", name="Nobody Else")
    opened: Page = signed_in_page(cast.writer, keep=True)[0]
    opened.goto("/jobs/")
    expect(opened.locator("[data-commands]")).to_have_attribute("data-commands", "/jobs/find/")
    opened.wait_for_function("!document.querySelector('[data-commands]').hidden")
    return opened


def names(page: Page) -> list[str]:
    return page.locator("#command-list [role=option]").all_inner_texts()


@pytest.mark.parametrize("key", ["/", "Control+k"])
def test_a_key_opens_it_and_it_leads_on(page, key):
    page.keyboard.press(key)
    box = page.locator("#command-input")
    expect(box).to_be_focused()
    everything = names(page)
    assert len(everything) > 4
    page.keyboard.press("ArrowDown")
    chosen = page.locator("#command-list [aria-selected=true]")
    expect(chosen).to_have_count(1)
    expect(chosen).to_have_text(everything[1])
    assert box.get_attribute("aria-activedescendant") == chosen.get_attribute("id")
    page.keyboard.press("Escape")
    expect(box).not_to_be_visible()
    page.keyboard.press(key)
    box.fill("week")
    page.keyboard.press("Enter")
    expect(page).to_have_url("/week/")


@pytest.mark.parametrize(("typed", "job"), [("2", 2), ("kdtl204", 1), ("job 1", 1)])
def test_a_number_or_a_plate_leads_to_its_job(page, typed, job):
    page.keyboard.press("/")
    page.locator("#command-input").fill(typed)
    page.keyboard.press("Enter")
    expect(page).to_have_url(f"/jobs/{Visit.objects.get(number=job).pk}/")


def test_what_fits_several_is_left_to_find(page):
    page.keyboard.press("/")
    page.locator("#command-input").fill("nobody of that name 4711")
    page.keyboard.press("Enter")
    expect(page.locator("#id_q")).to_have_value("nobody of that name 4711")


def test_no_key_fires_while_typing(page):
    page.goto("/jobs/find/")
    page.wait_for_function("!document.querySelector('[data-commands]').hidden")
    box = page.locator("#id_q")
    box.press_sequentially("a/b?")
    expect(box).to_have_value("a/b?")
    expect(page.locator("dialog.commands")).to_have_count(0)


def test_keys_are_told_and_can_be_switched_off(page):
    page.keyboard.press("?")
    expect(page.locator(".command-keys kbd").first).to_be_visible()
    page.locator("label[for=command-off]").click()
    page.keyboard.press("Escape")
    for again in (False, True):
        if again:
            page.reload()
            page.wait_for_function("!document.querySelector('[data-commands]').hidden")
        page.keyboard.press("/")
        expect(page.locator("#command-input")).not_to_be_visible()
    page.keyboard.press("Control+k")
    expect(page.locator("#command-input")).to_be_focused()
