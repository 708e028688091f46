"""Curves under real mouse, wheel, fingers and keys: what is shown, asked for and measured."""

import re
import time
from collections.abc import Callable, Iterator
from typing import Any
from urllib.parse import parse_qs, urlparse

import numpy as np
import pytest
from playwright.sync_api import CDPSession, Locator, Page, Route, expect

from tests.conftest import PASSWORD, Cast
from tests.traces.conftest import analysed, csv_bytes
from tests.traces.test_figures import numbers
from traces.models import Capture, Run
from traces.selectors.cursor_values import Cursors, run_values

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

RATE_HZ = 2000.0
SECONDS = 6.0
END_S = SECONDS - 1 / RATE_HZ
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True}
DESK = {"viewport": {"width": 1280, "height": 800}}
PLOT = "#recorded-plot"


@pytest.fixture
def recorded(open_page: Callable, live_server, cast: Cast, add_read: Callable[..., Capture]):
    """Open a capture that was read and not set up, its channels drawn."""
    capture = add_read(csv_bytes(SECONDS, RATE_HZ))
    complaints: list[list[str]] = []

    def go(**options: Any) -> Page:
        page: Page
        page, said = open_page(base_url=live_server.url, **options)
        complaints.append(said)
        page.goto("/people/sign-in/")
        page.locator("[name=username]").fill(cast.diagnostician.user.username)
        page.locator("[name=password]").fill(PASSWORD)
        page.locator("main button[type=submit]").click()
        page.wait_for_url("**/jobs/")
        page.goto(f"/captures/{capture.pk}/")
        expect(page.locator(f"{PLOT} .scatterlayer .trace").first).to_be_visible()
        expect(page.locator("#recorded [data-plot-tools]")).to_be_visible()
        page.locator(PLOT).scroll_into_view_if_needed()
        return page

    yield go
    assert complaints
    assert not any(complaints), complaints


def view(page: Page) -> tuple[float, float]:
    """Return the stretch on the screen once nothing moves and its detail is there."""
    page.evaluate("window.lastRange = null")
    page.wait_for_function(
        f"""() => {{ const e = document.querySelector("{PLOT}"), at = performance.now();
          const now = e._fullLayout.xaxis.range.join(), x = e.data[0].x;
          if (now !== window.lastRange) {{ window.lastRange = now; window.lastMoved = at; }}
          const [from, to] = e._fullLayout.xaxis.range;
          const step = Math.max((to - from) / 100, 1 / {RATE_HZ});
          return at - window.lastMoved > 400 && x[0] <= from + step && x[x.length - 1] >= to - step
            && x[x.length - 1] - x[0] < 1.1 * (to - from) + 4 / {RATE_HZ}; }}"""
    )
    low, high = page.evaluate(f"document.querySelector('{PLOT}')._fullLayout.xaxis.range")
    return low, high


def area(page: Page) -> dict[str, float]:
    """Return where the axis lies on the screen."""
    found: dict[str, float] = page.evaluate(
        f"""() => {{ const e = document.querySelector("{PLOT}"), box = e.getBoundingClientRect();
          const a = e._fullLayout.xaxis;
          return {{left: box.left + a._offset, width: a._length, top: box.top,
                  middle: box.top + box.height / 2, height: box.height}}; }}"""
    )
    return found


def at(page: Page, share: float) -> tuple[float, float]:
    """Return the point of the screen at a share of the time axis."""
    place = area(page)
    return place["left"] + share * place["width"], place["middle"]


def tool(page: Page, name: str) -> Locator:
    return page.locator("#recorded").get_by_role("button", name=name, exact=True)


def scrolled(page: Page) -> float:
    found: float = page.evaluate("scrollY")
    return found


