"""The look in Chromium: policy kept, plots drawn, theme remembered, files sent one by one."""

import base64
import re
from urllib.parse import parse_qs, urlparse

import pytest
from django.urls import reverse
from playwright.sync_api import Page, Route, expect

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WIDTHS = {"bench": 1280, "tablet": 820, "phone": 390}


@pytest.fixture
def kit(live_server) -> str:
    return f"{live_server.url}{reverse('kit')}"


def _drawn(page: Page) -> None:
    expect(page.locator("#sample-plot .scatterlayer .trace").first).to_be_visible()


@pytest.mark.parametrize("device", WIDTHS)
def test_the_kit_keeps_the_policy_and_the_width(kit, open_page, device):
    page, complaints = open_page(
        viewport={"width": WIDTHS[device], "height": 900}, color_scheme="light"
    )
    page.goto(kit)
    _drawn(page)
    page.hover("#sample-plot .nsewdrag")
    # One curve of the kit is meant to fail.
    expect(page.locator("#lost .plot-trouble")).to_contain_text("could not be loaded")
    for theme in ("light", "dark"):
        page.emulate_media(color_scheme=theme)
        _drawn(page)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), theme
        assert page.evaluate("document.querySelectorAll('style').length") == 0, theme
    assert [c for c in complaints if "404" not in c] == []


def test_every_control_is_as_large_as_a_thumb(kit, open_page):
    page, _ = open_page(viewport={"width": 390, "height": 900}, has_touch=True)
    page.goto(kit)
    _drawn(page)
    small = page.evaluate(
        """() => [...document.querySelectorAll("main .btn, main summary, .letterhead a,"
             + ".letterhead button, main input:not([type=checkbox],[type=radio],[type=file]),"
             + "main select, main textarea, .tabs a")]
           .filter((e) => e.offsetParent && e.getBoundingClientRect().height < 47.5)
           .map((e) => e.outerHTML.slice(0, 80))"""
    )
    assert small == []


def test_the_policy_does_bite(kit, open_page):
    """What the other tests rely on: something inline would have been reported."""
    page, complaints = open_page()
    page.goto(kit)
    page.evaluate(
        """() => { const p = document.createElement("p");
                   p.innerHTML = '<b style="color:red">x</b>'; document.body.append(p); }"""
    )
    page.wait_for_function("document.querySelector('body > p > b') !== null")
    assert any("style-src" in c for c in complaints)


def _asked(page: Page) -> list[dict[str, list[str]]]:
    asked: list[dict[str, list[str]]] = []

    def note(url: str) -> None:
        if "curve.json" in url:
            asked.append(parse_qs(urlparse(url).query))

    page.on("request", lambda request: note(request.url))
    return asked


def test_zooming_asks_the_server_for_detail(kit, open_page):
    page, _ = open_page(viewport={"width": 1280, "height": 900})
    asked = _asked(page)
    page.goto(kit)
    _drawn(page)
    assert [set(a) for a in asked] == [{"pixels"}]
    page.locator("#sample-plot").scroll_into_view_if_needed()
    box = page.locator("#sample-plot .nsewdrag").bounding_box()
    assert box is not None
    middle = box["y"] + box["height"] / 2
    page.locator("#sample").get_by_role("button", name="Zoom box").click()
    with page.expect_response(lambda answer: "from=" in answer.url):
        page.mouse.move(box["x"] + box["width"] * 0.4, middle)
        page.mouse.down()
        page.mouse.move(box["x"] + box["width"] * 0.6, middle, steps=6)
        page.mouse.up()
    low, high = (float(asked[-1][name][0]) for name in ("from", "to"))
    assert 1.0 < low < high < 3.0
    page.wait_for_function(
        "low => { const x = document.querySelector('#sample-plot').data[0].x;"
        " return Math.abs(x[0] - low) < 1e-6 && x.length === 600; }",
        arg=low,
    )
    shown = page.evaluate("document.querySelector('#sample-plot').layout.xaxis.range")
    assert shown == pytest.approx([low, high])


def test_the_plot_obeys_keys_and_finds_back(kit, open_page):
    page, _ = open_page()
    asked = _asked(page)
    page.goto(kit)
    _drawn(page)
    page.focus("#sample-plot")
    with page.expect_response(lambda answer: "from=" in answer.url):
        page.keyboard.press("+")
    with page.expect_response(lambda answer: "from=" in answer.url):
        page.keyboard.press("ArrowRight")
    before, after = (float(a["from"][0]) for a in asked[-2:])
    assert after > before
    with page.expect_response(
        lambda answer: "curve.json" in answer.url and "from=" not in answer.url
    ):
        page.keyboard.press("0")


def test_a_refusal_of_the_server_is_shown_in_its_own_words(kit, open_page):
    page, _ = open_page()
    sentence = "This capture was removed; choose another."
    page.route(
        re.compile("curve.json"),
        lambda route: route.fulfill(status=410, json={"error": sentence}),
    )
    page.goto(kit)
    expect(page.locator("#sample .plot-trouble")).to_have_text(sentence)


