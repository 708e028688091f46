"""Comparing in a browser: choose, see both curves, on a phone and on paper."""

from itertools import product
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.traces.core.cranked import cranked
from tests.traces.judged_runs import judged_run
from tests.unfolding import unfold

MEASURE = (Path(__file__).parents[1] / "shopdiag" / "measuring.js").read_text()

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def opened(signed_in_page, cast, add_read, engine):
    """Return a page on the later of two captures, and what the browser complains about."""
    judged_run(add_read, cast.diagnostician, cranked("I4", 2, "one"), engine, name="before.csv")
    after = judged_run(
        add_read, cast.diagnostician, cranked("I4", 2, later_deg=250), engine, name="after", seed=2
    )

    def go(**options):
        page, complaints = signed_in_page(cast.diagnostician, **options, keep=True)
        page.goto(f"/captures/{after.capture_id}/runs/{after.pk}/")
        unfold(page, "Compare")
        return page, complaints

    return go


def test_kept_as_known_good_and_laid_under_another(opened):
    page, complaints = opened()
    page.get_by_text("Keep as known good").first.click()
    page.get_by_label("How it is known to be good").fill("gauge 13 bar on all four")
    page.get_by_role("button", name="Keep as known good").click()
    expect(page.get_by_text("Kept as known good for this engine.")).to_be_visible()
    page.get_by_role("link", name="Known good", exact=True).click()
    expect(page.get_by_role("cell", name="gauge 13 bar on all four")).to_be_visible()
    page.get_by_role("link", name="after", exact=True).click()
    unfold(page, "Compare")
    page.locator("#compare").get_by_role("link", name="Compare").click()
    page.get_by_role("link", name="before.csv").click()
    picture = page.get_by_role("img", name="Mean engine cycle of the known-good capture")
    expect(picture).to_be_visible()
    expect(picture.locator("[data-curve]")).to_have_count(2)
    # hidden in no theme: both take the ink of the page
    inks = picture.locator("[data-curve]").evaluate_all(
        "curves => curves.map(c => getComputedStyle(c).stroke)"
    )
    assert inks[0] == inks[1] != "none"
    dashes = picture.locator("[data-curve]").evaluate_all(
        "curves => curves.map(c => getComputedStyle(c).strokeDasharray)"
    )
    assert dashes[0] != "none"
    assert dashes[1] == "none"
    expect(page.get_by_role("cell", name="changed lower")).to_have_count(1)
    assert complaints == []


def test_looking_closer_with_keys_and_cursors(opened):
    page, complaints = opened(viewport={"width": 1280, "height": 900})
    page.locator("#compare").get_by_role("link", name="Compare").click()
    page.get_by_role("link", name="before.csv").click()
    page.get_by_text("Look closer at the curves").click()
    curve = page.locator("#compared-closer-plot")
    expect(curve.locator(".scatterlayer .trace")).to_have_count(2)
    page.get_by_label("Show the difference").check()
    expect(curve.locator(".scatterlayer .trace")).to_have_count(3)
    curve.focus()
    page.keyboard.press("+")
    shown = "() => document.querySelector('#compared-closer-plot')._fullLayout.xaxis.range"
    page.wait_for_function(f"() => {{ const r = ({shown})(); return r[1] - r[0] < 700; }}")
    page.keyboard.press("0")
    page.wait_for_function(f"() => {{ const r = ({shown})(); return r[1] - r[0] === 720; }}")
    stretch = page.locator("#compared-closer [data-plot-stretch]")
    expect(stretch).to_have_text("Shown: 0 to 720 degrees of crank.")
    page.keyboard.press("a")
    expect(page.locator("#compared-closer [data-plot-readout] dl")).to_contain_text("360.0°")
    flag = page.locator("#compared-closer-plot .plot-cursor-a span").bounding_box()
    legend = page.locator("#compared-closer-plot .legend").bounding_box()
    assert flag["y"] + flag["height"] <= legend["y"] + 1
    assert complaints == []


def test_on_a_phone_nothing_runs_over_the_edge(opened):
    page, _ = opened(viewport={"width": 390, "height": 844}, has_touch=True)
    page.locator("#compare").get_by_role("link", name="Compare").click()
    page.get_by_role("link", name="before.csv").tap()
    picture = page.get_by_role("img", name="Mean engine cycle")
    expect(picture).to_be_visible()
    box = picture.bounding_box()
    assert box is not None
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 390
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_on_paper_both_curves_and_the_tables_stand(opened):
    page, _ = opened()
    page.locator("#compare").get_by_role("link", name="Compare").click()
    page.get_by_role("link", name="before.csv").click()
    page.emulate_media(media="print")
    picture = page.get_by_role("img", name="Mean engine cycle")
    expect(picture).to_be_visible()
    expect(page.get_by_role("table", name="Relative compression in both captures")).to_be_visible()
    expect(page.get_by_role("table", name="Conditions of both captures")).to_be_visible()
    expect(page.get_by_text("Choose another one to compare with")).to_be_hidden()
    inks = picture.locator("[data-curve]").evaluate_all(
        "curves => curves.map(c => getComputedStyle(c).stroke)"
    )
    assert set(inks) != {"rgb(255, 255, 255)"}


def test_it_can_be_read_hit_and_named_by_everybody(opened):
    page, _ = opened(viewport={"width": 1280, "height": 844})
    page.locator("#compare").get_by_role("link", name="Compare").click()
    page.get_by_role("link", name="before.csv").click()
    expect(page.get_by_role("img", name="Mean engine cycle")).to_be_visible()
    page.get_by_text("Choose another one to compare with").click()
    for width, theme in product((1280, 390, 320), ("light", "dark")):
        page.set_viewport_size({"width": width, "height": 844})
        page.emulate_media(color_scheme=theme)
        assert page.evaluate(MEASURE) == [], (width, theme)
