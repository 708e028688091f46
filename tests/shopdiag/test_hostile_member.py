"""Somebody of another shop, and somebody of a lower role, against every address.

The numbers of a shop's rows are guessable; they must open nothing in an address, in a query, or
in what a form or a program sends along with a row of one's own.
"""

from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from jobs.models import CylinderFinding, Visit, WorkOrder
from jobs.services.captures import visit_captures_add
from jobs.services.judgements import judgement_sign
from jobs.services.triage import codes_add
from jobs.services.work import work_order_create
from shopdiag.people.core.roles import ALLOWED, Role
from shopdiag.people.models import InShop, Member
from shopdiag.people.services import token_create
from tests.conftest import Cast
from tests.jobs.conftest import their_visit
from tests.shared_rows import Kept, kept_rows
from tests.shopdiag.furnished import Furnished, make_furnished
from tests.shopdiag.walking import all_addresses
from tests.stored_rows import Rows, stored_rows
from tests.traces.conftest import csv_bytes, upload_of
from tests.traces.tus import VERSION
from traces.runs.reading import reading_read

__all__ = ["their_visit"]

METHODS = ("get", "post", "put", "patch", "delete")

kept = kept_rows(make_furnished)


@pytest.fixture
def furnished(db: None, kept: Kept[Furnished], media: Path) -> Furnished:
    return kept.taken(media)


@pytest.fixture
def cast(furnished: Furnished) -> Cast:
    return furnished.cast


def _rows() -> Rows:
    """Return every row there is, apart from when people and tokens were last seen."""
    return stored_rows(but={"last_login", "last_used_at"})


def test_rows_by_their_own_column_or_another_rows_are_seen_in_their_shop_alone(furnished):
    cast, filled = furnished.cast, set()
    for model in apps.get_models():
        if issubclass(model, InShop):
            rows = set(model._base_manager.values_list("pk", flat=True))
            assert set(model.objects.seen_by(cast.mechanic).values_list("pk", flat=True)) == rows
            assert not model.objects.seen_by(cast.outsider).exists()
            filled |= {model.__name__} if rows else set()
    assert filled >= {"Reading", "Run", "PinnedNote", "VisitCapture", "Photo", "Visit", "Upload"}


def _program(member: Member) -> APIClient:
    _, key = token_create(member=member, label="x")
    client = APIClient()
    client.default_format = "json"
    client.credentials(HTTP_AUTHORIZATION=f"Token {key}")
    return client


def _secrets(shop: Furnished) -> list[str]:
    """Return words that are on the shop's pages and on nobody else's."""
    visit = shop.world.visit
    return [
        visit.vehicle.customer.name,
        visit.vehicle.customer.phone,
        visit.vehicle.plate,
        visit.complaint.words,
        shop.engine.name,
        "Harbour Lane Garage",
    ]


def test_another_shop_opens_no_address(furnished: Furnished, client_for):
    hostile = (furnished.cast.outsider, furnished.cast.other_owner, furnished.cast.both_there)
    programs = {member: _program(member) for member in hostile}
    clients = {member: client_for(member) for member in hostile}
    before = _rows()
    numbered = {n for n, where, _ in all_addresses() if "<" in where}
    tried = 0
    for name, address in furnished.addresses().items():
        if name == "people:join":
            continue  # whoever holds an invitation's link may read whose it is, and join
        for member in hostile:
            if name == "people:shops" and member == furnished.cast.both_there:
                continue  # who works in both shops may choose either
            client: Client = programs[member] if name.startswith("api:") else clients[member]
            for method in METHODS if name in numbered else ("get",):
                answer = getattr(client, method)(address, headers=VERSION)
                tried += 1
                if name in numbered:
                    assert answer.status_code in {403, 404, 405}, (name, method, member)
                assert answer.status_code < 500, (name, method, member)
                shown = answer.content.decode(errors="replace")
                for secret in _secrets(furnished):
                    assert secret not in shown, (name, method, member)
    assert tried > 500
    assert _rows() == before


