"""Taking a vehicle in."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.models import Customer, Vehicle, Visit
from tests.shopdiag.page_forms import filled, forms_on
from tests.wording import says, says_only

NEW = reverse("jobs:new")


def typed(**changes):
    values = {
        "form_token": str(uuid4()),
        "vehicle": "",
        "customer": "",
        "customer-name": "Casey Customer",
        "customer-phone": "+49 (30) 555-123",
        "customer-email": "casey@example.org",
        "vehicle-plate": "kx 204 t",
        "vehicle-vin": "1g4ah59h45g118341",
        "vehicle-make": "Orchard",
        "vehicle-model": "Estate",
        "vehicle-year": "2009",
        "vehicle-engine_code": "OE20",
        "vehicle-drive": "starter",
        "visit-odometer": "84210",
        "complaint-words": "It shakes at the lights, worse when cold.",
        "complaint-happens": ["cold", "idle"],
        "complaint-warning_lights": ["engine_flashing"],
        "complaint-recent_work": "New plugs in May",
        "complaint-authorised_minutes": "60",
        "complaint-authorised_by": "Casey Customer",
        "complaint-authorised_how": "phone",
    }
    return values | changes


def test_one_page_makes_customer_vehicle_visit_and_complaint(cast, client_for, four):
    client = client_for(cast.writer)
    assert client.get(NEW).status_code == 200
    response = client.post(NEW, typed(**{"vehicle-engine": four.pk}), follow=True)
    visit = Visit.objects.get()
    assert response.redirect_chain == [(reverse("jobs:visit", args=[visit.pk]), 302)]
    assert (visit.number, visit.stage, visit.odometer) == (1, "intake", 84210)
    vehicle = visit.vehicle
    assert (vehicle.plate, vehicle.plate_key) == ("KX 204 T", "KX204T")
    assert (vehicle.vin, vehicle.engine) == ("1G4AH59H45G118341", four)
    assert vehicle.customer.phone_key == "4930555123"
    assert visit.complaint.happens == ["cold", "idle"]
    assert visit.complaint.warning_lights == ["engine_flashing"]
    assert {row.shop_id for row in (visit, vehicle, vehicle.customer)} == {cast.shop.pk}
    told = [e.words for e in visit.events.all()]
    assert len(told) == 2
    assert says_only(told[0], "intake.took", vehicle="2009 Orchard Estate")
    said = {"authorised_by": "Casey Customer", "what": "60 minutes", "said": " (by phone)"}
    assert says_only(told[1], "intake.noted-authorised", **said)
    assert {e.by for e in visit.events.all()} == {cast.writer}


def test_numbers_rise_in_each_shop_by_itself(cast, client_for, their_visit):
    client = client_for(cast.writer)
    client.post(NEW, typed())
    client.post(NEW, typed(**{"vehicle-plate": "other", "vehicle-vin": ""}))
    assert list(
        Visit.objects.filter(shop=cast.shop).order_by("pk").values_list("number", flat=True)
    ) == [1, 2]
    assert their_visit.number == 1


def test_a_form_sent_twice_is_one_visit(cast, client_for):
    client = client_for(cast.writer)
    sent = typed()
    first = client.post(NEW, sent)
    # The second press: the vehicle is now on file, and still it is the same visit.
    second = client.post(NEW, sent)
    assert first.url == second.url
    assert (Visit.objects.count(), Vehicle.objects.count(), Customer.objects.count()) == (1, 1, 1)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"complaint-words": ""}, "Write down what the customer says."),
        ({"customer-name": ""}, "Write the customer&#x27;s name."),
        ({"vehicle-make": ""}, "Write the vehicle&#x27;s make."),
        ({"customer-email": "nothing"}, "Enter a valid email address."),
        ({"vehicle-year": "1066"}, "Type a model year from 1900"),
        ({"visit-odometer": "-4"}, "at least 0"),
        ({"visit-odometer": "99999999"}, "Type the odometer as it reads"),
        ({"visit-odometer": "many"}, "Enter a whole number."),
        ({"complaint-authorised_by": ""}, "Write who authorised this."),
        ({"complaint-authorised_how": ""}, "Choose how it was authorised."),
        ({"complaint-happens": ["whenever"]}, "Select a valid choice."),
        ({"vehicle-engine": "9999999"}, "Select a valid choice."),
        ({"form_token": "no token"}, "Enter a valid UUID."),
        ({"complaint-words": "a\x00b"}, "Null characters are not allowed."),
    ],
)
def test_bad_input_keeps_everything_that_was_typed(cast, client_for, changes, sentence):
    response = client_for(cast.writer).post(NEW, typed(**changes))
    page = response.content.decode()
    assert response.status_code == 422
    assert sentence in page
    for name, value in typed().items():
        if name not in {*changes, "form_token", "vehicle", "customer"} and isinstance(value, str):
            assert value in page, name
    assert page.count("checked") == (1 if "complaint-happens" in changes else 3)
    assert page.count("Not saved yet") == 1
    assert not Visit.objects.exists()
    assert not Customer.objects.exists()


def test_a_day_still_to_come_is_refused_with_a_sentence(cast, client_for):
    client = client_for(cast.writer)
    tomorrow = timezone.localdate() + timedelta(days=1)
    page = client.post(NEW, typed(**{"complaint-happened_on": tomorrow.isoformat()}))
    assert says(page.content.decode(), "intake.day-still-come-type")
    today = timezone.localdate().isoformat()
    assert client.post(NEW, typed(**{"complaint-happened_on": today})).status_code == 302


def test_today_is_told_by_the_clock_on_the_shops_wall(cast, client_for, monkeypatch):
    cast.shop.time_zone = "Pacific/Kiritimati"  # 14 hours ahead of UTC
    cast.shop.save()
    noon_utc = datetime(2026, 3, 1, 12, tzinfo=UTC)
    monkeypatch.setattr(timezone, "now", lambda: noon_utc)
    client = client_for(cast.writer)
    assert client.post(NEW, typed(**{"complaint-happened_on": "2026-03-02"})).status_code == 302
    page = client.post(NEW, typed(**{"complaint-happened_on": "2026-03-03", "vehicle-plate": ""}))
    assert "still to come" in page.content.decode()


def test_an_odd_vin_is_kept_and_pointed_out(cast, client_for):
    client = client_for(cast.writer)
    fragment = client.get(reverse("jobs:vin-check"), {"vehicle-vin": "1G4AH59H35G118341"})
    assert "check digit" in fragment.content.decode()
    refused = client.post(NEW, typed(**{"vehicle-vin": "1G4AH59H35G118341", "customer-name": ""}))
    assert refused.status_code == 422
    assert refused.context["form"].vehicle.vin_remarks.warnings
    assert "check digit" in refused.content.decode()
    page = client.post(NEW, typed(**{"vehicle-vin": "1G4AH59H35G118341"}), follow=True)
    assert Vehicle.objects.get().vin == "1G4AH59H35G118341"
    assert "check digit" in page.content.decode()


def test_an_odometer_that_ran_backwards_is_pointed_out(cast, client_for, visit):
    visit.odometer = 90_000
    visit.save()
    client = client_for(cast.writer)
    sent = typed(vehicle=visit.vehicle_id, customer=visit.vehicle.customer_id)
    (asked,) = [f for f in forms_on(client.post(NEW, sent), NEW) if "confirmed" in f.names]
    response = client.post(NEW, filled(asked, {"confirmed": "on"}), follow=True)
    assert says(
        response.content.decode(),
        "job_card.odometer-reads-but-earlier",
        odometer=84210,
        unit="km",
        highest=90000,
    )


@pytest.mark.parametrize("box", ["kx-204", "H45G118341", "555 123", "casey"])
def test_what_is_on_file_is_found_while_typing(cast, client_for, box):
    client = client_for(cast.writer)
    client.post(NEW, typed())
    page = client.get(reverse("jobs:intake-search"), {"q": box}).content.decode()
    assert "KX 204 T" in page
    assert f"?vehicle={Vehicle.objects.get().pk}" in page
    assert client.get(NEW, {"q": box}).content.decode().count("KX 204 T") == 1
    nothing = client.get(reverse("jobs:intake-search"), {"q": "zzz"}).content.decode()
    assert says(nothing, "matches.nothing-file-fits-type")


def test_a_chosen_vehicle_brings_its_customer(cast, client_for, visit):
    client = client_for(cast.writer)
    part = client.get(reverse("jobs:intake-who"), {"vehicle": visit.vehicle_id})
    assert visit.vehicle.customer.name in part.content.decode()
    response = client.post(
        NEW, typed(vehicle=visit.vehicle_id, customer=visit.vehicle.customer_id), follow=True
    )
    assert response.status_code == 200
    assert visit.vehicle.visits.count() == 2
    assert (Vehicle.objects.count(), Customer.objects.count()) == (1, 1)


def test_a_known_customer_brings_another_vehicle(cast, client_for, visit):
    customer = visit.vehicle.customer
    client_for(cast.writer).post(NEW, typed(customer=customer.pk))
    assert customer.vehicles.count() == 2
    assert Customer.objects.count() == 1


def test_a_known_vehicle_that_somebody_else_brings(cast, client_for, visit):
    before = visit.vehicle.customer
    client_for(cast.writer).post(NEW, typed(vehicle=visit.vehicle_id, customer=""))
    vehicle = Vehicle.objects.get()
    assert vehicle.customer != before
    assert vehicle.customer.name == "Casey Customer"
    newest = vehicle.visits.latest("pk")
    assert says([e.words for e in newest.events.all()], "intake.put-another-customer")


def test_a_vehicle_on_file_is_not_typed_twice_by_mistake(cast, client_for):
    client = client_for(cast.writer)
    client.post(NEW, typed())
    again = client.post(NEW, typed(**{"vehicle-plate": "KX-204-T", "vehicle-vin": ""}))
    page = again.content.decode()
    assert again.status_code == 422
    assert "is on file" in page
    assert "Choose this one" in page
    knowingly = client.post(
        NEW, typed(**{"vehicle-plate": "KX-204-T", "vehicle-vin": "", "another": "on"})
    )
    assert knowingly.status_code == 302
    assert Vehicle.objects.count() == 2


def test_another_shops_rows_are_no_choice(cast, client_for, their_visit):
    page = client_for(cast.writer).post(
        NEW,
        typed(
            vehicle=their_visit.vehicle_id,
            customer=their_visit.vehicle.customer_id,
            **{"customer-name": "", "vehicle-make": ""},
        ),
    )
    assert page.status_code == 422
    assert their_visit.vehicle.visits.count() == 1


@pytest.mark.parametrize("value", ["x", "-1", "9" * 30, "١٢"])
def test_an_address_that_names_no_row_is_a_blank_form(cast, client_for, value):
    for name in ("jobs:new", "jobs:intake-who"):
        response = client_for(cast.writer).get(reverse(name), {"vehicle": value, "customer": value})
        assert response.status_code == 200
