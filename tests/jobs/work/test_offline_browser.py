"""Pages without a connection: one page stands for all, nothing typed is lost, nobody is kept."""

import re
from collections.abc import Iterator

import pytest
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page, expect

from jobs.models import Question
from jobs.services.work import work_order_accept
from shopdiag.people.models import Shop
from tests.browser.lines import Wire

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

READY = "async () => Boolean((await navigator.serviceWorker.ready).active)"
CONTROLLED = "() => navigator.serviceWorker.controller !== null"
KEPT = """async () => {
  const kept = {};
  for (const name of await caches.keys()) {
    for (const request of await (await caches.open(name)).keys()) {
      const answer = await caches.match(request, { ignoreVary: true });
      kept[new URL(request.url).pathname + new URL(request.url).search] = await answer.text();
    }
  }
  return kept;
}"""
OFFLINE = re.compile("No connection|Sin conexión")


@pytest.fixture
def page(signed_in_page, cast) -> Page:
    opened: Page = signed_in_page(
        cast.owner, service_workers="allow", viewport={"width": 390, "height": 844}
    )[0]
    return opened


@pytest.fixture
def context(page) -> BrowserContext:
    opened: BrowserContext = page.context
    return opened


def begin(page: Page, address: str) -> None:
    """Open a page and wait until the worker answers for it."""
    page.goto(address)
    page.evaluate(READY)
    page.wait_for_function(CONTROLLED)


def test_a_page_stands_for_all_and_gives_way_when_the_connection_is_back(page, context):
    begin(page, "/jobs/")
    context.set_offline(True)
    failed: list[str] = []
    page.on("requestfailed", lambda request: failed.append(request.url))
    page.goto("/work-orders/")
    expect(page.locator("h1")).to_have_text(OFFLINE)
    # With its look and its scripts, from what was kept.
    assert page.evaluate("getComputedStyle(document.querySelector('.page')).maxWidth") != "none"
    expect(page.locator("[data-again]")).to_be_visible()
    assert not [address for address in failed if "/static/" in address or "texts.js" in address]
    assert page.url.endswith("/work-orders/")
    context.set_offline(False)
    expect(page.locator("h1")).not_to_have_text(OFFLINE)
    assert page.url.endswith("/work-orders/")


def test_it_speaks_the_readers_language(page, context, cast):
    cast.owner.user.language = "es"
    cast.owner.user.save()
    begin(page, "/jobs/")
    context.set_offline(True)
    page.goto("/jobs/find/")
    expect(page.locator("h1")).to_have_text("Sin conexión")
    assert page.evaluate("document.documentElement.lang") == "es"
    # The scripts' words are kept too.
    assert page.evaluate("typeof window.django.gettext") == "function"


def test_nothing_of_a_shop_is_kept(page, order, cast):
    """Customers, people and the shop's name stay out, whatever was opened."""
    begin(page, "/jobs/")
    for address in (
        reverse("jobs:visit", args=[order.visit_id]),
        reverse("jobs:work-order", args=[order.pk]),
        reverse("people:team"),
    ):
        page.goto(address)
    kept = page.evaluate(KEPT)
    assert "/offline/?language=en" in kept
    assert all(where.startswith(("/static/", "/offline/")) for where in kept), list(kept)
    names = (cast.shop.name, cast.owner.name, order.visit.vehicle.plate)
    assert not [where for where, text in kept.items() for name in names if name and name in text]


def test_a_form_that_found_nobody_stays_as_it_was_typed(page, context):
    begin(page, reverse("people:shop"))
    page.locator("[name=phone]").fill("555 0100")
    context.set_offline(True)
    save = page.locator("main form[method=post] button[type=submit]").first
    save.click()
    told = page.locator(".form-not-sent")
    expect(told).to_be_in_viewport()
    expect(page.locator("[name=phone]")).to_have_value("555 0100")
    expect(save).to_be_enabled()
    assert not Shop.objects.filter(phone="555 0100").exists()
    context.set_offline(False)
    save.click()
    expect(page.locator(".message-success")).to_be_visible()
    assert Shop.objects.filter(phone="555 0100").count() == 1


@pytest.fixture
def wire(live_server) -> Iterator[Wire]:
    """Between browser and server: a page that is left would still send past a browser's switch."""
    opened = Wire(int(live_server.url.rpartition(":")[2]))
    yield opened
    opened.close()


def test_what_waits_is_told_and_sent_when_the_connection_is_back(signed_in_page, cast, order, wire):
    work_order_accept(order=order, member=cast.mechanic)
    address = f"http://localhost:{wire.port}"
    phone = signed_in_page(cast.mechanic, service_workers="allow", base_url=address)[0]
    begin(phone, reverse("jobs:work-order", args=[order.pk]))
    wire.cut()
    phone.locator("details:has(form[data-draft=ask]) > summary").click()
    phone.locator("form[data-draft=ask] textarea").fill("Is the head to come off?")
    phone.locator("form[data-draft=ask] button:not([type=button])").first.click()
    expect(phone.locator("form[data-draft=ask] .draft-note")).to_be_visible()
    phone.goto("/work-orders/")
    expect(phone.locator("[data-waiting]")).to_contain_text("1")
    assert not Question.objects.exists()
    wire.mend()
    expect(phone.locator("h1")).not_to_have_text(OFFLINE)
    phone.wait_for_function("() => !Object.keys(localStorage).some((k) => k.startsWith('draft:'))")
    assert Question.objects.count() == 1


def test_another_version_takes_the_place_of_the_one_before(page):
    begin(page, "/jobs/")
    page.evaluate("async () => (await caches.open('look-before')).put('/left', new Response('x'))")
    page.evaluate("async () => (await navigator.serviceWorker.getRegistration()).unregister()")
    page.goto("/jobs/")
    page.evaluate(READY)
    page.wait_for_function("async () => !(await caches.keys()).includes('look-before')")
    assert len(page.evaluate("caches.keys()")) == 1


def test_signing_out_leaves_nothing_of_before(live_server, signed_in_page, cast):
    page = signed_in_page(
        cast.owner,
        service_workers="allow",
        base_url=live_server.url.replace("127.0.0.1", "localhost"),
    )[0]
    begin(page, "/jobs/")
    page.evaluate("async () => (await caches.open('look-before')).put('/left', new Response('x'))")
    page.locator("details.menu summary").click()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/people/sign-in/**")
    assert "/left" not in page.evaluate(KEPT)
    # The next person is without a connection as well served.
    page.reload()
    page.evaluate(READY)
    page.context.set_offline(True)
    page.goto("/jobs/")
    expect(page.locator("h1")).to_have_text(OFFLINE)


@pytest.mark.parametrize("without", ["blocked", "missing"])
def test_without_service_workers_all_goes_on(signed_in_page, cast, without):
    """As on plain HTTP, where browsers have none."""
    page, complaints = signed_in_page(cast.owner, service_workers="block")
    if without == "missing":
        page.add_init_script("delete Navigator.prototype.serviceWorker")
    page.goto(reverse("people:shop"))
    assert page.evaluate("'serviceWorker' in navigator") == (without == "blocked")
    page.locator("[name=phone]").fill("555 0101")
    page.locator("main form[method=post] button[type=submit]").first.click()
    expect(page.locator(".message-success")).to_be_visible()
    assert complaints == []