def test_lower_roles_are_refused_whatever_they_send(furnished: Furnished, client_for):
    """Every page that names what its visitors must be allowed, with everybody who is not."""
    clients = {role: client_for(member) for role, member in furnished.cast.insiders.items()}
    before = _rows()
    addresses = furnished.addresses()
    refused = 0
    for name, _, pattern in all_addresses():
        actions = getattr(pattern.callback, "required_actions", None)
        if not actions:
            continue
        for role, client in clients.items():
            if any(action in ALLOWED[role] for action in actions):
                continue
            for method in METHODS:
                answer = getattr(client, method)(addresses[name])
                refused += 1
                assert answer.status_code in {403, 405}, (name, role, method)
    assert refused > 200
    assert _rows() == before


@pytest.fixture
def theirs(furnished, their_visit) -> dict[str, Any]:
    """A job of the other shop, far enough for every form, in the hands of its diagnostician."""
    hostile = furnished.cast.outsider
    paste = codes_add(visit=their_visit, text="P0300", member=hostile)
    (outcome,) = visit_captures_add(
        visit=their_visit, member=hostile, uploads=[upload_of(csv_bytes(seed=9), "own.csv")]
    )
    assert outcome.added
    reading_read(outcome.added.capture.reading.pk)
    judgement = judgement_sign(
        visit=their_visit,
        member=hostile,
        kind="without",
        mechanical="yes",
        cylinders=[2],
        reason="By ear.",
    )
    order = work_order_create(judgement=judgement, member=hostile)
    return {
        "visit": their_visit,
        "paste": paste.paste,
        "capture": outcome.added.capture,
        "judgement": judgement,
        "order": order,
    }


def _form_of(client: Client, address: str) -> dict[str, Any]:
    """Return what a browser would send from the page's form."""
    sent = {}
    for bound in client.get(address).context["form"]:
        value = bound.value()
        if value not in (None, False):
            sent[bound.html_name] = "on" if value is True else value
    return sent


def test_own_forms_take_no_rows_of_another_shop(furnished: Furnished, client_for, theirs):
    cast, world = furnished.cast, furnished.world
    client = client_for(cast.outsider)
    mine = _rows()
    visit, order = theirs["visit"], theirs["order"]

    # Intake with the other shop's customer and vehicle: as if they were not on file.
    address = reverse("jobs:new")
    for query in (
        {"vehicle": world.visit.vehicle_id},
        {"customer": world.visit.vehicle.customer_id},
        {"q": world.visit.vehicle.plate},
    ):
        shown = client.get(address, query).content.decode()
        assert world.visit.vehicle.customer.name not in shown
    sent = {
        "form_token": str(uuid4()),
        "vehicle": world.visit.vehicle_id,
        "customer": world.visit.vehicle.customer_id,
        "complaint-words": "Shakes.",
        "vehicle-make": "Orchard",
        "vehicle-model": "Estate",
        "vehicle-drive": "starter",
        "customer-name": "New Name",
    }
    client.post(address, sent)
    opened = Visit.objects.filter(shop=cast.other_shop).exclude(pk=visit.pk)
    assert all(v.vehicle_id != world.visit.vehicle_id for v in opened)
    # The form token of the other shop's visit does not lead to it.
    token = str(uuid4())
    Visit.objects.filter(pk=world.visit.pk).update(form_token=token)
    again = client.post(address, sent | {"form_token": token, "vehicle": "", "customer": ""})
    assert str(world.visit.pk) not in again.get("Location", "").split("/")
    Visit.objects.filter(pk=world.visit.pk).update(form_token=None)

    # An engine that the other shop keeps.
    address = reverse("jobs:vehicle-edit", args=[visit.pk])
    refused = client.post(address, _form_of(client, address) | {"engine": furnished.engine.pk})
    assert refused.status_code == 422
    assert client.get(reverse("engines:new"), {"copy": furnished.engine.pk}).status_code == 404
    address = reverse("traces:setup", args=[theirs["capture"].pk])
    shown = client.get(address, {"engine": furnished.engine.pk}).content.decode()
    assert furnished.engine.name not in shown
    refused = client.post(address, _form_of(client, address) | {"engine": furnished.engine.pk})
    assert refused.status_code == 422

    # A run, a verdict, a mechanic, a finding, codes of the other shop.
    decide = reverse("jobs:decide", args=[visit.pk])
    assert client.get(decide, {"run": furnished.run.pk}).status_code == 404
    answer = client.post(decide, {"run": furnished.run.pk, "kind": "accepted"})
    assert answer.status_code == 404
    capture = theirs["capture"].pk
    for name in ("traces:run", "traces:plot", "traces:evidence"):
        assert client.get(reverse(name, args=[capture, furnished.run.pk])).status_code == 404
    state = client.get(reverse("traces:state", args=[capture]), {"run": furnished.run.pk})
    assert state.status_code in {200, 404}
    assert "ref-01" not in state.content.decode()
    address = reverse("jobs:work-order-edit", args=[order.pk])
    sent = _form_of(client, address) | {"assigned_to": cast.mechanic.pk}
    assert client.post(address, sent).status_code == 422
    address = reverse("jobs:finding-add", args=[order.pk])
    for method in ("get", "post"):
        answer = getattr(client, method)(address, {"replaces": world.finding.pk})
        assert answer.status_code == 404
    mixed = {
        "jobs:codes-read": furnished.number("jobs:codes-read", "paste_id"),
        "jobs:code-remove": world.code.pk,
    }
    for name, number in mixed.items():
        address = reverse(name, args=[visit.pk, number])
        # Taking off a code that is not on the card tells no difference; below nothing changed.
        assert client.post(address).status_code in {302, 404, 405}
        assert client.get(address).status_code in {404, 405}
    order.refresh_from_db()
    assert order.assigned_to is None
    after = _rows()
    of_the_first = {key for key in mine if key[0] not in {"people_user", "jobs_complaint"}}
    changed = {key for key in of_the_first if after.get(key) != mine[key]}
    assert changed == set()


