"""Every page of evidence, work and outcome: strangers, roles and other shops."""

import pytest
from django.urls import reverse

from jobs.models import CylinderFinding, Judgement, TimelineEvent, VisitCapture, WorkOrder
from jobs.urls import _WORK
from shopdiag.people.core.roles import Role
from tests.jobs.work.kept_order import cast, kept, order, taken, visit

__all__ = ["cast", "kept", "order", "taken", "visit"]

EVERYONE = set(Role)
DIAGNOSIS = {Role.OWNER, Role.DIAGNOSTICIAN}
BENCH = {Role.OWNER, Role.DIAGNOSTICIAN, Role.MECHANIC}
DESK = {Role.OWNER, Role.DIAGNOSTICIAN, Role.WRITER}

PAGES = [
    ("jobs:capture", EVERYONE),
    ("jobs:decide", DIAGNOSIS),
    ("jobs:work-order-new", DIAGNOSIS),
    ("jobs:consent-add", DESK),
    ("jobs:work-orders", EVERYONE),
    ("jobs:work-order", EVERYONE),
    ("jobs:work-order-edit", DIAGNOSIS),
    ("jobs:work-order-print", EVERYONE),
    ("jobs:work-order-pdf", EVERYONE),
    ("jobs:finding-add", BENCH),
    ("jobs:swap-add", BENCH),
    ("jobs:work-order-limits", BENCH),
    ("jobs:figure-limits", DIAGNOSIS),
    ("jobs:engine-limits", DIAGNOSIS),
    ("jobs:shop-limits", {Role.OWNER}),
    ("jobs:outcome-edit", DESK),
    ("jobs:before-after", EVERYONE),
    ("jobs:customer-copy", DESK),
    ("jobs:customer-copy-pdf", DESK),
]
POSTS = [
    ("jobs:capture-upload", DIAGNOSIS),
    ("jobs:capture-aside", DIAGNOSIS),
    ("jobs:capture-purpose", DIAGNOSIS),
    ("jobs:capture-same", DIAGNOSIS),
    ("jobs:capture-same-all", DIAGNOSIS),
    ("jobs:work-order-accept", BENCH),
    ("jobs:readings-add", BENCH),
    ("jobs:question-ask", BENCH),
    ("jobs:question-answer", DIAGNOSIS),
    ("jobs:question-mail-again", BENCH),
    ("jobs:work-order-withdraw", DIAGNOSIS),
    ("jobs:work-order-complete", BENCH),
    ("jobs:work-order-photo", BENCH),
]
ALSO_POSTED = [
    "jobs:decide",
    "jobs:work-order-new",
    "jobs:consent-add",
    "jobs:work-order-edit",
    "jobs:finding-add",
    "jobs:swap-add",
    "jobs:work-order-limits",
    "jobs:figure-limits",
    "jobs:engine-limits",
    "jobs:shop-limits",
    "jobs:outcome-edit",
]
OF_ORDER = {
    "jobs:work-order",
    "jobs:work-order-edit",
    "jobs:work-order-print",
    "jobs:work-order-pdf",
    "jobs:finding-add",
    "jobs:swap-add",
    "jobs:work-order-limits",
    "jobs:figure-limits",
    "jobs:work-order-accept",
    "jobs:readings-add",
    "jobs:question-ask",
    "jobs:question-answer",
    "jobs:question-mail-again",
    "jobs:work-order-withdraw",
    "jobs:work-order-complete",
    "jobs:work-order-photo",
}

OF_NO_ROW = {"jobs:work-orders", "jobs:shop-limits"}
"""Pages of the member's own shop, whichever that is."""

OF_CAPTURE = {
    "jobs:capture",
    "jobs:capture-aside",
    "jobs:capture-purpose",
    "jobs:capture-same",
    "jobs:capture-same-all",
}


