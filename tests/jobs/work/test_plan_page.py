"""The plan of a job: its page, the job card, the verdict's page, the report, the order, the API."""

import html
from datetime import timedelta

import pytest
from django.urls import reverse

from engines.models import Engine
from jobs.core.groups import group_tests
from jobs.core.plan import Said
from jobs.core.tests_wanted import recorded_as
from jobs.models import CylinderFinding, TimelineEvent, Visit
from jobs.selectors.order_draft import order_draft
from jobs.selectors.plan import evidence_of, plan_of
from jobs.services.findings import NewFinding, finding_add
from jobs.services.swaps import Swapped, swap_add
from jobs.services.triage import codes_add, misfires_set
from jobs.services.work import work_order_accept, work_order_create
from shopdiag.people.core.roles import Role
from tests.api.conftest import api_for
from tests.stored_rows import stored_rows

__all__ = ["api_for"]

EVEN = dict.fromkeys(range(1, 5), 1.0)


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


@pytest.fixture
def misfiring(triaged, by, run_of):
    """Even, and cylinder 2 misfires."""
    codes_add(visit=triaged, text="P0302 stored", member=by)
    misfires_set(visit=triaged, counts={1: 2, 2: 143, 3: 3, 4: 1}, member=by)
    run_of(triaged, EVEN)
    return triaged


@pytest.fixture
def unsettled(misfiring, sign):
    """The same, signed as not settled, so that an order can be made."""
    run = plan_of(misfiring).run
    return sign(misfiring, run, (), mechanical="no", fault_group="unsettled")


@pytest.mark.parametrize(
    ("engines_own", "vehicles_own", "counts"),
    [("", "", ""), ("pairs", "", "pairs"), ("pairs", "single", "single")],
)
def test_the_vehicles_coils_count_before_its_engines(
    misfiring, browser, engines_own, vehicles_own, counts
):
    vehicle = misfiring.vehicle
    vehicle.coils, vehicle.injection = vehicles_own, "port"
    vehicle.save()
    Engine.objects.update(coils=engines_own)
    found = plan_of(Visit.objects.get(pk=misfiring.pk))
    assert found.made_from[0].ignition == counts
    assert found.asks == (("coils",) if not counts else ())
    page = browser.get(reverse("jobs:plan", args=[misfiring.pk])).content.decode()
    assert ("id_coils" in page) is (not counts)


def test_a_vehicles_coils_go_with_its_fuel(misfiring, browser):
    address = reverse("jobs:vehicle-edit", args=[misfiring.pk])
    form = browser.get(address).context["form"]
    typed = {name: form[name].value() or "" for name in form.fields}
    bad = typed | {"fuel": "diesel", "coils": "pairs"}
    answer = browser.post(address, bad)
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {"coils"}
    assert browser.post(address, typed | {"coils": "pairs"}).status_code == 302
    misfiring.vehicle.refresh_from_db()
    assert misfiring.vehicle.coils == "pairs"


@pytest.fixture
def order(unsettled, cast):
    made = work_order_create(judgement=unsettled, member=cast.diagnostician)
    return work_order_accept(order=made, member=cast.mechanic)


def swap(order, cast, followed, part="coil"):
    swap_add(
        order=order,
        member=cast.mechanic,
        swapped=Swapped(part, from_cylinder=2, to_cylinder=1, followed=followed, confirmed=True),
    )


def page_of(browser, visit, name="jobs:plan"):
    answer = browser.get(reverse(name, args=[visit.pk]))
    assert answer.status_code == 200
    return answer


def keys(plan):
    return [t.key for t in plan.tests]


def test_the_page_shows_tests_in_order_and_the_leading_cause_with_reasons(browser, misfiring):
    answer = page_of(browser, misfiring)
    plan = answer.context["plan"]
    shown = answer.content.decode()
    assert keys(plan)[0] == "swap_coil"
    places = [shown.index(t.where) for t in plan.tests]
    assert places == sorted(places)
    for cause in plan.leading:
        assert cause.name in shown
        assert all(one.words in shown for one in (*cause.supports, *cause.against))
    assert {c.key for c in plan.leading} & {"coil", "plug"}


@pytest.mark.parametrize("role", list(Role))
def test_everybody_of_the_shop_reads_it_and_reading_changes_nothing(
    cast, client_for, misfiring, role
):
    client = client_for(getattr(cast, role.value))
    before = stored_rows(but=())
    assert page_of(client, misfiring).context["plan"].tests
    assert stored_rows(but=()) == before


def test_another_shop_does_not(client_for, cast, misfiring):
    address = reverse("jobs:plan", args=[misfiring.pk])
    assert client_for(cast.outsider).get(address).status_code == 404


def test_a_swap_that_followed_shows_the_coil_on_page_card_and_api(
    browser, order, cast, misfiring, api_for
):
    swap(order, cast, "yes")
    plan = page_of(browser, misfiring).context["plan"]
    assert [c.key for c in plan.leading] == ["coil"]
    assert plan.is_shown
    data = api_for(cast.mechanic).get(reverse("api:plan", args=[misfiring.pk])).json()
    first = data["causes"][0]
    assert (first["key"], first["standing"]) == ("coil", "shown")
    assert first["settled_by"]
    assert data["tests"] == []


def test_a_swap_that_stayed_rules_it_out_and_is_not_asked_for_again(order, cast, misfiring):
    swap(order, cast, "no")
    plan = plan_of(misfiring).plan
    assert [c.key for c in plan.ruled_out] == ["coil"]
    assert "swap_coil" not in keys(plan)


