"""Curves under real mouse, wheel, fingers and keys: what is shown, asked for and measured."""

import time
from collections.abc import Callable
from typing import Any
from urllib.parse import parse_qs, urlparse

import numpy as np
import pytest
from playwright.sync_api import CDPSession, Page, Request, Route, expect

from tests.traces.plot_page import (
    DESK,
    END_S,
    PHONE,
    PLOT,
    RATE_HZ,
    area,
    at,
    cells,
    scrolled,
    time_of,
    tool,
    view,
)
from tests.traces.test_figures import numbers

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


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

    def test_a_button_let_go_outside_of_the_curve_does_not_drag_on(
        self, recorded: Callable[..., Page]
    ):
        page = recorded(**DESK)
        tool(page, "Zoom in").click()
        before = view(page)
        x, y = at(page, 0.7)
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x, area(page)["top"] - 30, steps=4)
        page.mouse.up()
        page.mouse.move(x, y, steps=4)
        page.mouse.move(x - 200, y, steps=8)
        assert view(page) == before

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


def test_a_slow_answer_leaves_the_old_curve_and_questions_do_not_pile_up(
    recorded: Callable[..., Page],
):
    page = recorded(**DESK)
    tool(page, "Zoom in").click()
    view(page)
    asked: list[dict[str, list[str]]] = []
    waiting: set[Request] = set()
    most_waiting = 0

    def asks(request: Request) -> None:
        nonlocal most_waiting
        if "curve.json" in request.url:
            waiting.add(request)
            most_waiting = max(most_waiting, len(waiting))

    def is_answered(request: Request) -> None:
        waiting.discard(request)

    page.on("request", asks)
    page.on("requestfinished", is_answered)
    page.on("requestfailed", is_answered)

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
    assert 1 <= len(asked) <= moves
    assert most_waiting <= 2  # one that was given up may be told after the next is asked
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
    cells(page, "clamp, V")
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
    page.get_by_role("group", name="Channels to show").get_by_text("clamp (V)").click()
    page.get_by_role("button", name="Show these").click()
    page.wait_for_url("**channel=2*")
    expect(page.locator(f"{PLOT} .scatterlayer .trace")).to_have_count(1)
    assert page.evaluate(f"document.querySelector('{PLOT}').data[0].name") == "coil"
