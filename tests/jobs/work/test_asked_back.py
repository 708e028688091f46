"""Figures ten times wrong are asked back by every page and by the API, and kept when confirmed."""

from typing import Any

import pytest
from django.urls import reverse

from engines.models import BankAccess
from jobs.models import (
    Complaint,
    MisfireCounts,
    Outcome,
    RepairConsent,
    SwapTest,
    Visit,
    WorkOrder,
)
from tests.api.conftest import api_for
from tests.shopdiag.page_forms import PageForm, filled, forms_on

__all__ = ["api_for"]

INTAKE = {"complaint-words": "Shakes.", "customer-name": "A", "vehicle-drive": "starter"}
CAR = {"vehicle-make": "Orchard", "vehicle-model": "Estate"}
AUTHORISED = {"authorised_by": "The owner", "authorised_how": "phone"}
COMPLAINT = {f"complaint-{name}": value for name, value in AUTHORISED.items()}
SWAP = {"part": "coil", "from_cylinder": "2", "to_cylinder": "3", "followed": "yes"}
DRIVE = {"verified": "no", "verified_how": "Drive.", "drive": "15 minutes"}
CONSENT = {"agreed": "yes", "said_by": "The owner", "how": "phone"}

# page, what is typed beside, field, a usual figure, figures that are asked back, where it is kept
ODDITIES: list[tuple[str, dict[str, str], str, str, tuple[str, ...], Any]] = [
    ("new", INTAKE | CAR, "visit-odometer", "84200", ("1842000",), (Visit, "odometer")),
    (
        "new",
        INTAKE | CAR | {"vehicle-year": "2020"},
        "visit-odometer",
        "84200",
        ("842000", "8420"),
        (Visit, "odometer"),
    ),
    (
        "new",
        INTAKE | CAR | COMPLAINT,
        "complaint-authorised_minutes",
        "90",
        ("900", "9", "2"),
        (Complaint, "authorised_minutes"),
    ),
    (
        "new",
        INTAKE | CAR | COMPLAINT,
        "complaint-authorised_amount",
        "150",
        ("1500", "15"),
        (Complaint, "authorised_amount"),
    ),
    ("visit-edit", {}, "odometer", "85000", ("850000", "8500"), (Visit, "odometer")),
    (
        "complaint-edit",
        AUTHORISED,
        "authorised_minutes",
        "90",
        ("900", "9"),
        (Complaint, "authorised_minutes"),
    ),
    (
        "complaint-edit",
        AUTHORISED,
        "authorised_amount",
        "150",
        ("1500", "15"),
        (Complaint, "authorised_amount"),
    ),
    (
        "misfires-set",
        {},
        "counts",
        "1: 0, 2: 14300",
        ("1: 0, 2: 143000",),
        (MisfireCounts, "counts"),
    ),
    ("consent-add", CONSENT, "amount", "900", ("90000", "9"), (RepairConsent, "amount")),
    (
        "work-order-edit",
        {},
        "scope_minutes",
        "90",
        ("900", "9"),
        (WorkOrder, "scope_minutes"),
    ),
    (
        "swap-add",
        SWAP | {"counts_before": "2: 143, 3: 0"},
        "counts_after",
        "2: 0, 3: 151",
        ("2: 0, 3: 1510", "2: 0, 3: 14"),
        (SwapTest, "counts_after"),
    ),
    (
        "outcome-edit",
        DRIVE | {"misfires_before": "143"},
        "misfires_after",
        "151",
        ("1510", "14"),
        (Outcome, "misfires_after"),
    ),
]


@pytest.fixture
def address(order, visit, take_in, cast):
    """Return the address of a page; the vehicle was here before with 84,200 km."""
    again = take_in(cast.writer, vehicle=visit.vehicle, customer=visit.vehicle.customer)
    visit.odometer = 84_200
    visit.save(update_fields=["odometer"])

    def of(page: str) -> str:
        on = {"new": [], "visit-edit": [again.pk], "complaint-edit": [again.pk]}
        on |= {name: [order.pk] for name in ("work-order-edit", "swap-add")}
        return reverse(f"jobs:{page}", args=on.get(page, [visit.pk]))

    return of


@pytest.fixture
def browser(cast, client_for):
    return client_for(cast.owner)


def _kept(where):
    model, name = where
    return str(model.objects.order_by("pk").values_list(name, flat=True).last())


