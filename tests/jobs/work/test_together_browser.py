"""Several captures of a job on a screen: the page is never wider than it."""

import pytest
from django.urls import reverse

from shopdiag.people.models import User
from tests.unfolding import unfold

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MOST_ON_A_DESK = 1_800
MOST_ON_A_PHONE = 3_200


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
            unfold(page, "Captures of this job")
            unfold(page, "Side by side")
        table = page.get_by_role("region", name="Relative compression by cylinder and capture")
        assert table.count() == 1, address
        for width in (390, 820, 1280):
            page.set_viewport_size({"width": width, "height": 900})
            wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, (address, width)


def test_captures_that_disagree_keep_the_page_short(signed_in_page, triaged, run_of, by):
    for weak in (3, 2, 4):
        run = run_of(triaged, {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0} | {weak: 0.57})
    page, _ = signed_in_page(by)
    page.goto(reverse("jobs:capture", args=[run.capture_id]))
    for language in ("en", "es"):
        User.objects.update(language=language)
        page.reload()
        for width, most in ((1280, MOST_ON_A_DESK), (390, MOST_ON_A_PHONE)):
            page.set_viewport_size({"width": width, "height": 900})
            height = page.evaluate("document.documentElement.scrollHeight")
            told = f"three that disagree, {language}, {width} px wide: {height} px high"
            print(told)  # noqa: T201 - the measurement
            assert height <= most
        assert not page.locator("#captures").is_visible()
    page.get_by_role("link", name="3 de 3").click()
    assert page.locator("#captures").is_visible()
