"""One job by four people on four screens, from *New job* to the week's figures."""

from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.management import call_command
from playwright.sync_api import Page, expect

from jobs.models import CylinderFinding, Question, RepairConsent, Visit, WorkOrder
from tests.browser.test_pages_and_clicks import (
    GAUGE_KPA,
    Way,
    capture,
    set_up_capture,
    sign_and_order,
    take_in,
)
from tests.conftest import Cast
from tests.traces.conftest import media  # noqa: F401 - a fixture
from tests.traces.test_queue import worker  # noqa: F401 - a fixture
from tests.traces.worker_process import WorkerProcess

pytestmark = [
    pytest.mark.browser,
    pytest.mark.queue,
    pytest.mark.django_db(transaction=True),
]

DESK = {"viewport": {"width": 1280, "height": 900}}
TABLET = {"viewport": {"width": 820, "height": 1180}, "has_touch": True}
PHONE = {
    "viewport": {"width": 390, "height": 844},
    "has_touch": True,
    "is_mobile": True,
    "service_workers": "allow",
}
DRAFTS = "() => Object.keys(localStorage).filter((key) => key.startsWith('draft:'))"
WIDE = "() => document.documentElement.scrollWidth - innerWidth"


def _wait_for_service_worker(phone: Page) -> None:
    """Wait until it stands between page and server; a failed installation is tried again."""
    for _ in range(20):
        if phone.evaluate("() => navigator.serviceWorker.controller !== null"):
            return
        phone.wait_for_timeout(2_000)
        phone.reload()
    pytest.fail("No service worker took the page over.")


def _findings_offline_and_back(phone: Page, order: WorkOrder) -> Page:
    """Type four readings, lose the connection over them and the phone, and come back."""
    here = f"/work-orders/{order.pk}/?at=gauge_dry"
    phone.goto(here)
    _wait_for_service_worker(phone)
    table = phone.locator("form[data-draft=gauge_dry]")
    for at, (cylinder, kpa) in enumerate(GAUGE_KPA.items()):
        if at == len(GAUGE_KPA) // 2:
            phone.context.set_offline(True)
        table.locator(f"[data-cylinder='{cylinder}'] input").last.fill(kpa)
    table.locator("button[type=submit]").click()
    expect(phone.locator(".draft-note")).to_be_visible()
    assert not CylinderFinding.objects.exists()
    phone.goto("/work-orders/")
    expect(phone.locator("[data-waiting]")).to_contain_text("1")
    context = phone.context
    # A page that is being closed would still see the connection come back, and send what waits.
    phone.goto("about:blank")
    phone.close()
    context.set_offline(False)
    back = context.new_page()
    for _ in range(10):
        # Chromium may hold the service worker offline for a moment longer than the pages.
        back.goto(here)
        if back.locator(".checklist-card").count():
            break
        back.wait_for_timeout(500)
    expect(back.locator("#findings .found > li")).to_have_count(len(GAUGE_KPA))
    assert {str(f.cylinder): f.pressure_kpa for f in CylinderFinding.objects.all()} == {
        cylinder: float(kpa) for cylinder, kpa in GAUGE_KPA.items()
    }
    assert back.evaluate(DRAFTS) == []
    return back


def _ask_and_answer(phone: Page, tablet: Page, order: WorkOrder) -> None:
    ask = phone.locator("form[data-draft=ask]")
    phone.locator("details:has(form[data-draft=ask]) > summary").click()
    ask.locator("textarea").fill("Is the head to come off?")
    ask.locator("button[type=submit], button:not([type])").click()
    expect(phone.locator(".thread-lines > li")).to_have_count(1)
    tablet.goto(f"/jobs/{order.visit_id}/")
    tablet.locator(f".next a[href='/work-orders/{order.pk}/#questions']").click()
    answer = tablet.locator(f"form[data-draft=answer-{Question.objects.get().pk}]")
    answer.locator("textarea").fill("Yes, once the customer agreed.")
    answer.locator(".btn-primary").click()
    expect(tablet.locator(".thread-answer")).to_have_count(1)
    phone.reload()
    expect(phone.locator(".thread-answer")).to_contain_text("once the customer agreed")