class TestWheel:
    def test_the_page_scrolls_until_the_curve_was_clicked(self, recorded: Callable[..., Page]):
        page = recorded(**DESK)
        before = scrolled(page)
        page.mouse.move(*at(page, 0.5))
        page.mouse.wheel(0, -120)
        page.wait_for_function("before => scrollY < before", arg=before)
        assert view(page) == pytest.approx((0, END_S))

    def test_after_a_click_it_zooms_about_the_pointer(self, recorded: Callable[..., Page]):
        page = recorded(**DESK)
        page.mouse.click(*at(page, 0.25))
        before = scrolled(page)
        for _ in range(4):
            page.mouse.wheel(0, -200)
        low, high = view(page)
        assert high - low < END_S / 5
        # what was under the pointer still is
        assert low + 0.25 * (high - low) == pytest.approx(0.25 * END_S, abs=(high - low) / 100)
        assert scrolled(page) == before
        page.keyboard.press("Escape")
        page.mouse.wheel(0, -100)
        page.wait_for_function("before => scrollY < before", arg=before)
        assert view(page) == pytest.approx((low, high))

    @pytest.mark.parametrize("key", ["Control", "Shift"])
    def test_with_a_key_held_it_always_zooms(self, recorded: Callable[..., Page], key: str):
        page = recorded(**DESK)
        page.mouse.move(*at(page, 0.5))
        page.keyboard.down(key)
        page.mouse.wheel(0, -300)
        page.keyboard.up(key)
        low, high = view(page)
        assert high - low < END_S * 0.7
        assert (low + high) / 2 == pytest.approx(END_S / 2, rel=0.01)

    def test_where_the_whole_is_shown_it_lets_the_page_scroll_on(
        self, recorded: Callable[..., Page]
    ):
        page = recorded(**DESK)
        page.mouse.click(*at(page, 0.5))
        page.mouse.wheel(0, 150)
        before = scrolled(page)
        page.wait_for_function("scrollY > 0")
        assert view(page) == pytest.approx((0, END_S))
        assert scrolled(page) >= before

    def test_the_closest_look_is_a_few_samples_and_shows_each(self, recorded: Callable[..., Page]):
        page = recorded(**DESK)
        page.mouse.click(*at(page, 0.5))
        for _ in range(30):
            page.mouse.wheel(0, -400)
        low, high = view(page)
        assert high - low == pytest.approx(4 / RATE_HZ)
        expect(page.locator(f"{PLOT} .scatterlayer .point").first).to_be_visible()
        x = np.array(page.evaluate(f"document.querySelector('{PLOT}').data[0].x"))
        assert 4 <= x.size <= 8
        told = page.locator("#recorded [data-plot-stretch]")
        expect(told).to_contain_text("every sample")
        tool(page, "Whole").click()
        expect(told).to_contain_text("Shown: 0.000 s to")
        expect(told).to_contain_text("highs and lows of 10 samples a pixel")
        assert np.diff(x) == pytest.approx(1 / RATE_HZ)


class TestDragging:
    def test_a_drag_pans_and_stops_at_the_ends(self, recorded: Callable[..., Page]):
        page = recorded(**DESK)
        tool(page, "Zoom in").click()
        low, high = view(page)
        assert (low, high) == pytest.approx((END_S / 4, END_S * 3 / 4))
        self._drag(page, 0.6, 0.4)
        moved_low, moved_high = view(page)
        assert moved_low == pytest.approx(low + 0.2 * (high - low), rel=0.01)
        assert moved_high - moved_low == pytest.approx(high - low)
        self._drag(page, 0.1, 0.95)
        self._drag(page, 0.1, 0.95)
        assert view(page) == pytest.approx((0, high - low), abs=1e-9)

    def test_a_box_is_zoomed_into_and_a_double_click_leads_back(
        self, recorded: Callable[..., Page]
    ):
        page = recorded(**DESK)
        tool(page, "Zoom box").click()
        expect(tool(page, "Zoom box")).to_have_attribute("aria-pressed", "true")
        expect(tool(page, "Pan")).to_have_attribute("aria-pressed", "false")
        x, y = at(page, 0.2)
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(*at(page, 0.3), steps=5)
        expect(page.locator(f"{PLOT} .plot-band")).to_be_visible()
        page.mouse.up()
        expect(page.locator(f"{PLOT} .plot-band")).to_be_hidden()
        assert view(page) == pytest.approx((0.2 * END_S, 0.3 * END_S), rel=0.01)
        page.mouse.dblclick(*at(page, 0.5))
        assert view(page) == pytest.approx((0, END_S))

    def test_the_strip_leads_to_another_part(self, recorded: Callable[..., Page]):
        page = recorded(**DESK)
        tool(page, "Zoom in").click()
        tool(page, "Zoom in").click()
        low, high = view(page)
        strip = page.locator("#recorded [data-plot-overview] canvas").bounding_box()
        assert strip
        page.mouse.click(strip["x"] + strip["width"] * 0.8, strip["y"] + 20)
        moved_low, moved_high = view(page)
        assert moved_high - moved_low == pytest.approx(high - low)
        assert (moved_low + moved_high) / 2 == pytest.approx(0.8 * END_S, rel=0.01)
        frame = page.locator("#recorded .plot-window").bounding_box()
        assert frame
        assert frame["width"] == pytest.approx(strip["width"] / 4, abs=3)

    def test_buttons_do_what_keys_do(self, recorded: Callable[..., Page]):
        page = recorded(**DESK)
        tool(page, "Zoom in").click()
        low, high = view(page)
        tool(page, "Later").click()
        assert view(page)[0] == pytest.approx(low + (high - low) / 4)
        tool(page, "Earlier").click()
        tool(page, "Zoom out").click()
        assert view(page) == pytest.approx((0, END_S))
        tool(page, "Zoom in").click()
        tool(page, "Whole").click()
        assert view(page) == pytest.approx((0, END_S))

    @staticmethod
    def _drag(page: Page, start: float, end: float) -> None:
        page.mouse.move(*at(page, start))
        page.mouse.down()
        page.mouse.move(*at(page, end), steps=12)
        page.mouse.up()


