"""Pages stand still while they load: what comes later finds its place kept.

The limit is that of Cumulative Layout Shift's "good" (web.dev/articles/cls, 0.1), summed here over
the whole load instead of its worst window, which is stricter.
"""

from collections.abc import Callable
from pathlib import Path

import pytest
from django.urls import reverse
from playwright.sync_api import Page

from jobs.models import Visit, VisitCapture, WorkOrder
from shopdiag.people.core.roles import Role
from tests.jobs.demo_shop import fill_demo_shop
from tests.traces.conftest import media  # noqa: F401 - a fixture

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

LIMIT = 0.1
STILL = 0.002
"""Of a capture's page, where a curve stands above what is read: less than a line moves."""
SIZES = ((390, 844), (1280, 900))
LISTS = ("jobs:board", "jobs:find", "jobs:week", "practice:home")
# From before the first paint on; a jump to somebody's own touch or key is no shift.
WATCH = """
window.shifts = [];
new PerformanceObserver((list) => {
  for (const entry of list.getEntries()) {
    if (entry.hadRecentInput) continue;
    const moved = entry.sources.map((s) => s.node?.nodeType === 1 ? s.node.outerHTML.slice(0, 90)
      : s.node?.parentElement?.outerHTML.slice(0, 90) ?? "");
    window.shifts.push({ value: entry.value, moved });
  }
}).observe({ type: "layout-shift", buffered: true });
"""
DRAWN = """() => document.readyState === "complete"
  && [...document.querySelectorAll("[data-plot-url]")].every((e) => !e.checkVisibility()
    || e.querySelector("svg.main-svg"))"""
# Entries are handed out after a frame was painted, so two frames and a task later all are here.
SHIFTS = """() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() =>
  setTimeout(() => done(window.shifts)))))"""


def _addresses() -> list[str]:
    """Return the main pages; of each kind with a number the first and the last."""
    found = [reverse(name) for name in LISTS]
    for name, rows in (
        ("jobs:visit", Visit.objects.order_by("pk").values_list("pk", flat=True)),
        ("jobs:capture", VisitCapture.objects.order_by("pk").values_list("capture_id", flat=True)),
        ("traces:setup", VisitCapture.objects.order_by("pk").values_list("capture_id", flat=True)),
        ("jobs:work-order", WorkOrder.objects.order_by("pk").values_list("pk", flat=True)),
    ):
        numbers = list(rows)
        found += [reverse(name, args=[pk]) for pk in sorted({numbers[0], numbers[-1]})]
    return found


def test_main_pages_stand_still_while_they_load(
    signed_in_page: Callable[..., tuple[Page, list[str]]],
    media: Path,  # noqa: F811
) -> None:
    people = fill_demo_shop()
    page, complaints = signed_in_page(people[Role.OWNER])
    page.add_init_script(WATCH)
    told = []
    for address in _addresses():
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            answer = page.goto(address)
            assert answer is not None
            assert answer.status == 200, address
            page.wait_for_function(DRAWN)
            shifts = page.evaluate(SHIFTS)
            total = sum(shift["value"] for shift in shifts)
            print(f"{address} at {width}: {total:.3f}")  # noqa: T201 - the measurement
            if total >= LIMIT or ("/captures/" in address and total >= STILL):
                told.append(f"{address} at {width}: {total:.3f} {shifts}")
    assert complaints == []
    # What comes late above the rest is noticed.
    page.evaluate("document.querySelector('main').style.marginTop = '300px'")
    assert sum(shift["value"] for shift in page.evaluate(SHIFTS)) >= LIMIT
    assert not told, "\n".join(told)
