"""The pages of the demo's jobs in a browser: short, and the next step in the first screen."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page

from jobs.models import Visit
from shopdiag.people.core.roles import Role
from shopdiag.people.models import User
from tests.jobs.demo_shop import fill_demo_shop
from tests.traces.conftest import media  # noqa: F401 - a fixture

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DESK, PHONE = (1280, 900), (390, 844)
MOST_ON_A_DESK = 1_500
MOST_ON_A_PHONE = 3_300
MEASURE = """() => ({
  height: document.documentElement.scrollHeight,
  wide: document.documentElement.scrollWidth - innerWidth,
  dark: [...document.querySelectorAll(".btn-primary")].filter((e) => e.checkVisibility())
        .map((e) => Math.round(e.getBoundingClientRect().bottom)),
  broken: [...document.querySelectorAll("#vehicle .unbroken")]
          .filter((e) => e.getClientRects().length > 1).length,
})"""
# Whose step is the next one of each demo job, in the story's order.
DARK_BUTTONS = {
    Role.DIAGNOSTICIAN: [0, 0, 0, 1, 1, 1, 0, 0, 0],
    Role.MECHANIC: [0, 1, 1, 0, 0, 0, 0, 0, 0],
    Role.WRITER: [0, 0, 0, 0, 0, 0, 0, 0, 0],
}


def test_demo_jobs_are_short_and_show_one_next_step(
    signed_in_page: Callable[..., tuple[Page, list[str]]],
    media: Path,  # noqa: F811
) -> None:
    people = fill_demo_shop()
    jobs = list(Visit.objects.order_by("number"))
    assert len(jobs) == len(DARK_BUTTONS[Role.WRITER])
    told = []
    for role, dark in DARK_BUTTONS.items():
        page, complaints = signed_in_page(people[role])
        for job, count in zip(jobs, dark, strict=True):
            page.goto(f"/jobs/{job.pk}/")
            for (width, fold), most in ((DESK, MOST_ON_A_DESK), (PHONE, MOST_ON_A_PHONE)):
                page.set_viewport_size({"width": width, "height": fold})
                found = page.evaluate(MEASURE)
                where = f"job {job.number}, {role}, {width}"
                print(f"{where} px wide: {found['height']} px high")  # noqa: T201 - the measurement
                told += [f"{where}: {found['height']} px"] if found["height"] > most else []
                told += [f"{where}: {found}"] if found["wide"] > 0 or found["broken"] else []
                told += [f"{where}: dark {found['dark']}"] if len(found["dark"]) != count else []
                told += [f"{where}: dark at {y}" for y in found["dark"] if y > fold]
        assert complaints == []
    assert not told, "\n".join(told)
    of_diagnostician, _ = signed_in_page(people[Role.DIAGNOSTICIAN])
    _check_forms(of_diagnostician, jobs)
    _check_folds(page, jobs[0])
    _check_spanish(page, jobs[0])


def _check_forms(page: Page, jobs: list[Visit]) -> None:
    """The forms a job goes through fold what is seldom needed."""
    decide = [f"/jobs/{job.pk}/decide/" for job in jobs[3:6]]
    for address, limits in (("/jobs/new/", (2_000, 3_200)), *((a, (1_800, 3_900)) for a in decide)):
        page.goto(address)
        for (width, fold), most in zip((DESK, PHONE), limits, strict=True):
            page.set_viewport_size({"width": width, "height": fold})
            found = page.evaluate(MEASURE)
            told = f"{address}, {width} px wide: {found['height']} px high"
            print(told)  # noqa: T201 - the measurement
            assert found["height"] <= most, told
            assert found["wide"] <= 0, told


def _check_spanish(page: Page, job: Visit) -> None:
    """The longest of them is as short in the language that takes more room, its menu one line."""
    User.objects.update(language="es")
    page.set_viewport_size({"width": DESK[0], "height": DESK[1]})
    page.goto(f"/jobs/{job.pk}/")
    found = page.evaluate(MEASURE)
    print(f"job {job.number}, es: {found['height']} px high")  # noqa: T201 - the measurement
    assert found["height"] <= MOST_ON_A_DESK
    assert found["wide"] <= 0
    rows = "new Set([...document.querySelectorAll('.main-nav a')].map((a) => a.offsetTop)).size"
    assert page.evaluate(rows) == 1


def _check_folds(page: Page, job: Visit) -> None:
    """An address with a place opens its fold, and paper shows what the screen folds away."""
    page.goto(f"/jobs/{job.pk}/")
    codes = page.locator("#codes")
    assert not codes.is_visible()
    page.emulate_media(media="print")
    assert codes.is_visible()
    assert page.locator("#timeline .timeline-entry").first.is_visible()
    assert page.get_by_text(f"Job {job.number}", exact=True).last.is_visible()
    page.emulate_media(media="screen")
    assert not codes.is_visible()
    page.goto(f"/jobs/{job.pk}/#codes")
    assert codes.is_visible()