@pytest.mark.parametrize("case", ODDITIES, ids=lambda case: f"{case[0]} {case[2]}")
def test_pages_ask_back_and_keep_what_is_confirmed(browser, address, case):
    page, beside, field, _, odd, where = case
    here = address(page)
    fresh = next(f for f in forms_on(browser.get(here), here) if field in f.names)
    before, count = _kept(where), where[0].objects.count()
    for figure in odd:
        answer = browser.post(here, filled(fresh, {**beside, field: figure}))
        assert answer.status_code == 422, figure
        (again,) = [f for f in forms_on(answer, here) if field in f.names]
        # what was typed is there, and so is the tick, which nobody has ticked
        assert "".join(again.sent[field]) == figure
        assert "confirmed" in again.names
        assert "confirmed" not in again.sent
        assert (_kept(where), where[0].objects.count()) == (before, count)
    last = filled(again, {"confirmed": "on"})
    assert browser.post(here, last).status_code == 302
    assert _kept(where) != before


@pytest.mark.parametrize("case", ODDITIES, ids=lambda case: f"{case[0]} {case[2]}")
def test_usual_figures_are_taken_at_once(browser, address, case):
    page, beside, field, usual, _, where = case
    here = address(page)
    fresh = next(f for f in forms_on(browser.get(here), here) if field in f.names)
    before = _kept(where)
    assert browser.post(here, filled(fresh, {**beside, field: usual})).status_code == 302
    assert _kept(where) != before


def _asked(answer: Any, here: str) -> PageForm:
    """Return the form of a page that asks back."""
    assert answer.status_code == 422
    (form,) = [f for f in forms_on(answer, here) if "confirmed" in f.names]
    return form


def test_a_tick_holds_for_the_figure_that_it_was_shown_for(browser, address):
    here = address("visit-edit")
    (fresh,) = [f for f in forms_on(browser.get(here), here) if "odometer" in f.names]
    low = _asked(browser.post(here, filled(fresh, {"odometer": "12"})), here)
    far = _asked(
        browser.post(here, filled(low, {"odometer": "1234000", "confirmed": "on"})),
        here,
    )
    # the box is there again, unticked, and carries the new question
    assert "confirmed" not in far.sent
    assert far.boxes["confirmed"] != low.boxes["confirmed"]
    assert "1234000" not in _kept((Visit, "odometer"))
    # another figure with the same question of the very form is another question too
    _asked(browser.post(here, filled(far, {"odometer": "1234001", "confirmed": "on"})), here)
    # what no page made is no tick
    for made_up in ("yes", "True", "true", "1"):
        _asked(browser.post(here, filled(far, {"confirmed": made_up})), here)
    assert browser.post(here, filled(far, {"confirmed": "on"})).status_code == 302
    assert _kept((Visit, "odometer")) == "1234000"


def test_a_tick_for_one_field_passes_no_doubt_of_another(browser, address):
    here = address("new")
    (fresh,) = [f for f in forms_on(browser.get(here), here) if "visit-odometer" in f.names]
    count = Visit.objects.count()
    odd = INTAKE | CAR | COMPLAINT | {"visit-odometer": "1842000"}
    one = _asked(browser.post(here, filled(fresh, odd)), here)
    both = {"complaint-authorised_minutes": "900", "confirmed": "on"}
    two = _asked(browser.post(here, filled(one, both)), here)
    assert Visit.objects.count() == count
    assert "confirmed" not in two.sent
    assert browser.post(here, filled(two, {"confirmed": "on"})).status_code == 302
    assert Visit.objects.count() == count + 1


def test_a_tick_for_a_figure_does_not_skip_what_is_there_already(browser, address, visit):
    here = address("misfires-set")

    def fresh() -> PageForm:
        (form,) = [f for f in forms_on(browser.get(here), here) if "counts" in f.names]
        return form

    assert browser.post(here, filled(fresh(), {"counts": "1: 0, 2: 143"})).status_code == 302
    odd = _asked(browser.post(here, filled(fresh(), {"counts": "1: 0, 2: 143000"})), here)
    same = {"counts": "1: 0, 2: 143", "confirmed": "on"}
    again = _asked(browser.post(here, filled(odd, same)), here)
    assert MisfireCounts.objects.count() == 1
    assert browser.post(here, filled(again, {"confirmed": "on"})).status_code == 302
    assert MisfireCounts.objects.count() == 2


def test_a_tick_survives_what_is_wrong_elsewhere_in_the_form(browser, address):
    here = address("consent-add")
    (fresh,) = [f for f in forms_on(browser.get(here), here) if "amount" in f.names]
    odd = _asked(browser.post(here, filled(fresh, CONSENT | {"amount": "90000"})), here)
    kept = _asked(browser.post(here, filled(odd, {"said_by": "", "confirmed": "on"})), here)
    assert kept.sent["confirmed"] == [odd.boxes["confirmed"]]
    # completed as it was when it was asked, it is taken
    said = {"said_by": CONSENT["said_by"]}
    assert browser.post(here, filled(kept, said)).status_code == 302


