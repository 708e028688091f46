"""Whatever people type is shown as text, never as markup."""

from uuid import uuid4

import pytest
from django.urls import reverse

from jobs.models import Outcome, Photo
from jobs.services.intake import complaint_change, customer_change, vehicle_change
from jobs.services.notes import note_add
from jobs.services.triage import codes_add, freeze_frame_add, misfires_set, triage_change, triage_of

EVIL = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>"


@pytest.fixture
def poisoned(cast, take_in):
    visit = take_in(cast.writer, words=EVIL)
    customer, vehicle, complaint = visit.vehicle.customer, visit.vehicle, visit.complaint
    customer.name = customer.phone = EVIL[:40]
    customer_change(customer=customer, expected_version=1, member=cast.writer)
    vehicle.plate, vehicle.make, vehicle.model = EVIL[:16], EVIL[:40], EVIL
    vehicle.engine_code, vehicle.vin = EVIL[:40], EVIL[:20]
    vehicle_change(vehicle=vehicle, expected_version=1, member=cast.writer)
    complaint.recent_work = complaint.happens_note = complaint.authorised_by = EVIL
    complaint.authorised_amount, complaint.happens = EVIL[:40], [EVIL]
    complaint_change(complaint=complaint, expected_version=1, member=cast.writer)
    triage = triage_of(visit=visit)
    triage.remarks = EVIL
    triage_change(triage=triage, expected_version=1, member=cast.writer)
    codes_add(visit=visit, text=f"{EVIL} P0301\nP03O1 {EVIL}", member=cast.writer)
    freeze_frame_add(visit=visit, text=f"{EVIL}: {EVIL}\n{EVIL}\t1\t{EVIL}", member=cast.writer)
    misfires_set(visit=visit, counts={1: 2}, period=EVIL, member=cast.writer)
    note_add(visit=visit, text=EVIL, member=cast.writer)
    photo = Photo(visit=visit, by=cast.writer, caption=EVIL)
    photo.image.name = "photos/nowhere.jpg"
    photo.save()
    Outcome.objects.create(visit=visit, cause=EVIL, correction=EVIL, verified_how=EVIL)
    return visit


def test_no_page_lets_a_typed_tag_through(cast, client_for, poisoned):
    visit = poisoned
    client = client_for(cast.owner)
    paste = visit.code_pastes.get()
    addresses = [
        reverse("jobs:board"),
        reverse("jobs:find") + "?q=script",
        reverse("jobs:find") + f"?q={EVIL}",
        reverse("jobs:new") + f"?q={EVIL}",
        reverse("jobs:new") + f"?vehicle={visit.vehicle_id}",
        reverse("jobs:intake-search") + "?q=script",
        reverse("jobs:intake-who") + f"?vehicle={visit.vehicle_id}",
        reverse("jobs:vin-check") + f"?vin={EVIL}",
        reverse("jobs:vehicle", args=[visit.vehicle_id]),
        reverse("jobs:codes-read", args=[visit.pk, paste.pk]),
    ] + [
        reverse(f"jobs:{name}", args=[visit.pk])
        for name in (
            "visit",
            "visit-edit",
            "complaint-edit",
            "customer-edit",
            "vehicle-edit",
            "triage-edit",
        )
    ]
    for address in addresses:
        response = client.get(address)
        page = response.content.decode()
        assert response.status_code == 200, address
        assert "<script>alert" not in page.lower(), address
        assert "<img src=x" not in page.lower(), address
        assert "'self'" in response["Content-Security-Policy"]


def test_a_conflict_shows_both_sides_as_text(cast, client_for, poisoned):
    page = client_for(cast.owner).post(
        reverse("jobs:complaint-edit", args=[poisoned.pk]), {"version": 1, "words": EVIL + "!"}
    )
    assert page.status_code == 409
    assert "<script>alert" not in page.content.decode()


def test_a_refused_form_shows_what_was_typed_as_text(cast, client_for):
    page = client_for(cast.owner).post(
        reverse("jobs:new"),
        {
            "form_token": str(uuid4()),
            "customer-name": EVIL,
            "vehicle-plate": EVIL,
            "vehicle-make": EVIL,
            "complaint-words": EVIL,
            "vehicle-drive": EVIL,
        },
    )
    assert page.status_code == 422
    assert "<script>alert" not in page.content.decode()