def test_the_theme_is_chosen_remembered_and_reaches_the_plot(kit, open_page):
    page, _ = open_page(viewport={"width": 1280, "height": 900}, color_scheme="light")
    page.goto(kit)
    _drawn(page)

    def line_colour() -> str:
        colour: str = page.evaluate(
            "document.querySelector('#sample-plot')._fullData[0].line.color"
        )
        return colour

    toggle = page.locator("[data-theme-toggle]")
    light = line_colour()
    expect(toggle).to_contain_text("Auto")
    toggle.click()
    expect(toggle).to_contain_text("Light")
    toggle.click()
    expect(toggle).to_contain_text("Dark")
    page.wait_for_function(
        "was => document.querySelector('#sample-plot')._fullData[0].line.color !== was", arg=light
    )
    page.reload()
    assert page.evaluate("document.documentElement.dataset.theme") == "dark"
    _drawn(page)
    assert line_colour() == page.evaluate(
        "getComputedStyle(document.documentElement).getPropertyValue('--ink').trim()"
    )


@pytest.fixture
def uploads(kit, open_page) -> tuple[Page, list[str]]:
    """The kit's upload form, with a server that takes .csv and refuses the rest."""
    page, _ = open_page()
    begun: list[str] = []
    asked: list[str] = []

    def tus(route: Route) -> None:
        headers = route.request.headers
        if route.request.method == "POST":
            (name,) = re.findall(r"filename ([^,]+)", headers["upload-metadata"])
            begun.append(base64.b64decode(name).decode())
            location = f"/api/uploads/t{len(begun)}/"
            route.fulfill(status=201, headers={"Location": location})
        else:
            stop = int(headers["upload-offset"]) + len(route.request.post_data_buffer or b"")
            route.fulfill(status=204, headers={"Upload-Offset": str(stop)})

    def answer(route: Route) -> None:
        if route.request.method != "POST":
            route.fallback()
            return
        body = route.request.post_data_buffer or b""
        (number,) = re.findall(rb'name="arrived"\r\n\r\nt(\d+)', body)
        name = begun[int(number) - 1]
        asked.append(name)
        if name.endswith(".csv"):
            route.fulfill(json={"next": "/kit/?taken"})
        else:
            route.fulfill(status=422, json={"errors": ["This is a picture, not a capture."]})

    page.goto(kit)
    page.route(re.compile("/kit/"), answer)
    page.route(re.compile("/api/uploads/"), tus)
    return page, asked


def _file(name: str) -> dict[str, object]:
    return {"name": name, "mimeType": "text/csv", "buffer": b"time,A\n0,1\n"}


def test_several_files_go_one_by_one_and_then_on(uploads):
    page, asked = uploads
    page.set_input_files("#id_kit_files", [_file("a.csv"), _file("b.csv")])
    page.locator("form[data-upload]").evaluate("form => form.requestSubmit()")
    page.wait_for_url("**/kit/?taken")
    assert asked == ["a.csv", "b.csv"]


def test_a_refused_file_is_told_and_the_others_are_kept(uploads):
    page, asked = uploads
    page.set_input_files("#id_kit_files", [_file("a.csv"), _file("photo.png")])
    page.locator("form[data-upload]").evaluate("form => form.requestSubmit()")
    lines = page.locator("form[data-upload] .upload")
    expect(lines.nth(0)).to_contain_text("here,")
    expect(lines.nth(1)).to_contain_text("This is a picture, not a capture.")
    expect(page.locator("form[data-upload] a")).to_have_text("Go on with the file that is here")
    assert asked == ["a.csv", "photo.png"]


def test_dropped_files_are_sent(uploads):
    page, asked = uploads
    page.evaluate(
        """() => { const files = new DataTransfer();
          files.items.add(new File(["time,A"], "dropped.csv"));
          document.querySelector("[data-drop]").dispatchEvent(
            new DragEvent("drop", { dataTransfer: files, bubbles: true, cancelable: true })); }"""
    )
    page.wait_for_url("**/kit/?taken")
    assert asked == ["dropped.csv"]


def test_a_lost_connection_is_told(uploads):
    page, _ = uploads
    page.route(re.compile("/api/uploads/"), lambda route: route.abort())
    page.set_input_files("#id_kit_files", [_file("a.csv")])
    page.locator("form[data-upload]").evaluate("form => form.requestSubmit()")
    expect(page.locator("form[data-upload] .upload")).to_contain_text("Connection lost")


def test_a_second_press_sends_nothing(live_server, cast, open_page):
    page, _ = open_page()
    page.goto(f"{live_server.url}{reverse('people:sign-in')}")
    posts: list[str] = []

    def take(route: Route) -> None:
        if route.request.method == "POST":
            posts.append(route.request.url)
            # No content: the browser stays on the page, as it does while an answer is awaited.
            route.fulfill(status=204)
        else:
            route.fallback()

    page.route(re.compile("sign-in"), take)
    page.fill("#id_username", "mech")
    page.fill("#id_password", "x")
    page.evaluate(
        """() => { const form = document.querySelector("main form");
                   form.requestSubmit(); form.requestSubmit(); }"""
    )
    expect(page.locator("main button[type=submit]")).to_be_disabled()
    assert len(posts) == 1


def test_on_paper_the_kit_is_black_on_white_and_without_buttons(kit, open_page):
    page, _ = open_page(color_scheme="dark", viewport={"width": 700, "height": 900})
    page.goto(kit)
    page.emulate_media(media="print")
    expect(page.locator(".letterhead")).to_be_hidden()
    expect(page.locator("main .btn").first).to_be_hidden()
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    # A table stays a table on paper, however narrow.
    assert page.evaluate("getComputedStyle(document.querySelector('.table td')).display") == (
        "table-cell"
    )
