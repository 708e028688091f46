"""The two measuring cursors of a curve, and the curve of a run, under real hands."""

import re
from collections.abc import Callable, Iterator

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from tests.conftest import Cast
from tests.traces.conftest import analysed, csv_bytes
from tests.traces.plot_page import (
    DESK,
    END_S,
    PLOT,
    RATE_HZ,
    SECONDS,
    at,
    cells,
    time_of,
    tool,
    view,
)
from tests.unfolding import unfold
from tests.wording import wording
from traces.models import Capture, Run
from traces.selectors.cursor_values import Cursors, run_values

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def samples(channel: int) -> np.ndarray:
    """Return a channel as the test's own file has it."""
    rows = csv_bytes(SECONDS, RATE_HZ).decode().splitlines()[2:]
    return np.array([float(row.split(",")[channel + 1]) for row in rows])


class TestCursors:
    def test_they_measure_time_speed_and_the_very_samples(self, recorded: Callable[..., Page]):
        page = recorded(**DESK)
        page.evaluate(
            """() => { window.told = [];
              document.addEventListener("plot:cursors", (e) => window.told.push(e.detail)); }"""
        )
        tool(page, "Cursors").click()
        page.mouse.click(*at(page, 0.2))
        assert page.evaluate("window.told.at(-1).b_s") is None
        page.mouse.click(*at(page, 0.7))
        a_s, b_s = time_of(page, "A"), time_of(page, "B")
        assert a_s == pytest.approx(0.2 * END_S, abs=0.02)
        assert b_s == pytest.approx(0.7 * END_S, abs=0.02)
        # always on a sample
        assert round(a_s * RATE_HZ) / RATE_HZ == pytest.approx(a_s, abs=1e-9)
        assert page.evaluate("window.told.at(-1)") == pytest.approx({"a_s": a_s, "b_s": b_s})
        assert time_of(page, "B − A") == pytest.approx(1000 * (b_s - a_s))
        apart = b_s - a_s
        assert time_of(page, "As a frequency") == pytest.approx(1 / apart, rel=1e-4)
        assert time_of(page, wording("plot-cursors.if-one-engine-cycle")) == pytest.approx(
            120 / apart, rel=1e-4
        )
        assert time_of(page, wording("plot-cursors.if-one-crank-turn")) == pytest.approx(
            60 / apart, rel=1e-4
        )
        values = samples(0)
        first, last = round(a_s * RATE_HZ), round(b_s * RATE_HZ)
        between = values[first : last + 1]
        expected = [values[first], values[last], values[last] - values[first]]
        expected += [between.min(), between.mean(), between.max()]
        assert cells(page, "clamp, V") == pytest.approx(expected, abs=2e-5)
        spoken = page.locator("#recorded [data-plot-readout] [aria-live]")
        expect(spoken).to_contain_text("If one engine cycle")
        expect(spoken).to_contain_text("at A")

    def test_they_are_dragged_in_any_tool_by_their_flags(self, recorded: Callable[..., Page]):
        page = recorded(**DESK)
        tool(page, "Cursors").click()
        page.mouse.click(*at(page, 0.3))
        tool(page, "Pan").click()
        flag = page.locator(f"{PLOT} .plot-cursor-a span").bounding_box()
        assert flag
        page.mouse.move(flag["x"] + flag["width"] / 2, flag["y"] + flag["height"] / 2)
        page.mouse.down()
        page.mouse.move(at(page, 0.5)[0], flag["y"], steps=8)
        page.mouse.up()
        assert time_of(page, "A") == pytest.approx(END_S / 2, abs=0.02)
        assert view(page) == pytest.approx((0, END_S))

    def test_keys_set_and_step_them(self, recorded: Callable[..., Page]):
        page = recorded(**DESK)
        page.focus(PLOT)
        page.keyboard.press("a")
        middle = round(END_S / 2 * RATE_HZ) / RATE_HZ
        assert time_of(page, "A") == pytest.approx(middle, abs=1 / RATE_HZ)
        page.keyboard.press("+")
        page.keyboard.press("End")
        view(page)
        page.keyboard.press("b")
        before = time_of(page, "B")
        page.keyboard.press(".")
        page.keyboard.press(".")
        page.keyboard.press(",")
        assert time_of(page, "B") == pytest.approx(before + 1 / RATE_HZ)
        page.keyboard.press("Shift+ArrowRight")
        assert time_of(page, "B") == pytest.approx(
            before + 1 / RATE_HZ + END_S / 200, abs=1 / RATE_HZ
        )
        # a cursor that leaves the view takes it along
        page.keyboard.press("Home")
        view(page)
        page.keyboard.press(",")
        low, high = view(page)
        assert low < time_of(page, "B") < high

    def test_forms_that_ask_for_it_follow_them(self, recorded: Callable[..., Page]):
        page = recorded(**DESK)
        page.evaluate(
            """() => { for (const follows of [true, false]) {
                const form = document.createElement("form");
                form.id = follows ? "follows" : "stays";
                form.toggleAttribute("data-follows-cursors", follows);
                for (const name of ["a", "b"]) {
                  const input = document.createElement("input");
                  input.dataset.cursor = name; input.value = "typed";
                  form.append(input);
                }
                document.querySelector("main").append(form); } }"""
        )
        page.focus(PLOT)
        page.keyboard.press("a")
        page.keyboard.press("b")
        page.keyboard.press(".")
        filled = page.locator("#follows input")
        assert filled.nth(0).input_value() == f"{time_of(page, 'A'):.6f}"
        assert filled.nth(1).input_value() == f"{time_of(page, 'B'):.6f}"
        page.get_by_role("button", name="Take the cursors away").click()
        assert [i.input_value() for i in filled.all()] == ["", ""]
        expect(page.locator(f"{PLOT} .plot-cursor-a")).to_be_hidden()
        expect(page.locator("#recorded [data-plot-readout]")).to_be_hidden()
        assert [i.input_value() for i in page.locator("#stays input").all()] == ["typed"] * 2


