"""Pressures in two cylinders in a browser: upload, proposal, set-up, result, verdict, order."""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from django.core.management import call_command
from playwright.sync_api import Page, expect

from engines.models import Engine
from jobs.models import Visit, VisitCapture, WorkOrder
from tests.conftest import Cast
from tests.jobs.conftest import four, take_in, visit  # noqa: F401 - fixtures
from tests.traces.conftest import media  # noqa: F401 - a fixture
from tests.traces.test_queue import worker  # noqa: F401 - a fixture
from tests.traces.worker_process import WorkerProcess
from traces.simulator.export import to_csv
from traces.simulator.pressure import PressureCase, pressure_capture

pytestmark = [
    pytest.mark.browser,
    pytest.mark.queue,
    pytest.mark.django_db(transaction=True),
]

WITHIN_MS = 60_000
SOUND = PressureCase(rate_hz=5_000.0, rest_s=1.0)
LEAKY = replace(SOUND, seed=9, exhaust_leak_m2=3e-6)


def _measured(page: Page, visit: Visit, path: Path, cylinder: int) -> None:  # noqa: F811
    """Send a recording from the job's page, and set it up as the page proposes it."""
    page.goto(f"/jobs/{visit.pk}/#add-captures")
    form = page.locator("form:has(input[type=file][multiple])").first
    form.locator("input[type=file]").set_input_files(path)
    form.get_by_role("button", name="Upload").click()
    expect(page.locator(".setup-form")).to_be_visible(timeout=WITHIN_MS)
    expect(page.locator("input[name=signal]:checked")).to_have_value("cylinder-pressure")
    expect(page.locator("input[name=current_channel]:checked")).to_have_value("pressure")
    # which cylinder it is nobody guesses, nor the scale; no clamp and no sync is asked
    expect(page.locator("input[name=pressure_cylinder]:checked")).to_have_count(0)
    expect(page.locator("fieldset:has(input[name=scale])").last).to_be_hidden()
    expect(page.locator("input[name=sync_channel][value='']")).to_be_hidden()
    page.get_by_role("button", name="Analyse").click()
    expect(page.locator(".field-error").first).to_be_visible()
    page.locator(f"label:has(input[name=pressure_cylinder][value='{cylinder}'])").click()
    page.locator("label:has(input[name=pressure_scale][value='500'])").click()
    page.get_by_role("button", name="Analyse").click()
    expect(page.locator("#strokes")).to_be_visible(timeout=WITHIN_MS)
    expect(page.locator("#gas-exchange")).to_be_visible()
    expect(page.locator(".verdict-sentence")).to_contain_text(f"Cylinder {cylinder}")


def test_two_cylinders_lead_to_a_signed_leak_and_an_order(
    signed_in_page: Callable,
    worker: WorkerProcess,  # noqa: F811
    visit: Visit,  # noqa: F811
    cast: Cast,
    tmp_path: Path,
) -> None:
    call_command("load_engines", verbosity=0)
    visit.vehicle.engine = Engine.objects.filter(shop=None, firing_order="1-3-4-2").first()
    visit.vehicle.save()
    worker.start()
    page, complaints = signed_in_page(cast.diagnostician)
    for name, case, cylinder in (("one.csv", SOUND, 1), ("three.csv", LEAKY, 3)):
        path = tmp_path / name
        to_csv(pressure_capture(case).waveform, path)
        _measured(page, visit, path, cylinder)
    assert set(VisitCapture.objects.values_list("purpose", flat=True)) == {"pressure"}
    # what is laid side by side names the cylinder that leaks, and a person signs it
    page.reload()
    expect(page.locator("#in-turn")).to_have_count(1)
    page.get_by_role("link", name="Sign a verdict by the pressures").click()
    expect(page.locator("#in-turn")).to_contain_text("ylinder 3")
    own = page.locator("form:has(textarea[name=reason])").first
    expect(own.locator("input[name=chosen]:checked")).to_have_value("3")
    expect(own.locator("textarea[name=reason]")).not_to_have_value("")
    own.get_by_role("button", name="Sign", exact=True).click()
    expect(page).not_to_have_url(re.compile("/decide/"))
    signed = visit.judgements.get()
    assert (signed.mechanical, signed.cylinders, signed.run) == ("yes", [3], None)
    page.goto(f"/jobs/{visit.pk}/work-order/")
    page.locator("main form button[type=submit]").first.click()
    expect(page).to_have_url(re.compile(r"/work-orders/\d+/$"))
    order = WorkOrder.objects.get()
    assert order.cylinders == [3]
    assert sum("kPa" in done for done in order.tests_done) == 2
    # but for the set-up that was sent without what the file does not tell
    assert [c for c in complaints if "422" not in c] == []
