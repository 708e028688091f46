"""A tap on a hump offers what can be done about it; each choice is a form of the page."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.conftest import Cast
from traces.core.setup import ManualEdits
from traces.models import PinnedNote, Run

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

NTH = 6
WHERE = """(nth) => {
  const plot = document.querySelector("#curve-plot");
  plot.scrollIntoView({ block: "center" });
  const humps = plot.data.filter((t) => t.meta?.names)
    .flatMap((t) => t.x.map((at, i) => [at, ...t.customdata[i]])).sort((a, b) => a[0] - b[0]);
  const { xaxis } = plot._fullLayout, box = plot.getBoundingClientRect();
  const [at, name, cycle] = humps[nth];
  const x = box.left + xaxis._offset + xaxis.l2p(at);
  return { x, y: box.top + box.height / 2, at, name, cycle };
}"""

LAST_IS_SEEN = """() => {
  const [box, hump] = ["#curve-plot .plot-humps", "#curve-plot .plot-hump:last-child"]
    .map((one) => document.querySelector(one).getBoundingClientRect());
  const middle = (hump.left + hump.right) / 2;
  return box.left + 5 < middle && middle < box.right - 5;
}"""


@pytest.fixture
def tapped(signed_in_page: Callable, cast: Cast, run: Run) -> tuple[Page, dict, list[str]]:
    """A diagnostician's page of a capture with a hump tapped, and which one it is."""
    page, complaints = signed_in_page(cast.diagnostician, keep=True)
    page.goto(f"/captures/{run.capture_id}/")
    expect(page.locator("#curve-plot .textpoint").first).to_be_visible()
    hump = page.evaluate(WHERE, NTH)
    page.mouse.click(hump["x"], hump["y"])
    menu = page.locator("#hump-menu")
    expect(menu).to_contain_text(f"Cylinder {hump['name']}, cycle {hump['cycle']}")
    return page, hump, complaints


def test_this_is_another_cylinder(tapped: tuple[Page, dict, list[str]], run: Run) -> None:
    page, hump, complaints = tapped
    order = list(run.setup.analysis.firing_order.sequence)
    wanted = order[(order.index(int(hump["name"])) + 1) % len(order)]
    page.get_by_label("This is cylinder").select_option(str(wanted))
    page.get_by_role("button", name="Renumber").click()
    page.wait_for_url("**/runs/*/")
    made = Run.objects.first()
    assert made
    assert made.setup.analysis.hand == ManualEdits(shift=1)
    assert complaints == []


def test_this_cycle_is_left_out(tapped: tuple[Page, dict, list[str]], run: Run) -> None:
    page, hump, complaints = tapped
    page.get_by_role("button", name="Leave out this cycle").click()
    page.wait_for_url("**/runs/*/")
    made = Run.objects.first()
    assert made
    ((from_s, to_s),) = made.setup.analysis.hand.left_out_s
    assert from_s <= hump["at"] < to_s
    assert complaints == []


def test_a_stretch_and_a_note_are_filled_in_for_a_person_to_send(
    tapped: tuple[Page, dict, list[str]], run: Run
) -> None:
    page, hump, complaints = tapped
    page.get_by_role("button", name="Judge from here").click()
    expect(page.locator("#by-hand").get_by_label("From")).to_have_value(f"{hump['at']:.6f}")
    assert run.report
    to_s = page.locator("#by-hand").get_by_label("To", exact=True).input_value()
    assert float(to_s) == pytest.approx(run.report.judged_to_s)
    expect(page.locator("#hump-menu")).to_be_hidden()
    assert Run.objects.count() == 1

    hump = page.evaluate(WHERE, NTH + 3)  # twice at one place shows the whole
    page.mouse.click(hump["x"], hump["y"])
    page.get_by_role("button", name="Pin a note").click()
    expect(page.locator("#notes textarea")).to_be_focused()
    page.keyboard.type("limps here")
    page.get_by_role("button", name="Pin the note").click()
    expect(page.locator("#notes .note")).to_contain_text("limps here")
    assert PinnedNote.objects.get().at_s == pytest.approx(hump["at"], abs=1e-5)
    assert complaints == []


def test_a_keyboard_comes_from_hump_to_hump_and_opens_the_menu(
    signed_in_page: Callable, cast: Cast, run: Run
) -> None:
    page, complaints = signed_in_page(cast.diagnostician, keep=True)
    page.goto(f"/captures/{run.capture_id}/")
    humps = page.locator("#curve-plot .plot-hump")
    expect(page.get_by_role("group", name="Humps").get_by_role("button").first).to_be_attached()
    page.locator("#curve-plot").focus()
    page.keyboard.press("Tab")
    names = [humps.nth(i).get_attribute("aria-label") for i in (0, 1, 2)]
    expect(humps.nth(0)).to_be_focused()
    for key, at in (("ArrowRight", 1), ("ArrowRight", 2), ("ArrowLeft", 1), ("Home", 0)):
        page.keyboard.press(key)
        expect(humps.nth(at)).to_be_focused()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    menu = page.locator("#hump-menu")
    expect(menu).to_contain_text(str(names[1]))
    assert len(set(names)) == len(names)
    expect(humps.nth(1)).to_have_attribute("aria-expanded", "true")
    expect(menu.get_by_label("This is cylinder")).to_be_focused()
    page.keyboard.press("Escape")
    expect(menu).to_be_hidden()
    expect(humps.nth(1)).to_be_focused()
    expect(humps.nth(1)).to_have_attribute("aria-expanded", "false")

    # where the next hump lies outside, the curve comes along
    for _ in range(4):
        page.keyboard.press("+")
    page.keyboard.press("End")
    last = humps.nth(humps.count() - 1)
    expect(last).to_be_focused()
    page.wait_for_function(LAST_IS_SEEN)
    page.keyboard.press("Home")
    for _ in range(NTH):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Leave out this cycle").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/runs/*/")
    assert Run.objects.count() == 2
    assert complaints == []


def test_who_may_not_capture_is_offered_nothing(
    signed_in_page: Callable, cast: Cast, run: Run
) -> None:
    page, _ = signed_in_page(cast.writer)
    page.goto(f"/captures/{run.capture_id}/")
    expect(page.locator("#curve-plot .textpoint").first).to_be_visible()
    hump = page.evaluate(WHERE, NTH)
    page.mouse.click(hump["x"], hump["y"])
    expect(page.locator("#hump-menu")).to_have_count(0)