def test_what_is_not_done_says_nothing(order, cast, misfiring):
    before = plan_of(misfiring).plan
    finding_add(
        order=order,
        member=cast.mechanic,
        found=NewFinding(None, "plugs", "not_done", words="No plug socket that fits."),
    )
    assert keys(plan_of(misfiring).plan) == keys(before)
    assert CylinderFinding.objects.count() == 1


def test_the_card_folds_it_and_names_the_first_test(browser, misfiring):
    answer = page_of(browser, misfiring, "jobs:visit")
    page = answer.context["page"]
    section = next(s for s in page.sections.held if s.key == "plan")
    assert page.plan.plan.tests[0].where in section.line
    assert not section.is_open
    assert reverse("jobs:plan", args=[misfiring.pk]) in answer.content.decode()


def test_a_signed_compression_fault_needs_none_on_the_card(browser, triaged, run_of, sign):
    sign(triaged, run_of(triaged))
    assert page_of(browser, triaged, "jobs:visit").context["page"].plan is None


def test_the_verdicts_page_shows_three_tests_beside_an_even_capture(browser, misfiring):
    answer = page_of(browser, misfiring, "jobs:decide")
    plan = answer.context["plan"]
    shown = answer.content.decode()
    assert all(t.where in shown for t in plan.first_tests)
    assert reverse("jobs:plan", args=[misfiring.pk]) in shown


def test_the_verdicts_page_of_an_uneven_capture_does_not(browser, triaged, run_of):
    run_of(triaged)
    assert page_of(browser, triaged, "jobs:decide").context["plan"] is None


def test_the_report_carries_it(browser, misfiring):
    shown = page_of(browser, misfiring, "jobs:job-report").content.decode()
    assert all(t.where in shown for t in plan_of(misfiring).plan.first_tests)


def test_an_order_that_is_not_settled_asks_for_the_plans_tests_in_its_order(unsettled):
    plan = plan_of(unsettled.visit).plan
    asked = [recorded_as(t.key) for t in order_draft(unsettled).tests]
    assert asked[0] == "counts"
    wanted = list(dict.fromkeys(t.recorded for t in plan.tests[:4]))
    assert asked[1 : 1 + len(wanted)] == wanted
    assert len(asked) == len(set(asked))


def test_an_order_of_a_group_is_put_in_the_plans_order(misfiring, sign):
    signed = sign(misfiring, plan_of(misfiring).run, (2,), mechanical="no", fault_group="fuel")
    asked = [t.key for t in order_draft(signed).tests]
    assert set(asked) == {t.key for t in group_tests(signed.group)}
    turn = [t.recorded for t in plan_of(misfiring).plan.tests]
    ranked = [recorded_as(k) for k in asked if recorded_as(k) in turn]
    assert ranked == sorted(ranked, key=turn.index)


def test_the_page_leads_to_the_order_where_one_can_be_made(browser, unsettled):
    shown = page_of(browser, unsettled.visit).content.decode()
    assert reverse("jobs:work-order-new", args=[unsettled.visit_id]) in shown


def test_what_the_complaint_says_of_coolant_counts(misfiring):
    complaint = misfiring.complaint
    complaint.words = "It loses coolant and misfires."
    complaint.save()
    evidence = evidence_of(misfiring, plan_of(misfiring).run, None)
    assert evidence.said == Said(coolant_loss=True)
    plan = plan_of(misfiring).plan
    assert keys(plan)[0] == "coolant"
    assert plan.stop


def test_a_plan_is_read_and_leaves_no_line(browser, misfiring):
    before = TimelineEvent.objects.count()
    page_of(browser, misfiring)
    assert TimelineEvent.objects.count() == before


def test_the_initial_checks_count(misfiring):
    triage = misfiring.triage
    triage.fuel_in_oil, triage.oil_level, triage.plugs_age = "yes", "high", 900
    triage.timing_work, triage.timing_work_on = "belt", misfiring.opened_at.date()
    triage.save()
    said = evidence_of(misfiring, plan_of(misfiring).run, None).said
    assert (said.fuel_in_oil, said.oil_level, said.timing_work) == (True, "high", True)
    assert said.ignition_work
    assert said.coolant_loss is None


@pytest.mark.parametrize(
    ("days", "odometer", "recent"), [(30, None, True), (2000, None, False), (None, 1, False)]
)
def test_work_of_long_ago_is_not_what_the_trouble_comes_from(misfiring, days, odometer, recent):
    triage = misfiring.triage
    misfiring.odometer = 200_000
    misfiring.save()
    opened = misfiring.opened_at.date()
    triage.fuel_work = "injectors"
    triage.fuel_work_on = None if days is None else opened - timedelta(days=days)
    triage.fuel_work_odometer = odometer
    triage.save()
    misfiring.refresh_from_db()
    assert evidence_of(misfiring, None, None).said.fuel_work is recent


def test_what_to_mind_stands_on_the_page_once(browser, misfiring):
    answer = page_of(browser, misfiring)
    cautions = answer.context["plan"].cautions
    shown = html.unescape(answer.content.decode())
    assert cautions
    assert all(shown.count(text) == 1 for text in cautions)


def test_a_closed_job_is_asked_nothing_by_the_api(misfiring, cast, api_for):
    address = reverse("api:plan", args=[misfiring.pk])
    client = api_for(cast.mechanic)
    assert client.get(address).json()["asks"] == ["coils", "injection"]
    Visit.objects.filter(pk=misfiring.pk).update(closed_at=misfiring.opened_at)
    assert client.get(address).json()["asks"] == []
