"""Every page, once in each language: can it be read, hit and named, and does it fit.

The rules and their sources stand in measuring.js. A VIN and a firing order are read as one piece:
no page and no sheet breaks them (unbroken.js). Spanish takes more room than English.
"""

from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from engines.core.firing import FiringOrder
from engines.core.layouts import layout_of
from engines.core.positions import Numbering, places_by_numbering
from engines.services import EngineInput, engine_change
from jobs.models import Vehicle, WorkOrder
from jobs.services.intake import vehicle_change
from shopdiag.people.models import Member, User
from shopdiag.people.services import token_create
from tests.shopdiag.furnished import Furnished

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MEASURE = (Path(__file__).parent / "measuring.js").read_text()
BROKEN = (Path(__file__).parent / "unbroken.js").read_text()
WIDE = "document.documentElement.scrollWidth - innerWidth"
VIN = "WVWZZZ1KZ6W123456"
ORDER = "1-12-5-8-3-10-6-7-2-11-4-9"
PHONE: dict[str, Any] = {"viewport": {"width": 390, "height": 844}, "has_touch": True}
DESK: dict[str, Any] = {"viewport": {"width": 1280, "height": 900}}
NARROW_PX = 320  # WCAG 2.2, 1.4.10
PAPER_PX = 720
# Parts of pages that are fetched into others, things to download, and what only points on.
NO_PAGES = {
    "home",
    "healthz",
    "kit-curve",
    "people:sign-in",
    "people:first-run",
    "service-worker",
    "jobs:intake-search",
    "jobs:intake-who",
    "jobs:vin-check",
    "jobs:photo",
    "traces:state",
    "practice:state",
    "traces:plot",
    "traces:compare-plot",
    "traces:curve",
    "traces:values",
    "traces:run-values",
    "traces:evidence",
    "traces:original",
    "traces:data",
    "traces:result",
    "traces:case",
}


@pytest.fixture
def long_numbers(furnished: Furnished) -> Furnished:
    """The furnished shop with a twelve-cylinder engine and a vehicle whose VIN was corrected."""
    vehicle = furnished.world.visit.vehicle
    order = FiringOrder.parse(ORDER)
    engine_change(
        engine=furnished.engine,
        expected_version=furnished.engine.version,
        member=furnished.cast.diagnostician,
        given=EngineInput(
            name=f"Twelve of our own that fires {ORDER}",
            layout="V12",
            order=order,
            places=places_by_numbering(layout_of("V12"), len(order), Numbering.FRONT),
            numbering="From the front",
            fuel="petrol",
            source=f"Casting {ORDER}, read off the intake",
        ),
    )
    Vehicle.objects.filter(pk=vehicle.pk).update(vin=VIN[:-1] + "7")
    vehicle = Vehicle.objects.get(pk=vehicle.pk)
    vehicle.vin = VIN
    vehicle_change(
        vehicle=vehicle, expected_version=vehicle.version, member=furnished.cast.diagnostician
    )
    WorkOrder.objects.filter(pk=furnished.world.order.pk).update(
        firing_order=ORDER, firing_source=f"Casting {ORDER}, read off the intake"
    )
    return furnished


def _pages(shop: Furnished, client) -> dict[str, str]:
    """Return the addresses at which the owner, who may all, is shown a page."""
    found = {}
    for name, address in shop.addresses().items():
        if name in NO_PAGES or name.startswith("api:") or name == "people:sign-out":
            continue
        answer = client.get(address)
        if answer.streaming:  # something to take along
            continue
        if answer.status_code == 200 and b"<!DOCTYPE html>" in answer.content[:20]:
            found[name] = address
    return found


class Walk:
    """What was seen on the way through the pages."""

    def __init__(self) -> None:
        self.told: list[str] = []
        self.pieces = Counter[str]()

    def measure(self, page: Page, where: str) -> None:
        """Look whether everybody can use it."""
        self.told += [f"{where}: {said}" for said in page.evaluate(MEASURE)]

    def look_for_broken(self, page: Page, name: str, shown: str) -> None:
        """Look for a VIN or firing order on two lines, with all folds open."""
        measured = page.evaluate(BROKEN)
        self.pieces[shown] += measured["seen"]
        self.told += [f"{name}, {shown}: {piece}" for piece in measured["found"]]


def _on_a_phone(walk: Walk, page: Page, name: str, address: str) -> None:
    page.goto(address)
    walk.measure(page, f"{name}, phone, light")
    walk.look_for_broken(page, name, "phone")


def _on_a_desk(walk: Walk, page: Page, name: str, address: str) -> None:
    page.set_viewport_size(DESK["viewport"])
    page.emulate_media(media="screen", color_scheme="light")
    page.goto(address)
    walk.measure(page, f"{name}, desk, light")
    page.set_viewport_size({"width": NARROW_PX, "height": 640})
    page.emulate_media(color_scheme="dark")
    walk.measure(page, f"{name}, narrow, dark")
    walk.look_for_broken(page, name, "narrow")
    page.set_viewport_size(DESK["viewport"])
    walk.look_for_broken(page, name, "desk")
    page.set_viewport_size({"width": PAPER_PX, "height": 900})
    page.emulate_media(media="print")
    walk.look_for_broken(page, name, "paper")


def _in_spanish(walk: Walk, page: Page, name: str, address: str) -> None:
    page.set_viewport_size(PHONE["viewport"])
    page.emulate_media(media="screen")
    page.goto(address)
    for width in (390, 820, 1280):
        page.set_viewport_size({"width": width, "height": 844})
        over = page.evaluate(WIDE)
        walk.told += [f"{name}, Spanish, {width}: {over} px too wide"] if over > 0 else []


def test_every_page(
    long_numbers: Furnished,
    client_for,
    signed_in_page: Callable[..., tuple[Page, list[str]]],
):
    owner: Member = long_numbers.cast.owner
    token_create(member=owner, label="till")
    pages = _pages(long_numbers, client_for(owner))
    assert len(pages) > 35
    touched = signed_in_page(owner, color_scheme="light", **PHONE)[0]
    pointed = signed_in_page(owner, color_scheme="light", **DESK)[0]
    walk = Walk()
    for name, address in pages.items():
        _on_a_phone(walk, touched, name, address)
        _on_a_desk(walk, pointed, name, address)
    User.objects.update(language="es")
    for name, address in pages.items():
        _in_spanish(walk, pointed, name, address)
    assert not walk.told, "\n".join(walk.told)
    assert len(walk.pieces) == 4
    assert min(walk.pieces.values()) > 30, walk.pieces
    # What scripts look up is there before any of them runs.
    assert pointed.evaluate("django.gettext('Commands')") != "Commands"
    assert pointed.evaluate("django.gettext('nobody says this')") == "nobody says this"