def _complete(phone: Page) -> None:
    phone.locator(".order-foot a[href='#id_summary']").click()
    phone.locator("#id_summary").fill("Exhaust valve of cylinder 1 burnt.")
    phone.locator("#id_left_out").fill("The gauge says enough.")
    phone.locator("#complete button[type=submit]").click()
    expect(phone.locator("form[data-draft=gauge_dry]")).to_have_count(0)
    assert WorkOrder.objects.get().state == WorkOrder.State.DONE


def _consent(desk: Page, job: Visit) -> None:
    desk.goto(f"/jobs/{job.pk}/consent/")
    desk.locator("label:has(input[name=agreed][value=yes])").click()
    desk.locator("label:has(input[name=how][value=phone])").click()
    desk.locator("input[name=amount]").fill("400")
    desk.locator("main form .btn-primary").click()
    expect(desk.locator("#in-short")).to_be_visible()
    assert RepairConsent.objects.get().agreed


def _verify(tablet: Page, job: Visit) -> None:
    tablet.goto(f"/jobs/{job.pk}/outcome/")
    tablet.locator("#id_cause").fill("Burnt exhaust valve in cylinder 1.")
    tablet.locator("#id_correction").fill("Valve and seat renewed.")
    tablet.locator("label:has(input[name=verified][value=yes])").click()
    tablet.locator("#id_verified_how").fill("Gauge even, road test.")
    tablet.locator("#id_told_customer").fill("A burnt valve was renewed.")
    tablet.locator("main form .btn-primary").first.click()
    expect(tablet.locator("#in-short")).to_be_visible()


def test_four_people_take_one_job_through_the_shop(
    signed_in_page: Callable[..., tuple[Page, list[str]]],
    worker: WorkerProcess,  # noqa: F811
    cast: Cast,
    media: Path,  # noqa: F811
) -> None:
    call_command("load_engines", verbosity=0)
    worker.start()
    quiet = {"reduced_motion": "reduce"}
    desk, said_at_desk = signed_in_page(cast.writer, **DESK, **quiet)
    desk.goto("/jobs/")
    take_in(Way(desk))
    job = Visit.objects.get()

    tablet, said_at_tablet = signed_in_page(cast.diagnostician, **TABLET, **quiet)
    tablet.goto(f"/jobs/{job.pk}/")
    way = Way(tablet)
    capture(way)
    set_up_capture(way)
    sign_and_order(way)
    order = WorkOrder.objects.get()
    assert (order.created_by, order.cylinders) == (cast.diagnostician, [1])
    assert tablet.evaluate(WIDE) <= 0

    phone, _ = signed_in_page(cast.mechanic, **PHONE, **quiet)
    phone.goto(f"/work-orders/{order.pk}/")
    expect(phone.locator("body")).not_to_contain_text("Halloway")
    phone.locator("form[action$='/accept/'] button").click()
    expect(phone.locator(".checklist-card")).to_be_visible()
    phone = _findings_offline_and_back(phone, order)
    _ask_and_answer(phone, tablet, order)
    assert phone.evaluate(WIDE) <= 0
    _complete(phone)

    _consent(desk, job)
    _verify(tablet, job)
    desk.goto(f"/jobs/{job.pk}/")
    desk.locator(".next .btn-primary").click()
    expect(desk.locator(".next-done")).to_be_visible()
    job.refresh_from_db()
    assert job.stage == "closed"

    office, said_in_office = signed_in_page(cast.owner, **DESK, **quiet)
    office.goto("/week/")
    this_week = office.locator("#weeks tbody tr").first.locator("td")
    counted = [cell.inner_text() for cell in this_week.all()[:3]]
    assert counted == ["1", "1", "1"]
    expect(office.locator("#waiting tbody tr")).to_have_count(0)
    assert [*said_at_desk, *said_at_tablet, *said_in_office] == []
