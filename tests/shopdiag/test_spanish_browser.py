"""Spanish takes more room than English: every page still fits a phone, and scripts speak it."""

import pytest

from shopdiag.people.models import User
from tests.shopdiag.furnished import Furnished
from tests.shopdiag.test_for_everybody import NO_PAGES

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WIDTHS = (390, 820, 1280)


def test_every_page_fits_in_spanish(furnished: Furnished, client_for, signed_in_page):
    User.objects.update(language="es")
    owner = furnished.cast.owner
    page, _ = signed_in_page(owner)
    client = client_for(owner)
    wide, seen = [], 0
    for name, address in furnished.addresses().items():
        if name in NO_PAGES or name.startswith("api:") or name == "people:sign-out":
            continue
        answer = client.get(address)
        if answer.streaming or b"<!DOCTYPE html>" not in answer.content[:20]:
            continue
        page.set_viewport_size({"width": WIDTHS[0], "height": 844})
        page.goto(address)
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 844})
            over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            wide += [f"{name}, {width}: {over} px"] if over > 0 else []
        seen += 1
    assert wide == []
    assert seen > 35
    # What scripts look up is there before any of them runs.
    assert page.evaluate("django.gettext('Commands')") != "Commands"
    assert page.evaluate("django.gettext('nobody says this')") == "nobody says this"
