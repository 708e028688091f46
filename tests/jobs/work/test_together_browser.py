"""Several captures of a job on a screen: the page is never wider than it."""

import pytest
from django.urls import reverse

from tests.unfolding import unfold

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_many_captures_stay_on_the_screen(signed_in_page, triaged, run_of, by):
    for _ in range(8):
        run = run_of(triaged, {1: 1.0, 2: 1.0, 3: 0.57, 4: 1.0})
    page, _ = signed_in_page(by)
    for address in (
        reverse("jobs:visit", args=[triaged.pk]) + "#together",
        reverse("jobs:decide", args=[triaged.pk]),
        reverse("jobs:capture", args=[run.capture_id]),
    ):
        page.goto(address)
        if "#together" not in address:
            unfold(page, "Side by side")
        table = page.get_by_role("region", name="Relative compression by cylinder and capture")
        assert table.count() == 1, address
        for width in (390, 820, 1280):
            page.set_viewport_size({"width": width, "height": 900})
            wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, (address, width)