class TestARunsCurve:
    @pytest.fixture
    def page(
        self, signed_in_page: Callable, cast: Cast, add_read: Callable[..., Capture]
    ) -> Iterator[tuple[Page, Run]]:
        run = analysed(add_read, cast.diagnostician, "ref-01.csv", None)
        page, complaints = signed_in_page(cast.mechanic, **DESK, keep=True)
        page.goto(f"/captures/{run.capture_id}/")
        expect(page.locator("#curve [data-plot-tools]")).to_be_visible()
        yield page, run
        assert complaints == []

    def test_cursors_read_amps(self, page: tuple[Page, Run]):
        shown, run = page
        shown.focus("#curve-plot")
        shown.keyboard.press("a")
        shown.keyboard.press("+")
        shown.keyboard.press("End")
        shown.keyboard.press("b")
        flag = shown.locator("#curve-plot .plot-cursor-b span").bounding_box()
        legend = shown.locator("#curve-plot .legend").bounding_box()
        assert flag
        assert legend
        assert flag["y"] + flag["height"] <= legend["y"] + 1, "no flag stands on the legend"
        row = shown.locator("#curve [data-plot-readout] tbody tr").first
        expect(row.locator("td").nth(1)).to_have_text(re.compile(r"^[−\d]"))
        times_s = shown.locator("#curve [data-plot-readout] dd").all_inner_texts()
        cursors = Cursors(*(float(t.split()[0]) for t in times_s[:2]))
        expected = run_values(run, cursors)["channels"][0]
        told = [float(t.replace("−", "-")) for t in row.locator("td").all_inner_texts()]
        names = ("a", "b", "difference", "minimum", "mean", "maximum")
        assert told == pytest.approx([expected[n] for n in names], rel=1e-4)
        expect(row.locator("th")).to_have_text("Cranking current, A")

    def test_what_may_be_hidden_has_a_box(self, page: tuple[Page, Run]):
        shown, _ = page
        box = shown.get_by_role("checkbox", name="Show the fitted curve")
        expect(box).to_be_checked()
        lines = shown.locator("#curve-plot .scatterlayer .trace")
        before = lines.count()
        box.uncheck()
        expect(lines).to_have_count(before - 1)
        # and stays away in the next view
        shown.locator("#curve").get_by_role("button", name="Zoom in").click()
        expect(shown.locator("#curve [data-plot-stretch]")).to_contain_text("Shown: 0.839 s")
        names = "document.querySelector('#curve-plot')._fullData.filter((t) => t.visible === true)"
        assert "fitted curve" not in shown.evaluate(f"{names}.map((t) => t.name)")
        box.check()
        shown.wait_for_function(f"{names}.some((t) => t.name === 'fitted curve')")

    def test_the_recorded_channels_wait_behind_a_fold(self, page: tuple[Page, Run]):
        shown, _ = page
        expect(shown.locator("#recorded-plot .scatterlayer .trace")).to_have_count(0)
        with shown.expect_response("**/curve.json*"):
            unfold(shown, "As recorded")
        expect(shown.locator("#recorded-plot .scatterlayer .trace").first).to_be_visible()
        shown.locator("#recorded").get_by_role("button", name="Zoom in").click()
        expect(shown.locator("#recorded [data-plot-stretch]")).to_contain_text("Shown: ")
        # each curve has a view of its own
        whole = shown.evaluate("document.querySelector('#curve-plot')._fullLayout.xaxis.range")
        assert whole[0] == pytest.approx(0, abs=0.01)
