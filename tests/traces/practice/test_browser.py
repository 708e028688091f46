"""Practice and joining in a browser: what taps do, and that forms get through."""

import re

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from shopdiag.people.invitations import invitation_create
from shopdiag.people.models import Member
from tests.conftest import make_cast
from tests.traces.practice.kept_exercise import exercise_drawn
from traces.practice.models import Exercise

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True}


def test_taps_mark_humps_and_the_solution_follows(signed_in_page):
    cast = make_cast()
    exercise = exercise_drawn(cast.mechanic)
    assert exercise.truth
    page, complaints = signed_in_page(cast.mechanic, **PHONE)
    page.goto(reverse("practice:exercise", args=[exercise.pk]))
    place = exercise.truth["cylinders"].index(exercise.truth["weak"][0])
    hump = page.locator(f'#part .practice-hump[data-place="{place}"]')
    hump.last.tap()
    expect(hump).to_have_class([re.compile("is-weak")] * 2)
    expect(page.locator(f'input[name="weak"][value="{place}"]')).to_be_checked()
    expect(page.locator('input[name="call"][value="weak"]')).to_be_checked()
    hump.first.tap()
    expect(page.locator('input[name="weak"]:checked')).to_have_count(0)
    hump.first.tap()
    page.select_option('[name="number_0"]', str(exercise.truth["cylinders"][0]))
    page.locator('[data-practice-form] button[type="submit"]').click()
    expect(page.locator("#solution")).to_be_visible()
    expect(page.locator("#tool .bars")).to_be_visible()
    assert complaints == []
    assert Exercise.objects.get(pk=exercise.pk).is_right


def test_without_scripts_the_list_alone_is_enough(signed_in_page):
    cast = make_cast()
    exercise = exercise_drawn(cast.mechanic)
    page, _ = signed_in_page(cast.mechanic, java_script_enabled=False)
    page.goto(reverse("practice:exercise", args=[exercise.pk]))
    page.check('input[name="call"][value="even"]')
    page.check('input[name="numbers_open"]')
    page.locator('[data-practice-form] button[type="submit"]').click()
    expect(page.locator("#solution")).to_be_visible()
    assert Exercise.objects.get(pk=exercise.pk).points == 0


def test_a_link_lets_somebody_join(open_page, live_server):
    cast = make_cast()
    _, key = invitation_create(member=cast.owner, label="Nico", role="mechanic")
    page, complaints = open_page(base_url=live_server.url, **PHONE)
    page.goto(reverse("people:join", args=[key]))
    for name, value in {
        "name": "Nico New",
        "username": "nico",
        "password": "feeler-gauge-08",
        "password_again": "feeler-gauge-08",
    }.items():
        page.fill(f'[name="{name}"]', value)
    page.locator('main button[type="submit"]').click()
    page.wait_for_url("**" + reverse("jobs:board"))
    assert complaints == []
    assert Member.objects.get(user__username="nico").role == "mechanic"


def test_the_first_run_proposes_what_the_browser_knows(open_page, live_server):
    options = {"timezone_id": "America/Chicago", "locale": "en-US"}
    page, complaints = open_page(base_url=live_server.url, **options)
    page.goto(reverse("people:first-run"))
    expect(page.locator('[name="time_zone"]')).to_have_value("America/Chicago")
    units = {"pressure_unit": "psi", "distance_unit": "mi", "paper_size": "Letter"}
    for name, value in units.items():
        expect(page.locator(f'[name="{name}"]:checked')).to_have_value(value)
    expect(page.locator('[name="currency"]')).to_have_value("USD")
    assert complaints == []
