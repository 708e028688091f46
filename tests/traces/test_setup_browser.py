"""The clamp's scale on the set-up page in a browser."""

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.conftest import Cast
from traces.models import Capture

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_scale_is_either_chosen_or_typed(
    signed_in_page: Callable, cast: Cast, add_read: Callable[..., Capture]
) -> None:
    page, complaints = signed_in_page(cast.diagnostician)
    page.goto(f"/captures/{add_read().pk}/set-up/")
    typed = page.get_by_label("The other scale")
    expect(typed).to_be_hidden()
    page.get_by_text("another", exact=True).click()
    typed.fill("2,5")
    expect(page.get_by_label("another", exact=True)).to_be_checked()
    page.locator("label:has(input[name=scale][value='20'])").click()
    expect(page.locator("input[name=scale]:checked")).to_have_value("20")
    expect(typed).to_have_value("")
    assert complaints == []
