"""A compression test on a phone: typed row by row, proposed by the limit, saved in place."""

import re
from itertools import product

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from jobs.core.gauge import RULES, GaugeRule
from jobs.core.proposed_outcomes import proposed_by_limit
from jobs.models import CylinderFinding, WorkOrder
from jobs.services.work import work_order_accept

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}


@pytest.fixture
def phone(signed_in_page, order, cast) -> Page:
    work_order_accept(order=order, member=cast.mechanic)
    page: Page = signed_in_page(cast.mechanic, **PHONE, keep=True)[0]
    page.goto(reverse("jobs:work-order", args=[order.pk]) + "?at=gauge_dry")
    return page


def outcomes(page: Page) -> dict[int, str]:
    rows = page.locator("#test-gauge_dry tr.reading")
    return {
        int(row.get_attribute("data-cylinder") or 0): row.locator("select").input_value()
        for row in rows.all()
    }


def test_figures_are_typed_one_after_the_other_and_saved_once(phone: Page):
    field = "#id_gauge_dry_cylinder_{}_pressure".format
    phone.locator("#id_gauge_dry_cylinder_3_first_puff").focus()
    phone.keyboard.press("Enter")
    for cylinder, typed in ((3, "480"), (1, "1190"), (2, "1180"), (4, "1200")):
        expect(phone.locator(field(cylinder))).to_be_focused()
        phone.keyboard.type(typed)
        if cylinder != 4:
            assert outcomes(phone).get(1) == "", "nothing is good before all are in"
            phone.keyboard.press("Enter")
            phone.keyboard.press("Enter")
    expect(phone.locator("tr.reading-low")).to_have_count(1)
    expect(phone.locator("tr.reading-low")).to_have_attribute("data-cylinder", "3")
    assert outcomes(phone) == {3: "bad", 1: "good", 2: "good", 4: "good"}
    assert phone.locator(field(3)).get_attribute("inputmode") == "decimal"
    # nothing of what was typed is cut
    assert phone.locator(field(1)).evaluate("e => e.scrollWidth <= e.clientWidth")
    phone.keyboard.press("Enter")
    phone.keyboard.press("Enter")
    phone.wait_for_url(re.compile("at=gauge_dry#test-gauge_dry$"))
    assert CylinderFinding.objects.filter(replaced_by=None).count() == 4
    expect(phone.locator("#test-gauge_dry")).to_be_in_viewport()


def test_what_a_person_chose_is_not_proposed_over(phone: Page):
    phone.locator("#id_gauge_dry_cylinder_3_outcome").select_option("ambiguous")
    for cylinder, typed in ((3, "480"), (1, "1190"), (2, "1180"), (4, "1200")):
        phone.locator(f"#id_gauge_dry_cylinder_{cylinder}_pressure").fill(typed)
    assert outcomes(phone)[3] == "ambiguous"
    assert outcomes(phone)[1] == "good"


def test_page_and_server_propose_alike(phone: Page, order, cast):
    for rule, unit in product(RULES, ("kPa", "psi")):
        check_proposed_alike(phone, order, cast, rule, unit)


def check_proposed_alike(phone: Page, order, cast, rule: GaugeRule, unit: str) -> None:
    WorkOrder.objects.filter(pk=order.pk).update(gauge_rule=rule.to_json())
    cast.shop.pressure_unit = unit
    cast.shop.save()
    phone.reload()
    per = {"kPa": 1.0, "psi": 6.894757}[unit]
    for readings in (
        {3: 750, 1: 1000, 2: 1001, 4: 1200},
        {3: 1400, 1: 1500, 2: 1399, 4: 1500},
        {3: 690, 1: 900, 2: 689},
        {3: 300, 1: 300, 2: 300, 4: 300},
        {3: 180, 1: 170, 2: 90, 4: 99999},
    ):
        for cylinder in (3, 1, 2, 4):
            value = readings.get(cylinder)
            phone.locator(f"#id_gauge_dry_cylinder_{cylinder}_pressure").fill(
                "" if value is None else str(value)
            )
        kpa = {c: value * per for c, value in readings.items()}
        proposed = proposed_by_limit(kpa, [1, 2, 3, 4], rule, "petrol")
        assert outcomes(phone) == {c: proposed.get(c, "") for c in (3, 1, 2, 4)}, (rule, unit)


def test_head_and_foot_stay_in_sight(phone: Page):
    for ratio in (0, 0.5, 1):
        phone.evaluate("r => scrollTo(0, r * document.documentElement.scrollHeight)", ratio)
        expect(phone.locator(".order-bar-line")).to_be_in_viewport()
    phone.evaluate("scrollTo(0, 900)")
    expect(phone.locator(".order-foot")).to_be_in_viewport(ratio=1)
    phone.locator(".order-bar-line").click()
    expect(phone.locator(".order-place-panel svg.plan")).to_be_in_viewport()
    phone.keyboard.press("Escape")
    expect(phone.locator(".order-place-panel")).not_to_be_visible()
    phone.get_by_role("link", name=re.compile("^Complete")).click()
    expect(phone.get_by_label(re.compile("^What was found, in short"))).to_be_in_viewport()
    assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth")
