"""The capture's page in a browser: it follows the worker without being loaded again."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from engines.models import Engine
from tests.conftest import Cast
from tests.traces.conftest import reference
from traces.models import Capture, Run
from traces.runs.analysing import run_analyse
from traces.runs.presence import beat
from traces.runs.reading import reading_read

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def signed_in(signed_in_page: Callable, cast: Cast) -> tuple[Page, list[str]]:
    """A diagnostician's browser, and what it complains about."""
    page, complaints = signed_in_page(cast.diagnostician)
    return page, complaints


def test_from_queued_to_a_named_cylinder_on_one_page(
    signed_in: tuple[Page, list[str]], add: Callable[..., Capture], engine: Engine
) -> None:
    page, complaints = signed_in
    capture = add(reference("ref-01.csv").read_bytes(), name="cold crank.csv")
    page.goto(f"/captures/{capture.pk}/")
    expect(page.get_by_text("Queued. No worker has reported yet")).to_be_visible()
    page.evaluate("window.notLoadedAgain = true")

    # What a worker does, done here at the moments that the test wants.
    beat("celery@bench")
    expect(page.get_by_text("the worker takes it next")).to_be_visible()
    reading_read(capture.reading.pk)
    page.get_by_role("link", name="Set up the analysis").wait_for()
    assert page.evaluate("window.notLoadedAgain"), "the page followed by itself"

    page.get_by_role("link", name="Set up the analysis").click()
    page.get_by_label("Engine", exact=True).select_option(label="Inline four: 1-3-4-2")
    page.locator("label:has(input[name=scale][value='10'])").click()
    parts = [f"input[name={part}]:checked" for part in ("current_channel", "sync_channel")]
    proposed = [page.locator(part).input_value() for part in parts]
    assert all(proposed)
    page.locator("#id_sync_cylinder").fill("7")
    page.get_by_role("button", name="Analyse").click()
    expect(page.get_by_role("alert")).to_contain_text("This engine has no cylinder 7")
    assert [page.locator(part).input_value() for part in parts] == proposed
    page.locator("label:has(input[name=sync_cylinder][value='1'])").click()
    page.get_by_role("button", name="Analyse").click()

    expect(page.get_by_role("heading", name="The analysis")).to_be_visible()
    page.evaluate("window.notLoadedAgain = true")
    run_analyse(Run.objects.get().pk)
    expect(page.get_by_role("heading", name="Cylinder 1 is weak")).to_be_visible()
    assert page.evaluate("window.notLoadedAgain"), "the page followed by itself"

    # The curve is drawn, with its humps named, and fetched anew for a closer look.
    curve = page.locator("#curve-plot")
    expect(curve.locator(".textpoint").first).to_be_visible()
    with page.expect_response(lambda r: "plot.json?" in r.url and "from=" in r.url) as zoomed:
        curve.press("+")
    assert zoomed.value.ok
    # The form with the mistake was answered with 422, which a browser notes; nothing else.
    assert len(complaints) == 1
    assert "422" in complaints[0]


def test_nothing_sticks_out_at_any_width(
    signed_in: tuple[Page, list[str]], add_read: Callable[..., Capture]
) -> None:
    page, complaints = signed_in
    capture = add_read(reference("ref-01.csv").read_bytes(), name="c" * 120 + ".csv")
    for address in ("", "set-up/"):
        page.goto(f"/captures/{capture.pk}/{address}")
        expect(page.get_by_role("heading", level=1)).to_be_visible()
        for width in (390, 820, 1280):
            page.set_viewport_size({"width": width, "height": 900})
            wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, (address, width)
    assert complaints == []
