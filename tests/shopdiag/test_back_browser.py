"""Back, and the same form sent again, as a browser does it: with a fresh page under old words."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Locator, Page, expect

from jobs.models import MisfireCounts, Note, Visit
from tests.conftest import Cast
from tests.jobs.conftest import four, take_in, visit  # noqa: F401 - fixtures

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WORDS = "Called the customer."


def _note(page: Page) -> Locator:
    form = page.locator('form:has(textarea[name="text"])').first
    return form.locator("textarea")


def _send(page: Page) -> None:
    page.get_by_role("button", name="Add the note").click()
    expect(page.locator("#notes, main").first).to_contain_text(WORDS)
    page.wait_for_load_state()


def test_a_form_sent_again_after_back_adds_nothing(
    signed_in_page: Callable,
    cast: Cast,
    visit: Visit,  # noqa: F811
) -> None:
    page, _ = signed_in_page(cast.diagnostician)
    page.goto(f"/jobs/{visit.pk}/note/")
    _note(page).fill(WORDS)
    _send(page)
    page.go_back()
    expect(_note(page)).to_have_value(WORDS)
    _send(page)
    assert Note.objects.count() == 1
    # other words after Back are another note
    page.go_back()
    _note(page).fill(f"{WORDS} No answer.")
    _send(page)
    assert Note.objects.count() == 2
    # and on a page that was opened anew the same words are asked back
    page.goto(f"/jobs/{visit.pk}/note/")
    _note(page).fill(WORDS)
    _send(page)
    assert Note.objects.count() == 2
    page.locator("[name=confirmed]").check()
    _send(page)
    page.wait_for_url(f"**/jobs/{visit.pk}/")
    assert Note.objects.count() == 3


def test_without_scripts_back_and_send_again_doubles_no_counts(
    signed_in_page: Callable,
    cast: Cast,
    visit: Visit,  # noqa: F811
) -> None:
    page, _ = signed_in_page(cast.diagnostician, java_script_enabled=False)
    page.goto(f"/jobs/{visit.pk}/misfires/")
    page.locator("[name=counts]").fill("1: 0, 2: 143")
    page.locator("main button[type=submit]").click()
    page.wait_for_url(f"**/jobs/{visit.pk}/")
    page.go_back()
    page.locator("[name=counts]").fill("1: 0, 2: 143")
    page.locator("main button[type=submit]").click()
    expect(page.locator("[name=confirmed]")).not_to_be_checked()
    assert MisfireCounts.objects.count() == 1
