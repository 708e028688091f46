"""What is typed at the engine outlives the connection, the session and the page."""

import re

import pytest
from django.contrib.sessions.models import Session
from django.urls import reverse
from PIL import Image
from playwright.sync_api import APIResponse, BrowserContext, Page, Route, expect

from jobs.models import CylinderFinding, Photo
from jobs.services.findings import NewFinding, finding_add
from jobs.services.work import work_order_accept
from tests.conftest import PASSWORD

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

READINGS = {3: "480", 1: "1190", 2: "1180", 4: "1200"}
NEW_WORDS = "#id_complaint-words"
DRAFTS = "() => Object.keys(localStorage).filter((key) => key.startsWith('draft:'))"


@pytest.fixture
def here(order, cast) -> str:
    work_order_accept(order=order, member=cast.mechanic)
    return reverse("jobs:work-order", args=[order.pk]) + "?at=gauge_dry"


@pytest.fixture
def page(signed_in_page, cast, here) -> Page:
    opened: Page = signed_in_page(cast.mechanic, viewport={"width": 390, "height": 844})[0]
    opened.goto(here)
    return opened


@pytest.fixture
def context(page) -> BrowserContext:
    opened: BrowserContext = page.context
    return opened


def figure(page: Page, cylinder: int):
    return page.locator(f"#id_gauge_dry_cylinder_{cylinder}_pressure")


def type_readings(page: Page) -> None:
    for cylinder, value in READINGS.items():
        figure(page, cylinder).fill(value)


def save(page: Page) -> None:
    page.locator("#test-gauge_dry").get_by_role("button", name="Save").click()


def _switch_off(page: Page) -> None:
    """End a page as an empty battery does: while Chromium closes it, it would still send."""
    page.evaluate("() => { window.fetch = () => Promise.reject(new TypeError('off')); }")
    page.close()


def recorded() -> dict[int | None, float | None]:
    return dict(CylinderFinding.objects.values_list("cylinder", "pressure_kpa"))


WHAT_WAS_TYPED = {int(c): float(v) for c, v in READINGS.items()}


def test_typed_offline_and_sent_once_when_back(page, context, here):
    type_readings(page)
    context.set_offline(True)
    save(page)
    expect(page.locator(".draft-note")).to_be_visible()
    _switch_off(page)
    assert not CylinderFinding.objects.exists()
    context.set_offline(False)
    page = context.new_page()
    page.goto(here)
    expect(page.locator("#findings .found > li")).to_have_count(4)
    assert recorded() == WHAT_WAS_TYPED
    assert CylinderFinding.objects.count() == 4
    assert page.evaluate(DRAFTS) == []


def test_it_is_sent_by_itself_once_the_connection_is_back(page, context):
    type_readings(page)
    context.set_offline(True)
    save(page)
    expect(page.locator(".draft-note")).to_be_visible()
    context.set_offline(False)
    expect(page.locator("#findings .found > li")).to_have_count(4)
    assert recorded() == WHAT_WAS_TYPED


def test_another_page_sends_what_waits(page, context):
    type_readings(page)
    context.set_offline(True)
    save(page)
    expect(page.locator(".draft-note")).to_be_visible()
    _switch_off(page)
    context.set_offline(False)
    page = context.new_page()
    with page.expect_response(re.compile("/readings/$")):
        page.goto(reverse("jobs:board"))
    assert recorded() == WHAT_WAS_TYPED
    page.wait_for_function(f"({DRAFTS})().length === 0")


def test_an_answer_that_was_lost_doubles_nothing(page):
    lost: list[APIResponse] = []

    def lose(route: Route) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch())
        route.abort()

    page.route(re.compile("/readings/$"), lose)
    type_readings(page)
    save(page)
    expect(page.locator(".draft-note")).to_be_visible()
    assert CylinderFinding.objects.count() == 4
    save(page)
    expect(page.locator("#findings .found > li")).to_have_count(4)
    assert CylinderFinding.objects.count() == 4
    assert page.evaluate(DRAFTS) == []


