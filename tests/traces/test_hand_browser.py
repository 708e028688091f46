"""A hand at the capture's page in a browser: by mouse and by keyboard, with the worker's answer."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.conftest import Cast
from tests.unfolding import unfold
from traces.models import Run
from traces.runs.analysing import run_analyse
from traces.runs.presence import beat

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def shown(signed_in_page: Callable, cast: Cast, run: Run) -> tuple[Page, list[str]]:
    """The run's capture before a diagnostician, and what the browser complains about."""
    beat("celery@bench")
    page, complaints = signed_in_page(cast.diagnostician, keep=True)
    page.goto(f"/captures/{run.capture_id}/")
    return page, complaints


def _newest() -> Run:
    newest = Run.objects.first()
    assert newest
    return newest


def _reach(page: Page, name: str) -> None:
    """Go to a button by the Tab key, as somebody without a mouse does."""
    button = page.get_by_role("button", name=name, exact=True)
    for _ in range(150):
        page.keyboard.press("Tab")
        if button.evaluate("(e) => e === document.activeElement"):
            return
    pytest.fail(f"the Tab key does not come to “{name}”")


def test_labels_move_on_and_undo_by_the_keyboard(shown: tuple[Page, list[str]], run: Run) -> None:
    page, complaints = shown
    expect(page.get_by_role("heading", name="Cylinder 1 is weak")).to_be_visible()
    expect(page.get_by_role("button", name="Undo")).to_have_count(0)
    unfold(page, "Adjust by hand")
    page.get_by_role("button", name="Labels one place on").click()
    page.wait_for_url(f"**/captures/{run.capture_id}/runs/*/")
    page.evaluate("window.notLoadedAgain = true")
    assert run_analyse(_newest().pk)
    # The page follows by itself; the curve's labels are those of the next cylinder.
    expect(page.get_by_role("heading", name="Cylinder 3 is weak")).to_be_visible()
    assert page.evaluate("window.notLoadedAgain")
    expect(page.get_by_text("The labels were moved on by 1 place").first).to_be_visible()
    expect(page.locator("#curve-plot .textpoint").first).to_be_visible()
    unfold(page, "Figures")
    table = page.get_by_role("table", name="Relative compression by cylinder")
    expect(table.get_by_role("row", name="3").get_by_text("Suspect")).to_be_visible()

    _reach(page, "Undo: Labels moved on by 1 place")
    page.keyboard.press("Enter")
    # The result before comes back at once: nothing else has changed.
    expect(page.get_by_role("heading", name="Cylinder 1 is weak")).to_be_visible()
    expect(page.get_by_role("button", name="Undo")).to_have_count(0)
    _reach(page, "Make again: Labels moved on by 1 place")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Cylinder 3 is weak")).to_be_visible()
    assert run.capture.runs.count() == 4
    assert complaints == []


def test_a_stretch_typed_wrong_stays_and_is_judged_once_it_is_right(
    shown: tuple[Page, list[str]], run: Run
) -> None:
    page, complaints = shown
    unfold(page, "Adjust by hand")
    page.get_by_text("Judge one stretch only").click()
    page.locator("#by-hand").get_by_label("From").fill("3.5")
    page.locator("#by-hand").get_by_label("To", exact=True).fill("1")
    page.get_by_role("button", name="Judge only this stretch").click()
    expect(page.get_by_role("alert")).to_contain_text("A stretch must end after it begins")
    expect(page.locator("#by-hand").get_by_label("From")).to_have_value("3.5")
    expect(page.locator("#by-hand").get_by_label("From")).to_be_visible()
    page.locator("#by-hand").get_by_label("From").fill("1")
    page.locator("#by-hand").get_by_label("To", exact=True).fill("3.5")
    page.get_by_role("button", name="Judge only this stretch").click()
    page.wait_for_url(f"**/captures/{run.capture_id}/runs/*/")
    assert run_analyse(_newest().pk)
    expect(page.get_by_text("Only 1.00 s to 3.50 s was judged, chosen by hand.")).to_be_visible()
    expect(page.get_by_text("Only 1.00 to 3.50 s judged, by ")).to_be_visible()
    # The form with the mistake was answered with 422, which a browser notes; nothing else.
    assert len(complaints) == 1
    assert "422" in complaints[0]


