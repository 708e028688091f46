"""The pages of the demo's captures in a browser: short, the verdict first, signing at hand."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from jobs.models import Judgement, VisitCapture
from shopdiag.people.core.roles import Role
from shopdiag.people.models import User
from tests.jobs.demo_shop import fill_demo_shop
from tests.traces.conftest import media  # noqa: F401 - a fixture

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DESK, PHONE = (1280, 900), (390, 844)
MOST_HIGH = {DESK: 1_800, PHONE: 3_200}
MEASURE = """() => {
  const foot = (e) => e && Math.round(e.getBoundingClientRect().bottom);
  const one = (selector) => document.querySelector(selector);
  const bar = one(".sign-bar");
  return {
    height: document.documentElement.scrollHeight,
    wide: document.documentElement.scrollWidth - innerWidth,
    seen: bar ? Math.round(bar.getBoundingClientRect().top) : innerHeight,
    verdict: foot(one(".verdict-sentence")),
    which: foot(one(".verdict-words")),
    bars: foot(one(".verdict-bars")) || 0,
    curve: Math.round(one("#curve .figure-inner").getBoundingClientRect().top),
    bar_foot: bar ? foot(bar) : innerHeight,
  };
}"""
NAMES_ON_EACH_OTHER = """() => {
  const boxes = [...document.querySelectorAll("#curve-plot .textpoint text")]
    .map((e) => e.getBoundingClientRect()).filter((b) => b.width > 0);
  const beside = (a, b) => a.left < b.right && b.left < a.right;
  const touch = (a, b) => beside(a, b) && a.top < b.bottom && b.top < a.bottom;
  const on = boxes.filter((a, i) => boxes.some((b, n) => n < i && touch(a, b)));
  return [boxes.length, on.length];
}"""
FOCUS_IS_CLEAR = """() => {
  const bar = document.querySelector(".sign-bar").getBoundingClientRect();
  if (document.activeElement.matches("body, .sign-bar *")) {
    return true;
  }
  const box = document.activeElement.getBoundingClientRect();
  return box.bottom <= bar.top + 1 || box.top >= bar.bottom - 1;
}"""


# The curve is drawn again to the width of the window, some time after it has changed.
CURVE_FITS = """() => {
  const plot = document.querySelector("#curve-plot");
  const drawn = plot.querySelector(".main-svg").getBoundingClientRect().width;
  return Math.abs(drawn - plot.getBoundingClientRect().width) < 2;
}"""


def test_the_demos_captures_are_short_and_begin_with_the_verdict(
    signed_in_page: Callable[..., tuple[Page, list[str]]],
    media: Path,  # noqa: F811
) -> None:
    people = fill_demo_shop()
    page, complaints = signed_in_page(people[Role.DIAGNOSTICIAN], device_scale_factor=3)
    told, names, heights = [], 0, {}
    ties = list(VisitCapture.objects.order_by("pk"))
    assert len(ties) > 6
    for tie in ties:
        page.goto(f"/jobs/captures/{tie.capture_id}/")
        expect(page.locator("#curve-plot .main-svg").first).to_be_visible()
        for size, most in MOST_HIGH.items():
            page.set_viewport_size({"width": size[0], "height": size[1]})
            found = page.evaluate(MEASURE)
            print(f"{tie.capture}, {size[0]} px wide: {found['height']} px high")  # noqa: T201 - what this is for
            where = f"{tie.capture}, {size[0]}: {found}"
            heights[tie.capture_id] = found["height"]
            told += [where] if found["height"] > most or found["wide"] > 0 else []
            told += [where] if found["verdict"] > found["seen"] else []
            told += [where] if found["bar_foot"] != size[1] else []
            parts = ("which", "bars", "curve")
            page.wait_for_function(CURVE_FITS)
            named, on_each_other = page.evaluate(NAMES_ON_EACH_OTHER)
            names += named
            told += [f"{where}, names: {on_each_other}"] if on_each_other else []
            if size == DESK and any(found[part] > found["seen"] for part in parts):
                told.append(where)
    assert not told, "\n".join(told)
    assert names > 100
    _check_signing(page, ties)
    _check_spanish(page, max(heights, key=lambda pk: heights[pk]))
    assert complaints == []


def _check_spanish(page: Page, longest: int) -> None:
    """The longest of them is as short in the language that takes more room."""
    User.objects.update(language="es")
    page.goto(f"/jobs/captures/{longest}/")
    expect(page.locator("#curve-plot .main-svg").first).to_be_visible()
    for size, most in MOST_HIGH.items():
        page.set_viewport_size({"width": size[0], "height": size[1]})
        found = page.evaluate(MEASURE)
        print(f"capture {longest}, es, {size[0]} px wide: {found['height']} px high")  # noqa: T201 - what this is for
        assert found["height"] <= most
        assert found["wide"] <= 0
    ticks = page.locator("#curve-plot .ytick text").all_text_contents()
    shown = page.locator("#curve [data-plot-stretch]").inner_text()
    assert "," in shown
    assert not [tick for tick in [*ticks, shown] if "." in tick.rstrip(".")]


def _check_signing(page: Page, ties: list[VisitCapture]) -> None:
    """A choice opens its form without losing what is typed, and the bar covers no field."""
    signed = set(Judgement.objects.values_list("run__capture_id", flat=True))
    tie = next(t for t in ties if t.capture_id not in signed and t.purpose == "diagnosis")
    page.goto(f"/jobs/captures/{tie.capture_id}/")
    bar = page.locator(".sign-bar")
    bar.get_by_role("link", name="Overrule").click()
    words = page.locator("#own textarea")
    words.fill("typed before the choice")
    bar.get_by_role("link", name="None found").click()
    expect(page.locator("#own input[name=mechanical][value=no]")).to_be_checked()
    expect(words).to_have_value("typed before the choice")
    page.evaluate("scrollTo(0, 0)")
    covered = []
    for _ in range(120):
        page.keyboard.press("Tab")
        if not page.evaluate(FOCUS_IS_CLEAR):
            covered.append(page.evaluate("document.activeElement.outerHTML.slice(0, 90)"))
    assert not covered