def test_what_stands_confirmed_is_not_asked_again(browser, address, visit, order):
    complaint = Complaint.objects.get(visit=visit)
    Complaint.objects.filter(pk=complaint.pk).update(authorised_minutes=900, **AUTHORISED)
    WorkOrder.objects.filter(pk=order.pk).update(scope_minutes=900)
    Visit.objects.filter(pk=visit.pk).update(odometer=1_842_000)
    for page, typed in (
        ("complaint-edit", {"words": "Shakes when warm."}),
        ("work-order-edit", {"scope": "Plugs out."}),
    ):
        here = address(page)
        (fresh,) = [f for f in forms_on(browser.get(here), here) if next(iter(typed)) in f.names]
        assert browser.post(here, filled(fresh, typed)).status_code == 302, page


def test_an_order_follows_the_customers_minutes_without_asking(browser, signed):
    Complaint.objects.filter(visit=signed.visit).update(authorised_minutes=900, **AUTHORISED)
    here = reverse("jobs:work-order-new", args=[signed.visit_id])
    (fresh,) = [f for f in forms_on(browser.get(here), here) if "scope_minutes" in f.names]
    assert fresh.sent["scope_minutes"] == ["900"]
    far = browser.post(here, filled(fresh, {"scope_minutes": "90"}))
    assert far.status_code == 422
    assert not WorkOrder.objects.exists()
    assert browser.post(here, filled(fresh, {})).status_code == 302
    assert WorkOrder.objects.get().scope_minutes == 900


def test_minutes_to_reach_plugs(browser, four):
    here = reverse("engines:access", args=[four.pk])
    answer = browser.post(here, {"minutes": "900"})
    assert answer.status_code == 422
    assert set(answer.context["access_form"].errors) == {"confirmed"}
    assert not BankAccess.objects.exists()
    (asked,) = [f for f in forms_on(answer, here) if "confirmed" in f.names]
    assert browser.post(here, filled(asked, {"confirmed": "on"})).status_code == 302
    # what stands is not asked again beside a new note
    assert browser.post(here, {"minutes": "900", "note": "Cab off"}).status_code == 302
    assert BankAccess.objects.count() == 2


def test_programs_are_asked_under_the_same_name(cast, api_for, order, visit):
    api = api_for(cast.owner)
    new = {
        "customer": {"name": "Nora"},
        "vehicle": {"make": "Orchard", "model": "Estate", "year": 2020},
        "complaint": {"words": "Shakes."},
    }
    on = {"visit": [visit.pk], "order": [order.pk]}
    asked: list[tuple[str, list[int], dict[str, Any], Any]] = [
        ("visits", [], new | {"odometer": 842_000}, Visit),
        ("misfires", on["visit"], {"counts": "1: 0, 2: 143000"}, MisfireCounts),
        ("consents", on["visit"], CONSENT | {"agreed": True, "amount": "90000"}, RepairConsent),
        ("swaps", on["order"], SWAP | {"counts_after": "2: 0, 3: 151000"}, SwapTest),
    ]
    for name, args, body, model in asked:
        here, count = reverse(f"api:{name}", args=args), model.objects.count()
        refused = api.post(here, body)
        assert (refused.status_code, set(refused.json())) == (400, {"confirmed"}), name
        assert model.objects.count() == count
        assert api.post(here, body | {"confirmed": True}).status_code == 201, name
        assert model.objects.count() == count + 1
    outcome = reverse("api:outcome", args=[visit.pk])
    counted = DRIVE | {"misfires_before": 143, "misfires_after": 1430}
    refused = api.patch(outcome, counted)
    assert (refused.status_code, set(refused.json())) == (400, {"confirmed"})
    assert api.patch(outcome, counted | {"confirmed": True}).json()["misfires_after"] == 1430


def test_a_programs_order_is_asked_about_its_minutes(cast, api_for, signed):
    here = reverse("api:visit-orders", args=[signed.visit_id])
    body = {"judgement": signed.pk, "scope_minutes": 900}
    refused = api_for(cast.owner).post(here, body)
    assert (refused.status_code, set(refused.json())) == (400, {"confirmed"})
    assert api_for(cast.owner).post(here, body | {"confirmed": True}).status_code == 201
    assert WorkOrder.objects.get().scope_minutes == 900
