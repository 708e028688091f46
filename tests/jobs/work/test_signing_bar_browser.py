"""The bar and what folds on a capture's page, without scripts and on paper."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_bar_works_without_scripts(
    signed_in_page: Callable[..., tuple[Page, list[str]]], triaged, run_of, by
) -> None:
    run, other = run_of(triaged), run_of(triaged)
    page, _ = signed_in_page(by, java_script_enabled=False)
    page.goto(f"/jobs/captures/{run.capture_id}/")
    bar = page.locator(".sign-bar")
    expect(page.locator("#accept")).to_be_hidden()
    bar.get_by_role("link", name="Not settled").click()
    expect(page.locator("#accept input[name=mechanical][value=unsure]")).to_be_checked()
    expect(page.locator("#accept").get_by_role("button", name="Accept and sign")).to_be_visible()
    bar.get_by_role("link", name=f"{other.capture}").click()
    page.wait_for_url(f"**/jobs/captures/{other.capture_id}/")
    bar.get_by_role("link", name="2 of 2 captures").click()
    expect(page.locator("#captures")).to_be_in_viewport()
    page.goto(f"/jobs/captures/{run.capture_id}/#export")
    expect(page.locator("#export")).to_be_visible()


def test_paper_shows_what_the_screen_folds(
    signed_in_page: Callable[..., tuple[Page, list[str]]], triaged, run_of, by
) -> None:
    run = run_of(triaged)
    page, _ = signed_in_page(by)
    page.goto(f"/jobs/captures/{run.capture_id}/")
    table = page.get_by_role("table", name="Relative compression by cylinder")
    expect(table).to_be_hidden()
    page.emulate_media(media="print")
    expect(table).to_be_visible()
    for gone in (".sign-bar", "#export", "#by-hand"):
        expect(page.locator(gone)).to_be_hidden()