class Fingers:
    """Touches as the screen sends them."""

    def __init__(self, page: Page) -> None:
        self._page = page
        self._session: CDPSession = page.context.new_cdp_session(page)

    def send(self, kind: str, *points: tuple[float, float]) -> None:
        named = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(points)]
        self._session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": named})

    def drag(self, *ways: tuple[tuple[float, float], tuple[float, float]], steps: int = 12) -> None:
        """Move one finger for each way from its first point to its second."""
        self.send("touchStart", *(start for start, _ in ways))
        for step in range(1, steps + 1):
            part = step / steps
            self.send(
                "touchMove",
                *((a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part) for a, b in ways),
            )
            self._page.wait_for_timeout(16)
        self.send("touchEnd")

    def tap(self, point: tuple[float, float]) -> None:
        self.send("touchStart", point)
        self.send("touchEnd")


class TestFingers:
    @pytest.fixture
    def phone(self, recorded: Callable[..., Page]) -> Page:
        page = recorded(**PHONE)
        page.locator(PLOT).evaluate("e => e.scrollIntoView({block: 'center'})")
        return page

    def test_two_fingers_zoom_about_their_middle(self, phone: Page):
        (x, y), place = at(phone, 0.5), area(phone)
        apart = place["width"] * 0.1
        Fingers(phone).drag(
            ((x - apart, y), (x - 3 * apart, y)), ((x + apart, y), (x + 3 * apart, y))
        )
        low, high = view(phone)
        assert high - low == pytest.approx(END_S / 3, rel=0.1)
        assert (low + high) / 2 == pytest.approx(END_S / 2, rel=0.02)

    def test_a_finger_across_pans_and_the_page_stays(self, phone: Page):
        tool(phone, "Zoom in").click()
        phone.locator(PLOT).evaluate("e => e.scrollIntoView({block: 'center'})")
        low, high = view(phone)
        before = scrolled(phone)
        Fingers(phone).drag((at(phone, 0.8), at(phone, 0.3)))
        moved_low, moved_high = view(phone)
        assert moved_low == pytest.approx(low + 0.5 * (high - low), rel=0.05)
        assert moved_high - moved_low == pytest.approx(high - low)
        assert scrolled(phone) == before

    def test_a_finger_up_scrolls_the_page_and_the_curve_stays(self, phone: Page):
        tool(phone, "Zoom in").click()
        phone.locator(PLOT).evaluate("e => e.scrollIntoView({block: 'center'})")
        shown, before = view(phone), scrolled(phone)
        x, y = at(phone, 0.5)
        Fingers(phone).drag(((x, y + 60), (x + 4, y - 120)))
        phone.wait_for_function("before => scrollY > before + 60", arg=before)
        assert view(phone) == pytest.approx(shown)

    def test_a_double_tap_shows_the_whole(self, phone: Page):
        tool(phone, "Zoom in").click()
        phone.locator(PLOT).evaluate("e => e.scrollIntoView({block: 'center'})")
        assert view(phone)[0] > 1
        fingers = Fingers(phone)
        fingers.tap(at(phone, 0.5))
        fingers.tap(at(phone, 0.5))
        assert view(phone) == pytest.approx((0, END_S))

    def test_a_tap_sets_a_cursor_and_a_finger_drags_it(self, phone: Page):
        tool(phone, "Cursors").click()
        phone.locator(PLOT).evaluate("e => e.scrollIntoView({block: 'center'})")
        fingers = Fingers(phone)
        fingers.tap(at(phone, 0.25))
        expect(phone.locator(f"{PLOT} .plot-cursor-a")).to_be_visible()
        fingers.drag((at(phone, 0.27), at(phone, 0.6)))
        assert time_of(phone, "A") == pytest.approx(0.6 * END_S, rel=0.02)
        assert view(phone) == pytest.approx((0, END_S)), "the curve stayed"


