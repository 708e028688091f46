"""Several captures of a job on a screen: the page is never wider than it."""

import pytest
from django.urls import reverse

from tests.unfolding import unfold

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("width_px", [390, 820, 1280])
def test_many_captures_stay_on_the_screen(signed_in_page, triaged, run_of, by, width_px):
    for _ in range(8):
        run = run_of(triaged, {1: 1.0, 2: 1.0, 3: 0.57, 4: 1.0})
    page, _ = signed_in_page(by)
    page.set_viewport_size({"width": width_px, "height": 900})
    for address in (
        reverse("jobs:visit", args=[triaged.pk]) + "#together",
        reverse("jobs:decide", args=[triaged.pk]),
        reverse("jobs:capture", args=[run.capture_id]),
    ):
        page.goto(address)
        if "/captures/" in address:
            unfold(page, "Side by side")
        table = page.get_by_role("region", name="Relative compression by cylinder and capture")
        assert table.count() == 1, address
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, address