def test_a_reload_gives_back_what_was_typed(page, here):
    figure(page, 3).fill("480")
    page.reload()
    expect(figure(page, 3)).to_have_value("480")
    note = page.locator("#test-gauge_dry .draft-note")
    expect(note).to_be_visible()
    # By the same clock as the rest of the page.
    expect(note).to_contain_text(re.compile(r"\b\d\d:\d\d\."))
    note.get_by_role("button", name="Discard").click()
    expect(figure(page, 3)).to_have_value("")
    expect(page.locator(".draft-note")).to_have_count(0)


def test_a_session_that_ended_loses_nothing(page, cast, here):
    type_readings(page)
    Session.objects.all().delete()
    save(page)
    page.get_by_label("Username").fill(cast.mechanic.user.username)
    page.get_by_label("Password").fill(PASSWORD)
    page.locator("main").get_by_role("button", name="Sign in").click()
    page.locator("main form button[type=submit]").last.click()
    expect(page.locator("#findings .found > li")).to_have_count(4)
    assert recorded() == WHAT_WAS_TYPED
    assert page.evaluate(DRAFTS) == []


def test_a_colleague_who_was_quicker_is_told_of(page, context, order, cast):
    type_readings(page)
    context.set_offline(True)
    save(page)
    expect(page.locator(".draft-note")).to_be_visible()
    finding_add(order=order, member=cast.owner, found=NewFinding(3, "gauge_dry", "bad", 510))
    context.set_offline(False)
    expect(page.locator(".reading-wrong")).to_contain_text("Olive Owner recorded this meanwhile")
    expect(figure(page, 3)).to_have_value("480")
    assert recorded() == {3: 510.0}
    save(page)
    expect(page.locator("#findings .found > li")).to_have_count(4)
    (standing,) = CylinderFinding.objects.filter(cylinder=3, replaced_by=None)
    assert standing.pressure_kpa == 480.0


def test_drafts_are_a_members_and_end_with_signing_out(page, context, cast, client_for, here):
    figure(page, 3).fill("480")
    page.reload()
    expect(page.locator(".draft-note")).to_have_count(1)
    session = client_for(cast.owner).cookies["sessionid"].value
    (cookie,) = [c for c in context.cookies() if c["name"] == "sessionid"]
    context.add_cookies([{**cookie, "value": session}])
    page.goto(here)
    expect(figure(page, 3)).to_have_value("")
    page.locator("details.menu > summary", has_text="Olive").click()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_load_state()
    assert page.evaluate(DRAFTS) == []


def test_what_waited_for_days_is_shown_before_it_is_sent(page):
    sends = re.compile("/readings/$")
    page.route(sends, lambda route: route.abort())
    type_readings(page)
    save(page)
    expect(page.locator(".draft-note")).to_be_visible()
    page.evaluate(
        """() => { for (const key of Object.keys(localStorage)) {
             const draft = JSON.parse(localStorage.getItem(key));
             draft.at -= 2 * 24 * 3600 * 1000;
             localStorage.setItem(key, JSON.stringify(draft)); } }"""
    )
    page.goto(reverse("jobs:board"))
    page.unroute(sends)
    link = page.locator(".draft-waiting a")
    expect(link).to_have_count(1)
    link.click()
    expect(figure(page, 3)).to_have_value("480")
    assert not CylinderFinding.objects.exists()
    save(page)
    expect(page.locator("#findings .found > li")).to_have_count(4)
    assert page.evaluate(DRAFTS) == []


@pytest.fixture
def picture(tmp_path):
    path = tmp_path / "plug.png"
    Image.new("RGB", (8, 8), "red").save(path)
    return path


def choose_photo(page, picture):
    form = page.locator("form[data-draft=photo]")
    page.locator(".fold:has(#photos) > summary").click()
    form.locator("input[type=file]").set_input_files(picture)
    form.locator("[name=caption]").fill("Plug of cylinder 3")
    return form


def test_a_photo_chosen_offline_is_sent_once_after_a_reload(page, context, here, picture):
    form = choose_photo(page, picture)
    context.set_offline(True)
    form.get_by_role("button", name="Add the photo").click()
    expect(form.locator(".draft-note")).to_be_in_viewport()
    _switch_off(page)
    assert not Photo.objects.exists()
    context.set_offline(False)
    page = context.new_page()
    page.goto(here)
    expect(page.locator("#photos img")).to_have_count(1)
    photo = Photo.objects.get()
    assert photo.caption == "Plug of cylinder 3"
    assert page.evaluate(DRAFTS) == []