def test_keys_go_everywhere(recorded: Callable[..., Page]):
    page = recorded(**DESK)
    page.focus(PLOT)

    def pressed(*keys: str) -> tuple[float, float]:
        for key in keys:
            page.keyboard.press(key)
        return view(page)

    half = END_S / 2
    assert pressed("+") == pytest.approx((END_S / 4, END_S * 3 / 4))
    assert pressed("+", "ArrowLeft")[0] == pytest.approx(END_S * (3 / 8 - 1 / 16))
    assert pressed("ArrowRight")[0] == pytest.approx(END_S * 3 / 8)
    assert pressed("PageDown") == pytest.approx((half + END_S / 8, half + END_S * 3 / 8))
    assert pressed("PageUp")[0] == pytest.approx(END_S * 3 / 8)
    assert pressed("Home") == pytest.approx((0, END_S / 4))
    assert pressed("End") == pytest.approx((END_S * 3 / 4, END_S))
    assert pressed("-")[1] == pytest.approx(END_S)
    assert pressed("0") == pytest.approx((0, END_S))
    page.keyboard.press("Escape")
    assert page.evaluate("document.activeElement === document.body")


def time_of(page: Page, name: str) -> float:
    """Return a cursor's time as the page tells it."""
    row = page.locator("#recorded [data-plot-readout] dl > div").filter(
        has=page.locator("dt", has_text=re.compile(f"^{re.escape(name)}$"))
    )
    return float(row.locator("dd").inner_text().split()[0].replace("−", "-"))


def cells(page: Page, channel: str) -> list[float]:
    """Return what the page tells of a channel at and between the cursors."""
    row = page.locator("#recorded [data-plot-readout] tbody tr").filter(has_text=channel)
    expect(row.locator("td").first).to_have_text(re.compile(r"^[−\d]"))
    return [float(t.replace("−", "-")) for t in row.locator("td").all_inner_texts()]


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
        assert time_of(page, "If one engine cycle") == pytest.approx(120 / apart, rel=1e-4)
        assert time_of(page, "If one crank turn") == pytest.approx(60 / apart, rel=1e-4)
        values = samples(0)
        first, last = round(a_s * RATE_HZ), round(b_s * RATE_HZ)
        between = values[first : last + 1]
        expected = [values[first], values[last], values[last] - values[first]]
        expected += [between.min(), between.mean(), between.max()]
        assert cells(page, "A, V") == pytest.approx(expected, abs=2e-5)
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


def test_a_slow_answer_leaves_the_old_curve_and_questions_do_not_pile_up(
    recorded: Callable[..., Page],
):
    page = recorded(**DESK)
    tool(page, "Zoom in").click()
    view(page)
    asked: list[dict[str, list[str]]] = []

    def slowly(route: Route) -> None:
        asked.append(parse_qs(urlparse(route.request.url).query))
        time.sleep(0.25)
        route.continue_()

    page.route("**/curve.json*", slowly)
    moves = 40
    page.mouse.move(*at(page, 0.8))
    page.mouse.down()
    begun = at(page, 0.8)
    for step in range(moves):
        page.mouse.move(begun[0] - step * 8, begun[1])
        drawn = page.evaluate(f"document.querySelectorAll('{PLOT} .scatterlayer .trace').length")
        assert drawn == 2, "the old curve stays"
    page.mouse.up()
    low, high = view(page)
    assert 1 <= len(asked) <= moves / 3
    assert (float(asked[-1]["from"][0]), float(asked[-1]["to"][0])) == pytest.approx((low, high))


