"""Finding a job while typing."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.conftest import make_cast
from tests.jobs.conftest import visit_taken_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_results_follow_what_is_typed(
    signed_in_page: Callable[..., tuple[Page, list[str]]],
) -> None:
    cast = make_cast()
    visit_taken_in(cast.writer, plate="KD TL 204", name="Ines Calloway")
    visit_taken_in(cast.writer, plate="ZZ 9", name="Nobody Else")
    page, complaints = signed_in_page(cast.writer)
    page.goto("/jobs/find/")
    box, found = page.locator("#id_q"), page.locator("#found .big")
    for typed, title in (("tl204kd", "Job 1"), ("job 2", "Job 2"), ("Caloway", "Job 1")):
        box.fill("")
        box.press_sequentially(typed)
        expect(found).to_have_count(1)
        expect(found).to_contain_text(title)
        expect(page.locator("#found-count")).to_contain_text("1")
        expect(box).to_be_focused()
        expect(box).to_have_value(typed)
    page.reload()
    expect(box).to_have_value("Caloway")
    expect(found).to_contain_text("Job 1")
    page.context.clear_cookies()
    box.fill("204")
    expect(page).to_have_url("/people/sign-in/?next=/jobs/find/%3Fq%3D204")
    assert complaints == []