def test_another_page_sends_a_photo_that_waits(page, context, picture):
    form = choose_photo(page, picture)
    context.set_offline(True)
    form.get_by_role("button", name="Add the photo").click()
    expect(form.locator(".draft-note")).to_be_visible()
    _switch_off(page)
    context.set_offline(False)
    page = context.new_page()
    with page.expect_response(re.compile("/photo/$")):
        page.goto(reverse("jobs:board"))
    page.wait_for_function(f"() => ({DRAFTS})().length === 0")
    assert Photo.objects.get().caption == "Plug of cylinder 3"


def test_a_photo_not_sent_is_still_chosen_after_a_reload(page, picture):
    choose_photo(page, picture)
    page.reload()
    form = page.locator("form[data-draft=photo]")
    expect(form.locator(".draft-note")).to_be_visible()
    chosen = form.locator("input[type=file]").evaluate("input => input.files[0].name")
    assert chosen == "plug.png"


def test_what_became_of_saving_offline_is_told_beside_the_button(page, context):
    type_readings(page)
    context.set_offline(True)
    save(page)
    expect(page.locator(".draft-note")).to_be_in_viewport()
    assert page.locator(".draft-note").evaluate(
        """note => Boolean(note.previousElementSibling?.querySelector('button')
           || note.previousElementSibling?.matches('button'))"""
    )


@pytest.mark.parametrize(
    ("name", "field"),
    [
        ("outcome-edit", "cause"),
        ("consent-add", "said_by"),
        ("triage-edit", "remarks"),
        ("decide", "reason"),
        ("complaint-edit", "words"),
        ("visit", "text"),
        ("codes-add", "text"),
    ],
)
def test_longer_forms_keep_what_was_typed(signed_in_page, cast, order, name, field):
    page = signed_in_page(cast.owner)[0]
    there = reverse(f"jobs:{name}", args=[order.visit_id])
    page.goto(there)
    typed = page.locator(f"form[data-draft] [name={field}]").last
    typed.evaluate("e => e.closest('details') && (e.closest('details').open = true)")
    typed.fill("Typed and left")
    page.goto(reverse("jobs:board"))
    page.goto(there)
    expect(page.locator(f"form[data-draft] [name={field}]").last).to_have_value("Typed and left")
    expect(page.locator(".draft-note")).to_have_count(1)


def test_a_new_job_keeps_what_was_typed_for_the_vehicle_it_was_typed_for(
    signed_in_page, cast, order
):
    page = signed_in_page(cast.owner)[0]
    there = reverse("jobs:new")
    page.goto(there)
    page.locator("[name=complaint-words]").fill("It shakes when cold.")
    page.goto(f"{there}?vehicle={order.visit.vehicle_id}")
    expect(page.locator("[name=complaint-words]")).to_have_value("")
    page.goto(there)
    expect(page.locator("[name=complaint-words]")).to_have_value("It shakes when cold.")


def test_two_tabs_of_one_form_keep_a_draft_each(signed_in_page, cast):
    """What is typed into one is neither lost to the other nor put into it."""
    first: Page = signed_in_page(cast.writer)[0]
    tabs = [first, first.context.new_page(), first.context.new_page()]
    for tab, typed in zip(tabs, ("Shakes.", "Stalls.", "Smokes."), strict=True):
        tab.goto(reverse("jobs:new"))
        tab.wait_for_timeout(300)  # a draft would be put back by now
        expect(tab.locator(NEW_WORDS)).to_have_value("")
        tab.locator(NEW_WORDS).fill(typed)
    first.locator(NEW_WORDS).fill("Shakes when cold.")
    for tab, typed in zip(tabs, ("Shakes when cold.", "Stalls.", "Smokes."), strict=True):
        tab.reload()
        expect(tab.locator(NEW_WORDS)).to_have_value(typed)
    _switch_off(tabs[2])
    later = first.context.new_page()
    later.goto(reverse("jobs:new"))
    expect(later.locator(NEW_WORDS)).to_have_value("Smokes.")
