"""How many pages and clicks a job takes, from *New job* to delivery, by one who does all of it."""

import re
from collections.abc import Callable
from dataclasses import dataclass

import pytest
from django.core.management import call_command
from playwright.sync_api import Locator, Page, expect

from jobs.models import Judgement, Visit, WorkOrder
from tests.conftest import Cast
from tests.traces.conftest import media, reference  # noqa: F401 - media is a fixture
from tests.traces.test_queue import worker  # noqa: F401 - a fixture
from tests.traces.worker_process import WorkerProcess

pytestmark = [
    pytest.mark.browser,
    pytest.mark.queue,
    pytest.mark.django_db(transaction=True),
]

WORKER_WITHIN_MS = 60_000
MOST_TO_COMPLETED = (9, 16)
MOST_TO_DELIVERED = (11, 20)
"""Pages and clicks."""

GAUGE_KPA = {"1": "520", "2": "1180", "3": "1190", "4": "1170"}


@dataclass
class Way:
    """Counts on the way: documents that the browser showed, and presses.

    A press is a link, a button, a choice, a list opened, a file chosen, a fold. Typing is none:
    the keyboard goes from field to field by itself. A redirect shows no page.
    """

    page: Page
    pages: int = 0
    clicks: int = 0
    steps: str = ""

    def __post_init__(self) -> None:
        self.page.on("domcontentloaded", lambda _: self._shown())

    def _shown(self) -> None:
        self.pages += 1

    def press(self, what: Locator) -> None:
        self.clicks += 1
        what.click()

    def choose(self, what: Locator, label: str) -> None:
        self.clicks += 1
        what.select_option(label)

    def choose_file(self, what: Locator, path: str) -> None:
        self.clicks += 1
        what.set_input_files(path)

    def reached(self, step: str) -> tuple[int, int]:
        print(f"{step}: {self.pages} pages, {self.clicks} clicks")  # noqa: T201 - what this is for
        return self.pages, self.clicks


@pytest.fixture
def way(
    signed_in_page: Callable[..., tuple[Page, list[str]]],
    cast: Cast,
    worker: WorkerProcess,  # noqa: F811
) -> Way:
    """A board in the browser of a diagnostician who takes in, measures, repairs and delivers."""
    call_command("load_engines", verbosity=0)
    worker.start()
    page, _ = signed_in_page(
        cast.diagnostician, viewport={"width": 1280, "height": 900}, reduced_motion="reduce"
    )
    page.goto("/jobs/")
    return Way(page)


def take_in(way: Way) -> None:
    page = way.page
    way.press(page.get_by_role("link", name="New job").first)
    page.locator("#id_customer-name").fill("Jorun Halloway")
    page.locator("#id_vehicle-plate").fill("QX 71 RTL")
    page.locator("#id_vehicle-make").fill("Brindle")
    page.locator("#id_vehicle-model").fill("Sparrow 1.4")
    way.choose(page.locator("#id_vehicle-engine"), "Inline four, 1-3-4-2")
    page.locator("#id_complaint-words").fill("Shakes at the lights.")
    way.press(page.locator("form[method=post] .form-actions button"))
    expect(page.locator("#in-short")).to_be_visible()


def capture(way: Way) -> None:
    page = way.page
    upload = page.locator("form:has(input[type=file][multiple])").first
    if not upload.is_visible():
        way.press(page.locator(".next a[href='#add-captures']"))
    way.choose_file(upload.locator("input[type=file]"), str(reference("ref-01.csv")))
    way.press(upload.locator("button[type=submit]"))
    expect(page).to_have_url(re.compile("/captures/"))


def set_up_capture(way: Way) -> None:
    page = way.page
    expect(page.locator(".setup-form")).to_be_visible(timeout=WORKER_WITHIN_MS)
    for name, value in (("scale", "10"), ("sync_cylinder", "1"), ("sync_event", "ignition")):
        way.press(page.locator(f"label:has(input[name={name}][value='{value}'])"))
    for part in ("current_channel", "sync_channel"):
        expect(page.locator(f"input[name={part}]:checked")).not_to_have_value("")
    way.press(page.locator(".setup-form .form-actions .btn-primary"))


def sign_and_order(way: Way) -> None:
    page = way.page
    verdict = page.locator("#sign-bar .btn-primary")
    expect(verdict).to_be_visible(timeout=WORKER_WITHIN_MS)
    way.press(verdict)
    way.press(page.locator("#accept button[name=then][value=order]"))
    expect(page.locator(".order-page")).to_be_visible()
    assert Judgement.objects.get().cylinders == [1]


def _work(way: Way) -> None:
    page = way.page
    way.press(page.locator("form[action$='/accept/'] button"))
    expect(page.locator(".checklist-card")).to_be_visible()
    table = page.locator("form[data-draft=gauge_dry]")
    if not table.is_visible():
        way.press(page.locator("#test-gauge_dry > summary"))
    for cylinder, kpa in GAUGE_KPA.items():
        table.locator(f"[data-cylinder='{cylinder}'] input").last.fill(kpa)
    way.press(table.locator("button[type=submit]"))
    expect(page.locator("#findings .found > li")).to_have_count(len(GAUGE_KPA))
    page.locator("#id_summary").fill("Exhaust valve burnt.")
    page.locator("#id_left_out").fill("The gauge says enough.")
    way.press(page.locator("#complete button[type=submit]"))
    expect(page.locator("a[href$='/outcome/']")).to_be_visible()
    assert WorkOrder.objects.get().state == WorkOrder.State.DONE


def _deliver(way: Way) -> None:
    page = way.page
    way.press(page.locator("a[href$='/outcome/']"))
    page.locator("#id_cause").fill("Burnt exhaust valve in cylinder 1.")
    page.locator("#id_correction").fill("Valve and seat renewed.")
    way.press(page.locator("label:has(input[name=verified][value=yes])"))
    page.locator("#id_verified_how").fill("Gauge even, road test.")
    page.locator("#id_told_customer").fill("A burnt valve was renewed.")
    way.press(page.locator("button[name=then][value=close]"))
    expect(page.locator(".next-done")).to_be_visible()
    assert Visit.objects.get().stage == "closed"


def test_half_the_pages_and_clicks_of_before(way: Way) -> None:
    """Before these steps were shortened it were 18 pages and 35 clicks, and 22 and 43."""
    take_in(way)
    way.reached("job open")
    capture(way)
    way.reached("capture uploaded")
    set_up_capture(way)
    way.reached("analysed")
    sign_and_order(way)
    way.reached("signed and ordered")
    _work(way)
    completed = way.reached("order completed")
    _deliver(way)
    delivered = way.reached("delivered")
    assert completed[0] <= MOST_TO_COMPLETED[0], completed
    assert completed[1] <= MOST_TO_COMPLETED[1], completed
    assert delivered[0] <= MOST_TO_DELIVERED[0], delivered
    assert delivered[1] <= MOST_TO_DELIVERED[1], delivered
