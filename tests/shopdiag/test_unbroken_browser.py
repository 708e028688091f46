"""A VIN and a firing order are read as one piece: no page and no sheet breaks them."""

from collections import Counter
from collections.abc import Callable
from typing import Literal

import pytest
from playwright.sync_api import Page

from engines.core.firing import FiringOrder
from engines.core.layouts import layout_of
from engines.core.positions import Numbering, places_by_numbering
from engines.services import EngineInput, engine_change
from jobs.models import Vehicle, WorkOrder
from jobs.services.intake import vehicle_change
from shopdiag.people.models import Member
from tests.shopdiag.furnished import Furnished
from tests.shopdiag.test_for_everybody import NO_PAGES

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

VIN = "WVWZZZ1KZ6W123456"
SHOWN: tuple[tuple[int, Literal["screen", "print"]], ...] = (
    (320, "screen"),
    (390, "screen"),
    (1280, "screen"),
    (720, "print"),
)
"""At which widths each page is measured once it is there, and on what."""
ORDER = "1-12-5-8-3-10-6-7-2-11-4-9"
# Every VIN and firing order in text, with the lines it stands on.
BROKEN = r"""() => {
  document.querySelectorAll(".fold, .fold details").forEach((e) => { e.open = true; });
  const found = [];
  const pieces = /[A-HJ-NPR-Z0-9]{17}|\b\d{1,2}(?:[-‑]\d{1,2}){2,}\b/g;
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  let seen = 0;
  while (walker.nextNode()) {
    const node = walker.currentNode;
    if (!node.parentElement.checkVisibility()) continue;
    for (const match of node.data.matchAll(pieces)) {
      const range = document.createRange();
      range.setStart(node, match.index);
      range.setEnd(node, match.index + match[0].length);
      const boxes = [...range.getClientRects()].filter((r) => r.width > 0);
      const tops = boxes.map((r) => r.top), rights = boxes.map((r) => r.right);
      if (!tops.length) continue;
      seen += 1;
      const block = node.parentElement.closest("p, li, td, th, dd, dt, h1, h2, div, figcaption");
      if (Math.max(...rights) > block.getBoundingClientRect().right + 1) {
        found.push(match[0] + " runs out of " + block.outerHTML.slice(0, 160));
      }
      if (Math.max(...tops) - Math.min(...tops) > 4) {
        found.push(match[0] + " in: " + node.parentElement.outerHTML.slice(0, 160));
      }
    }
  }
  const wide = document.scrollingElement.scrollWidth - innerWidth;
  if (wide > 0 && matchMedia("screen").matches) found.push("the page is " + wide + " px too wide");
  return { seen, found };
}"""


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


def test_no_page_breaks_them(
    long_numbers: Furnished,
    client_for,
    signed_in_page: Callable[..., tuple[Page, list[str]]],
):
    owner: Member = long_numbers.cast.owner
    page, _ = signed_in_page(owner)
    client = client_for(owner)
    told, seen = [], Counter[str]()
    for name, address in long_numbers.addresses().items():
        if name in NO_PAGES or name.startswith("api:") or name == "people:sign-out":
            continue
        answer = client.get(address)
        if answer.streaming or b"<!DOCTYPE html>" not in answer.content[:20]:
            continue
        page.set_viewport_size({"width": SHOWN[0][0], "height": 844})
        page.emulate_media(media="screen")
        page.goto(address)
        for width, media in SHOWN:
            page.set_viewport_size({"width": width, "height": 844})
            page.emulate_media(media=media)
            measured = page.evaluate(BROKEN)
            where = f"{width} {media}"
            seen[where] += measured["seen"]
            told += [f"{name}, {where}: {piece}" for piece in measured["found"]]
    assert len(seen) == len(SHOWN)
    assert min(seen.values()) > 30, seen
    assert not told, "\n".join(told)