def test_programs_take_no_rows_of_another_shop(furnished: Furnished, theirs):
    world = furnished.world
    program = _program(furnished.cast.outsider)
    before = _rows()
    visit, order, capture = (
        f"/api/{kind}/{theirs[one].pk}/"
        for kind, one in (
            ("visits", "visit"),
            ("work-orders", "order"),
            ("captures", "capture"),
        )
    )
    complaint = {"words": "Shakes."}
    customer = {"name": "New Name"}
    vehicle = {"make": "Orchard", "model": "Estate"}
    setup = {"firing_order": "1-3-4-2", "current_channel": "clamp", "mv_per_a": 10}
    found = {"cylinder": 2, "test": "gauge_dry", "outcome": "good", "pressure_kpa": 1100}
    asked: list[tuple[str, str, dict[str, Any]]] = [
        ("post", "/api/visits/", {"complaint": complaint, "vehicle_id": world.visit.vehicle_id}),
        (
            "post",
            "/api/visits/",
            {
                "complaint": complaint,
                "vehicle": vehicle,
                "customer_id": world.visit.vehicle.customer_id,
            },
        ),
        (
            "post",
            "/api/visits/",
            {
                "complaint": complaint,
                "customer": customer,
                "vehicle": vehicle | {"engine": furnished.engine.pk},
            },
        ),
        ("post", f"{capture}runs/", setup | {"engine": furnished.engine.pk}),
        (
            "post",
            f"{visit}judgements/",
            {"kind": "accepted", "mechanical": "yes", "run": furnished.run.pk, "cylinders": [1]},
        ),
        ("post", f"{visit}work-orders/", {"judgement": world.judgement.pk}),
        ("post", f"{order}findings/", found | {"replaces": world.finding.pk}),
        ("delete", f"{visit}codes/{world.code.pk}/", {}),
    ]
    for method, address, body in asked:
        answer = getattr(program, method)(address, body)
        assert answer.status_code in {400, 404}, (address, body, answer.content)
    assert _rows() == before
    # Filters narrow what one may see, and widen nothing.
    plate = world.visit.vehicle.plate
    for query in ({"plate": plate}, {"q": plate}, {"number": world.visit.number}):
        listed = program.get("/api/visits/", query).json()["results"]
        assert world.visit.pk not in {row["id"] for row in listed}
    assert CylinderFinding.objects.count() == 1
    assert WorkOrder.objects.count() == 2


def test_a_role_is_held_in_its_own_shop_only(furnished: Furnished, client_for):
    """One person, writer here and mechanic there: neither shop lends the other its role."""
    here, there = client_for(furnished.cast.both_here), client_for(furnished.cast.both_there)
    card = furnished.addresses()["jobs:visit"]
    assert here.get(card).status_code == 200
    assert there.get(card).status_code == 404
    assert there.get(reverse("jobs:new")).status_code == 403
    assert Role(furnished.cast.both_there.role) is Role.MECHANIC
