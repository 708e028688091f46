"""Pages that everybody can use: walked by keyboard, and on paper."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page

from jobs.models import Judgement, Visit
from shopdiag.people.models import Member
from tests.conftest import PASSWORD
from tests.shopdiag.furnished import Furnished

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DESK: dict[str, Any] = {"viewport": {"width": 1280, "height": 900}}


@pytest.fixture
def signed_in(signed_in_page: Callable) -> Callable[..., Page]:
    def go(member: Member, **options) -> Page:
        page: Page = signed_in_page(member, **options, keep=True)[0]
        return page

    return go


FOCUSED = """() => {
  const e = document.activeElement;
  if (!e || e === document.body) return null;
  const style = getComputedStyle(e), around = getComputedStyle(e.closest("label") || e);
  const ring = (s) => s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2;
  const box = e.getBoundingClientRect();
  const order = [...document.querySelectorAll("*")].indexOf(e);
  return { order, ring: ring(style) || ring(around), seen: box.bottom > 0 && box.top < innerHeight,
           html: e.outerHTML.slice(0, 90) };
}"""


@pytest.mark.parametrize("name", ["jobs:board", "jobs:new", "jobs:visit", "jobs:decide"])
def test_the_tab_key_goes_through_a_page_in_order_and_shows_where_it_is(
    furnished: Furnished, signed_in, name
):
    """WCAG 2.2, 2.1.1, 2.1.2, 2.4.3, 2.4.7: reachable, no trap, in order, and to be seen."""
    # Without motion the skip link is there at once.
    page = signed_in(furnished.cast.owner, reduced_motion="reduce", **DESK)
    page.goto(furnished.addresses()[name])
    steps: list[dict[str, Any]] = []
    for _ in range(200):
        page.keyboard.press("Tab")
        step = page.evaluate(FOCUSED)
        if step is None or (steps and step["order"] < steps[-1]["order"]):
            break
        steps.append(step)
    # It came to the end of the page and round again, over more than the letterhead.
    assert 8 < len(steps) < 200
    assert "skip" in steps[0]["html"]
    assert [s["html"] for s in steps if not s["ring"]] == []
    assert [s["html"] for s in steps if not s["seen"]] == []
    reachable = page.evaluate(
        """() => [...document.querySelectorAll("main button, main a[href], main summary,"
             + "main select, main textarea, main input:not([type=hidden], [type=radio])")]
           .filter((e) => e.checkVisibility() && !e.disabled && e.tabIndex >= 0)
           .map((e) => [...document.querySelectorAll("*")].indexOf(e))"""
    )
    assert set(reachable) <= {s["order"] for s in steps}


def _tab_to(page: Page, label: str) -> None:
    """Press Tab until the control of this name has the focus, as somebody without a mouse does."""
    begins = re.compile(rf"^\s*{label}")
    wanted = (
        page.get_by_label(begins)
        .or_(page.locator("main").get_by_role("button", name=begins))
        .or_(page.get_by_role("link", name=begins))
    )
    for _ in range(120):
        page.keyboard.press("Tab")
        if any(one.evaluate("e => e === document.activeElement") for one in wanted.all()):
            return
    raise AssertionError(f"the Tab key never comes to “{label}”")


def test_a_job_is_opened_noted_and_decided_without_a_mouse(cast, open_page, live_server, four):
    page, complaints = open_page(base_url=live_server.url, **DESK)
    page.goto("/people/sign-in/")
    _tab_to(page, "Username")
    page.keyboard.type("diag")
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url("**/jobs/")
    _tab_to(page, "New job")
    page.keyboard.press("Enter")
    page.wait_for_url("**/jobs/new/")
    for label, text in (
        ("Name", "Jorun Halloway"),
        ("Make", "Brindle"),
        ("Model", "Sparrow 1.4"),
        ("Complaint", "Shakes at the lights."),
    ):
        _tab_to(page, label)
        page.keyboard.type(text)
    _tab_to(page, "Open the job")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/jobs/\d+/$"))
    visit = Visit.objects.get()
    assert visit.complaint.words == "Shakes at the lights."

    # The skip link leads past the letterhead.
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"

    page.goto(f"/jobs/{visit.pk}/decide/?without")
    _tab_to(page, "Compression fault")
    page.keyboard.press("Space")
    _tab_to(page, "In your own words")
    page.keyboard.type("Blows back through the intake.")
    _tab_to(page, "Sign")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/jobs/{visit.pk}/#evidence")
    assert Judgement.objects.get().reason == "Blows back through the intake."
    assert complaints == []


ON_PAPER = """() => {
  const complaints = [], grey = (text) => {
    const n = text.match(/[\\d.]+/g).map(Number);
    return n[3] === 0 ? 255 : Math.max(...n.slice(0, 3));
  };
  for (const e of document.querySelectorAll("body *")) {
    const box = e.getBoundingClientRect();
    if (!e.checkVisibility({checkVisibilityCSS: true}) || box.width < 2 || box.height < 2) continue;
    const what = e.outerHTML.replace(/\\s+/g, " ").slice(0, 80), style = getComputedStyle(e);
    if (e.matches("button, .btn, nav, input:not([type=hidden]), .skip, form[method=post]")) {
      complaints.push("on paper nobody can press " + what);
    }
    const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim());
    if (own && !e.closest("svg, .unseen") && grey(style.color) > 90) {
      complaints.push("pale on paper " + style.color + " " + what);
    }
    if (!e.closest("svg") && grey(style.backgroundColor) < 200) {
      complaints.push("ink wasted " + what);
    }
  }
  return complaints;
}"""


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_sheets_of_paper(furnished: Furnished, signed_in, theme):
    """Dark text on white whatever the screen's theme, and nothing that wants to be pressed."""
    page = signed_in(furnished.cast.owner, color_scheme=theme, **DESK)
    page.emulate_media(media="print", color_scheme=theme)
    addresses = furnished.addresses()
    told = []
    for name in (
        "jobs:work-order-print",
        "jobs:customer-copy",
        "jobs:vehicle",
        "jobs:before-after",
    ):
        page.goto(addresses[name])
        told += [f"{name}: {complaint}" for complaint in page.evaluate(ON_PAPER)]
    assert not told, "\n".join(told)