def test_a_cycle_left_out_and_a_mark_by_hand(shown: tuple[Page, list[str]], run: Run) -> None:
    page, complaints = shown
    unfold(page, "Adjust by hand")
    page.get_by_text("Leave out engine cycles").click()
    page.get_by_label("Cycle 3:").check()
    page.get_by_role("button", name="Leave these out").click()
    page.wait_for_url(f"**/captures/{run.capture_id}/runs/*/")
    assert run_analyse(_newest().pk)
    expect(page.get_by_text("left out by hand: the figures say nothing")).to_be_visible()

    unfold(page, "Adjust by hand")
    page.get_by_text("Engine and sync").click()
    page.get_by_role("button", name="Judge without the recorded sync").click()
    expect(page.get_by_role("heading", name="The analysis")).to_be_visible()
    assert run_analyse(_newest().pk)
    expect(page.get_by_text("No sync was recorded, so")).to_be_visible()
    expect(page.get_by_role("button", name="Labels one place on")).to_have_count(0)

    report = run.report
    assert report
    unfold(page, "Adjust by hand")
    page.get_by_text("Mark an event of a cylinder").click()
    page.locator("#by-hand").get_by_label("At", exact=True).fill(f"{report.sync_events_s[2]:.3f}")
    page.locator("#by-hand").get_by_label("Of cylinder").select_option("1")
    page.get_by_role("button", name="Mark this event").click()
    expect(page.get_by_role("heading", name="The analysis")).to_be_visible()
    assert run_analyse(_newest().pk)
    expect(page.get_by_role("heading", name="Cylinder 1 is weak")).to_be_visible()
    expect(page.get_by_text("Labelled by hand").first).to_be_visible()
    assert complaints == []


@pytest.mark.parametrize("width", [390, 1280])
def test_without_a_script_it_works_too(
    signed_in_page: Callable, cast: Cast, run: Run, width: int
) -> None:
    page, _ = signed_in_page(
        cast.diagnostician,
        java_script_enabled=False,
        viewport={"width": width, "height": 900},
    )
    page.goto(f"/captures/{run.capture_id}/?next=/jobs/")
    unfold(page, "Adjust by hand")
    page.get_by_role("button", name="Labels one place back").click()
    assert run_analyse(_newest().pk)
    assert page.url.endswith(f"/captures/{run.capture_id}/runs/{_newest().pk}/?next=%2Fjobs%2F")
    page.reload()
    expect(page.get_by_role("heading", name="Cylinder 2 is weak")).to_be_visible()


def test_the_cursors_of_the_curve_choose_the_stretch(
    shown: tuple[Page, list[str]], run: Run
) -> None:
    page, complaints = shown
    curve = page.locator("#curve-plot")
    expect(curve.locator(".textpoint").first).to_be_visible()
    unfold(page, "Adjust by hand")
    page.get_by_text("Judge one stretch only").click()
    curve.focus()
    page.keyboard.press("a")
    for _ in range(25):
        page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("b")
    for _ in range(25):
        page.keyboard.press("Shift+ArrowRight")
    from_s, to_s = (
        float(page.locator("#by-hand").get_by_label(name, exact=True).input_value())
        for name in ("From", "To")
    )
    assert 0 < from_s < to_s
    expect(page.locator("#by-hand").get_by_label("At", exact=True)).to_have_value(f"{from_s:.6f}")
    page.get_by_role("button", name="Judge only this stretch").click()
    page.wait_for_url(f"**/captures/{run.capture_id}/runs/*/")
    made = _newest()
    assert made.setup.analysis.hand.span_s == (from_s, to_s)
    assert run_analyse(made.pk)
    expect(page.get_by_text("was judged, chosen by hand")).to_be_visible()
    made.refresh_from_db()
    report = made.report
    assert report
    assert report.judged_from_s
    assert report.judged_to_s
    assert from_s - 0.01 <= report.judged_from_s < report.judged_to_s <= to_s + 0.01
    assert complaints == []


def test_of_two_cursors_the_earlier_begins_the_stretch(shown: tuple[Page, list[str]]) -> None:
    page, complaints = shown
    unfold(page, "Adjust by hand")
    page.get_by_text("Judge one stretch only").click()
    page.locator("#curve").get_by_role("button", name="Cursors").click()
    box = page.locator("#curve-plot .nsewdrag").first.bounding_box()
    assert box
    for share in (0.8, 0.2):
        page.mouse.click(box["x"] + share * box["width"], box["y"] + box["height"] / 2)
    hand = page.locator("#by-hand")
    expect(hand.get_by_label("To", exact=True)).not_to_have_value("")
    from_s, to_s = (
        float(hand.get_by_label(name, exact=True).input_value()) for name in ("From", "To")
    )
    assert from_s < to_s
    # a form with one time follows its own cursor
    page.get_by_text("Mark an event of a cylinder").click()
    assert float(page.locator("#notes [data-cursor=a]").input_value()) == to_s
    assert complaints == []
