"""Whatever people type is shown as text, never as markup, on every page of this part."""

from html.parser import HTMLParser

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from jobs.models import Outcome, WorkOrder
from jobs.services.captures import visit_captures_add
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from jobs.services.work import OrderWords, work_order_create
from shopdiag.people.models import User

EVIL = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>"


@pytest.fixture
def poisoned(cast, triaged, run_of, by):
    """A visit that holds hostile text wherever this part takes text."""
    User.objects.filter(pk=cast.mechanic.user_id).update(name=EVIL)
    cast.shop.name = cast.shop.address = EVIL
    cast.shop.save()
    vehicle = triaged.vehicle
    vehicle.make, vehicle.model, vehicle.engine_code = EVIL[:40], EVIL, EVIL[:40]
    vehicle.plate, vehicle.vin = EVIL[:16], EVIL[:20]
    vehicle.save()
    triaged.complaint.words = EVIL
    triaged.complaint.save()
    engine = vehicle.engine
    engine.name = engine.source = engine.numbering = EVIL
    engine.save()
    run = run_of(triaged)
    run.capture.label = run.capture.original_name = EVIL
    run.capture.save()
    judgement = judgement_sign(
        visit=triaged,
        member=by,
        kind="overruled",
        mechanical="yes",
        run=run,
        cylinders=[3],
        reason=EVIL,
    )
    words = OrderWords(request=EVIL, scope=EVIL, stop_and_call=EVIL, assigned_to=cast.mechanic)
    order = work_order_create(judgement=judgement, member=by, words=words)
    found = NewFinding(3, "other", "bad", words=EVIL, conditions=EVIL)
    first = finding_add(order=order, member=cast.mechanic, found=found)
    finding_add(order=order, member=cast.mechanic, found=found, replaces=first)
    rule = {**order.gauge_rule, "source": EVIL, "name": EVIL, "key": "own"}
    WorkOrder.objects.filter(pk=order.pk).update(gauge_rule=rule, summary=EVIL, withdrawn_why=EVIL)
    Outcome.objects.create(
        visit=triaged,
        cause=EVIL,
        correction=EVIL,
        verified="yes",
        verified_how=EVIL,
        told_customer=EVIL,
    )
    return order


@pytest.mark.parametrize(
    "name",
    [
        "jobs:visit",
        "jobs:capture",
        "jobs:decide",
        "jobs:work-orders",
        "jobs:work-order",
        "jobs:work-order-print",
        "jobs:work-order-edit",
        "jobs:finding-add",
        "jobs:work-order-limits",
        "jobs:outcome-edit",
        "jobs:before-after",
        "jobs:customer-copy",
    ],
)
def test_no_markup_gets_through(client_for, poisoned, by, name):
    of_order = {
        "jobs:work-order",
        "jobs:work-order-print",
        "jobs:work-order-edit",
        "jobs:finding-add",
        "jobs:work-order-limits",
    }
    if name == "jobs:work-orders":
        args = []
    elif name == "jobs:capture":
        args = [poisoned.judgement.run.capture_id]
    else:
        args = [poisoned.pk if name in of_order else poisoned.visit_id]
    response = client_for(by).get(reverse(name, args=args))
    assert response.status_code == 200
    page = response.content.decode()
    assert "<script>alert" not in page
    assert "<img src=x" not in page
    assert "&lt;script&gt;" in page


class Inline(HTMLParser):
    """Collects what the policy would refuse: inline styles, scripts and handlers."""

    def __init__(self):
        super().__init__()
        self.found = []

    def handle_starttag(self, tag, attrs):
        names = {name for name, _ in attrs}
        if tag == "style" or (tag == "script" and "src" not in names):
            self.found.append(tag)
        self.found += [f"{tag} {n}" for n in names if n == "style" or n.startswith("on")]


def test_no_page_has_inline_script_or_style(client_for, poisoned, by):
    browser = client_for(by)
    for name, args in (
        ("jobs:work-order", [poisoned.pk]),
        ("jobs:work-order-print", [poisoned.pk]),
        ("jobs:finding-add", [poisoned.pk]),
        ("jobs:capture", [poisoned.judgement.run.capture_id]),
        ("jobs:customer-copy", [poisoned.visit_id]),
    ):
        page = browser.get(reverse(name, args=args)).content.decode()
        inline = Inline()
        inline.feed(page)
        assert inline.found == []


def test_a_hostile_file_name_is_shown_as_text(client_for, triaged, by):
    rows = "\n".join(f"{i / 1000},{i % 9},{i % 5}" for i in range(300))
    name = EVIL.replace("/", "") + ".csv"
    upload = SimpleUploadedFile(name, f"t,clamp,coil\n{rows}\n".encode())
    (added,) = visit_captures_add(visit=triaged, member=by, uploads=[upload])
    assert added.added is not None
    page = client_for(by).get(reverse("jobs:visit", args=[triaged.pk])).content.decode()
    assert "<img src=x" not in page
    assert "&lt;img src=x" in page