@pytest.fixture
def address(order):
    def of(name):
        if name in OF_NO_ROW:
            return reverse(name)
        if name == "jobs:engine-limits":
            return reverse(name, args=[order.judgement.run.setup.engine_id])
        if name in OF_CAPTURE:
            return reverse(name, args=[order.judgement.run.capture_id])
        return reverse(name, args=[order.pk if name in OF_ORDER else order.visit_id])

    return of


def test_the_list_names_every_page_of_this_part():
    assert {f"jobs:{p.name}" for p in _WORK} == {name for name, _ in PAGES + POSTS}


@pytest.mark.parametrize("name", [name for name, _ in PAGES + POSTS])
def test_strangers_are_asked_to_sign_in(client, address, name):
    response = client.get(address(name))
    assert response.status_code == 302
    assert response.url.startswith(reverse("people:sign-in"))


@pytest.mark.parametrize(("name", "allowed"), PAGES)
def test_roles(*, cast, client_for, address, order, name, allowed):
    # a verdict that has its order leads there instead of to a second form
    leads_on = name == "jobs:work-order-new"
    for role, member in cast.insiders.items():
        response = client_for(member).get(address(name))
        if role not in allowed:
            assert response.status_code == 403, role
        elif leads_on:
            assert response.status_code == 302, role
            assert response.url == reverse("jobs:work-order", args=[order.pk])
        else:
            assert response.status_code == 200, role


@pytest.mark.parametrize(("name", "allowed"), POSTS + [(n, dict(PAGES)[n]) for n in ALSO_POSTED])
def test_roles_that_change_something(cast, client_for, address, name, allowed):
    before = TimelineEvent.objects.count()
    for role, member in cast.insiders.items():
        if role in allowed:
            continue
        assert client_for(member).post(address(name), {}).status_code == 403, role
    assert TimelineEvent.objects.count() == before


@pytest.mark.parametrize(("name", "allowed"), POSTS)
def test_what_changes_something_is_never_a_link(cast, client_for, address, name, allowed):
    for role, member in cast.insiders.items():
        status = client_for(member).get(address(name)).status_code
        assert status == (405 if role in allowed else 403), role


@pytest.mark.parametrize(
    ("name", "method"),
    [(n, "get") for n, _ in PAGES if n not in OF_NO_ROW]
    + [(n, "post") for n in (*ALSO_POSTED, *(n for n, _ in POSTS)) if n not in OF_NO_ROW],
)
def test_another_shop_sees_nothing(cast, client_for, address, name, method):
    before = TimelineEvent.objects.count()
    for member in (cast.outsider, cast.other_owner):
        response = getattr(client_for(member), method)(
            address(name), {"reason": "x", "kind": "without", "mechanical": "no"}
        )
        assert response.status_code == 404
    assert TimelineEvent.objects.count() == before
    assert WorkOrder.objects.get().state == "open"
    assert Judgement.objects.count() == 1
    assert VisitCapture.objects.count() == 1
    assert not CylinderFinding.objects.exists()


def test_the_list_shows_the_own_shop_only(cast, client_for, order):
    here = client_for(cast.diagnostician).get(reverse("jobs:work-orders")).content.decode()
    there = client_for(cast.outsider).get(reverse("jobs:work-orders")).content.decode()
    assert order.request in here
    assert order.request not in there


def test_a_person_of_two_shops_works_in_the_one_chosen(cast, client_for, order, address):
    assert client_for(cast.both_here).get(address("jobs:work-order")).status_code == 200
    assert client_for(cast.both_there).get(address("jobs:work-order")).status_code == 404


def test_buttons_are_offered_to_whoever_may_press_them(cast, client_for, order, address):
    page = client_for(cast.mechanic).get(address("jobs:work-order")).content.decode()
    assert address("jobs:work-order-accept") in page
    assert address("jobs:work-order-withdraw") not in page
    assert address("jobs:work-order-edit") not in page
    page = client_for(cast.writer).get(address("jobs:work-order")).content.decode()
    assert address("jobs:work-order-accept") not in page
    assert address("jobs:finding-add") not in page