@pytest.mark.parametrize("device", [PHONE, DESK], ids=["phone", "desk"])
def test_each_answer_holds_two_points_a_pixel_at_most(
    recorded: Callable[..., Page], device: dict[str, Any]
):
    page = recorded(**device)
    answers: list[tuple[int, int]] = []
    for name in ("Whole", "Zoom in", "Zoom in", "Zoom in"):
        with page.expect_response("**/curve.json*") as asked:
            page.reload() if name == "Whole" else tool(page, name).click()
        query = parse_qs(urlparse(asked.value.url).query)
        found = asked.value.json()["data"]
        answers.append((int(query["pixels"][0]), max(numbers(t["y"]).size for t in found)))
        expect(page.locator("#recorded [data-plot-tools]")).to_be_visible()
        view(page)
    assert len(answers) == 4
    assert all(size <= 2 * pixels for pixels, size in answers)
    width = page.evaluate(f"document.querySelector('{PLOT}').clientWidth")
    assert all(width <= pixels < width + 100 for pixels, _ in answers)


@pytest.mark.parametrize("device", [PHONE, DESK], ids=["phone", "desk"])
def test_nothing_sticks_out_with_cursors_set(recorded: Callable[..., Page], device: dict[str, Any]):
    page = recorded(**device)
    page.focus(PLOT)
    page.keyboard.press("a")
    page.keyboard.press("b")
    cells(page, "A, V")
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    small = page.evaluate(
        """() => [...document.querySelectorAll("#recorded .btn, #recorded summary")]
           .map((e) => e.getBoundingClientRect()).filter((b) => b.height < 44 || b.width < 44)"""
    )
    assert small == []


def test_the_curve_is_printed_at_papers_width_and_its_tools_are_not(
    recorded: Callable[..., Page],
):
    page = recorded(**DESK)
    tool(page, "Zoom in").click()
    shown = view(page)
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    drawing = page.locator(f"{PLOT} .main-svg").first
    # 210 mm less two margins of 12 mm, at 96 pixels an inch
    expect(drawing).to_have_attribute("width", "680")
    expect(page.locator("#recorded [data-plot-tools]")).to_be_hidden()
    expect(page.locator("#recorded [data-plot-overview]")).to_be_hidden()
    expect(page.locator("#recorded-ways")).to_be_hidden()
    page.emulate_media(media="screen")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    expect(drawing).not_to_have_attribute("width", "680")
    assert view(page) == pytest.approx(shown)


def test_channels_are_chosen(recorded: Callable[..., Page]):
    page = recorded(**DESK)
    assert page.locator(f"{PLOT} .scatterlayer .trace").count() == 2
    page.get_by_role("group", name="Channels to show").get_by_text("A (V)").click()
    page.get_by_role("button", name="Show these").click()
    page.wait_for_url("**channel=2*")
    expect(page.locator(f"{PLOT} .scatterlayer .trace")).to_have_count(1)
    assert page.evaluate(f"document.querySelector('{PLOT}').data[0].name") == "B"


class TestARunsCurve:
    @pytest.fixture
    def page(
        self, open_page: Callable, live_server, cast: Cast, add_read: Callable[..., Capture]
    ) -> Iterator[tuple[Page, Run]]:
        run = analysed(add_read, cast.diagnostician, "ref-01.csv", None)
        page, complaints = open_page(base_url=live_server.url, **DESK)
        page.goto("/people/sign-in/")
        page.locator("[name=username]").fill(cast.mechanic.user.username)
        page.locator("[name=password]").fill(PASSWORD)
        page.locator("main button[type=submit]").click()
        page.wait_for_url("**/jobs/")
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
            shown.get_by_text("All channels as they were recorded").click()
        expect(shown.locator("#recorded-plot .scatterlayer .trace").first).to_be_visible()
        shown.locator("#recorded").get_by_role("button", name="Zoom in").click()
        expect(shown.locator("#recorded [data-plot-stretch]")).to_contain_text("Shown: ")
        # each curve has a view of its own
        whole = shown.evaluate("document.querySelector('#curve-plot')._fullLayout.xaxis.range")
        assert whole[0] == pytest.approx(0, abs=0.01)
