"""No page offers a form that would be refused: of a closed job, of a finished order."""

import pytest
from django.urls import reverse

from jobs.core.stages import Stage
from jobs.models import Visit, WorkOrder
from jobs.services.findings import NewFinding, finding_add
from jobs.urls import urlpatterns
from tests.jobs.work.kept_order import cast, kept, order, taken, visit
from tests.shopdiag.page_forms import filled, forms_on, forms_to
from tests.shopdiag.walking import arguments_of

__all__ = ["cast", "kept", "order", "taken", "visit"]

TAKEN_WHEN_CLOSED = {"jobs:move", "jobs:customer-edit", "jobs:vehicle-edit"}
OF_AN_ORDER = {
    "jobs:work-order-accept",
    "jobs:work-order-edit",
    "jobs:work-order-withdraw",
    "jobs:work-order-complete",
    "jobs:work-order-limits",
    "jobs:finding-add",
    "jobs:swap-add",
}


def pages_of(order):
    """Yield name and address of each page of a job and its order."""
    numbers = {"visit_id": order.visit_id, "order_id": order.pk}
    for pattern in urlpatterns:
        names = [name for name, _ in arguments_of(str(pattern.pattern))]
        if names and set(names) <= set(numbers):
            name = f"jobs:{pattern.name}"
            yield name, reverse(name, kwargs={n: numbers[n] for n in names})


def offered(browser, order, names):
    """Return which pages hold a form that posts to one of `names`."""
    found = set()
    for name, address in pages_of(order):
        page = browser.get(address)
        if page.status_code in {200, 409} and page["Content-Type"].startswith("text/html"):
            found |= {(name, f.view_name) for f in forms_on(page, address) if f.view_name in names}
    return found


@pytest.fixture
def finished(order, by):
    WorkOrder.objects.filter(pk=order.pk).update(state="done", accepted_by=by, assigned_to=by)
    return order


@pytest.fixture
def closed(finished):
    Visit.objects.filter(pk=finished.visit_id).update(stage=Stage.CLOSED)
    return finished


def test_a_closed_job_offers_no_form_that_it_refuses(closed, cast, client_for):
    all_names = {f"jobs:{pattern.name}" for pattern in urlpatterns}
    found = offered(client_for(cast.owner), closed, all_names - TAKEN_WHEN_CLOSED)
    assert found == set()


def test_a_finished_order_offers_no_form_that_it_refuses(finished, order, cast, client_for):
    browser = client_for(cast.owner)
    assert offered(browser, finished, OF_AN_ORDER) == set()
    # the walk finds what an order in work offers
    WorkOrder.objects.filter(pk=order.pk).update(state="accepted")
    targets = {target for _, target in offered(browser, order, OF_AN_ORDER)}
    assert targets == OF_AN_ORDER - {"jobs:work-order-accept"}


def test_the_way_back_leads_to_the_form_that_was_asked_for(closed, cast, client_for):
    browser = client_for(cast.writer)
    wanted = reverse("jobs:outcome-edit", args=[closed.visit_id])
    page = browser.get(wanted)
    assert page.status_code == 409
    (back,) = forms_to(page, wanted, "jobs:move")
    answer = browser.post(back.action, filled(back, {"reason": "The amount was wrong."}))
    assert answer.url == wanted
    assert Visit.objects.get(pk=closed.visit_id).stage == Stage.HAND_BACK
    assert browser.get(wanted).status_code == 200


def test_who_may_not_reopen_it_is_offered_no_button(closed, cast, client_for):
    address = reverse("jobs:note-add", args=[closed.visit_id])
    page = client_for(cast.mechanic).get(address)
    assert page.status_code == 409
    assert list(forms_to(page, address, "jobs:move")) == []


def test_what_was_typed_before_it_was_closed_comes_back(closed, cast, client_for):
    address = reverse("jobs:note-add", args=[closed.visit_id])
    answer = client_for(cast.mechanic).post(address, {"text": "Kept key on the hook."})
    assert answer.status_code == 422
    assert "Kept key on the hook." in answer.content.decode()


def test_only_an_address_of_this_server_is_gone_back_to(closed, cast, client_for):
    sent = {"to": "hand_back", "reason": "x", "next": "https://elsewhere.example/"}
    move = reverse("jobs:move", args=[closed.visit_id])
    answer = client_for(cast.writer).post(move, sent)
    assert answer.url == reverse("jobs:visit", args=[closed.visit_id])


def test_a_finding_of_a_done_order_can_still_be_corrected(order, cast, client_for, by):
    found = NewFinding(3, "gauge_dry", "bad", 620)
    wrong = finding_add(order=order, member=cast.mechanic, found=found)
    WorkOrder.objects.filter(pk=order.pk).update(state="done")
    here = f"{reverse('jobs:finding-add', args=[order.pk])}?replaces={wrong.pk}"
    browser = client_for(cast.mechanic)
    page = browser.get(here)
    assert page.status_code == 200
    (form,) = forms_to(page, here, "jobs:finding-add")
    assert browser.post(here, filled(form, {"pressure": "640"})).status_code == 302
    order.findings.get(replaces=wrong, pressure_kpa=640)
    WorkOrder.objects.filter(pk=order.pk).update(state="withdrawn")
    assert browser.get(here).status_code == 302
