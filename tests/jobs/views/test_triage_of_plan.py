"""What the initial checks ask beyond sound and battery, where it is kept, and what it warns of."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from engines.core.mounting import Direction, Mounting
from jobs.models import Complaint, Triage, Vehicle
from jobs.selectors.numbering import mounting_of, numbering_of
from jobs.selectors.triage import coolant_is_lost, triage_rows
from jobs.services.numbering import SeenOnVehicle, numbering_confirm
from jobs.services.triage import codes_add, triage_change, triage_of
from shopdiag.people.models import Shop
from tests.wording import says, wording


@pytest.fixture
def client(cast, client_for):
    return client_for(cast.diagnostician)


@pytest.fixture
def address(visit):
    return reverse("jobs:triage-edit", args=[visit.pk])


def note(visit, member, **said) -> Triage:
    triage = triage_of(visit=visit)
    for name, value in said.items():
        setattr(triage, name, value)
    triage_change(triage=triage, expected_version=triage.version, member=member)
    return Triage.objects.get(visit=visit)


def test_all_of_it_is_kept_and_told(client, cast, visit, address):
    visit.odometer = 150_000
    visit.save(update_fields=["odometer"])
    said = {
        "oil_level": "low",
        "oil_loss": "yes",
        "fuel_in_oil": "no",
        "coolant_level": "ok",
        "coolant_loss": "no",
        "plugs_age": "42000",
        "timing_work": "Belt and pump",
        "timing_work_odometer": "120000",
        "timing_work_on": "2024-05-02",
        "fuel_work": "Filter",
        "direction": "right",
    }
    assert client.post(address, {"version": 1, **said}).status_code == 302
    triage = Triage.objects.get(visit=visit)
    assert (triage.oil_level, triage.oil_loss, triage.fuel_in_oil) == ("low", "yes", "no")
    assert (triage.coolant_level, triage.coolant_loss) == ("ok", "no")
    assert (triage.plugs_age, triage.plugs_age_km) == (42_000, 42_000)
    assert (triage.timing_work_odometer, triage.timing_work_on) == (120_000, date(2024, 5, 2))
    assert (triage.fuel_work, triage.fuel_work_odometer) == ("Filter", None)
    event = visit.events.filter(kind="triage").get()
    assert event.data["values"]["oil_level"] == ["", "low"]
    rows = dict(triage_rows(triage, "km"))
    assert rows[wording("triage.distance-plugs")] == "42,000 km"
    assert rows["Last timing job"] == "Belt and pump (120,000 km, 2 May 2024)"
    for name, args in (("visit", visit.pk), ("job-report", visit.pk)):
        page = client.get(reverse(f"jobs:{name}", args=[args])).content.decode()
        assert "Belt and pump (120,000 km, 2 May 2024)" in page


def test_an_empty_answer_is_no_answer(client, visit, address):
    client.post(address, {"version": 1, "cranks": "even"})
    assert triage_rows(Triage.objects.get(visit=visit), "km") == ()


def test_miles_are_told_in_kilometres_to_whom_counts_in_them(cast, visit):
    Shop.objects.filter(pk=cast.shop.pk).update(distance_unit="mi")
    visit.refresh_from_db()
    triage = note(visit, cast.diagnostician, plugs_age=60_000)
    assert triage.plugs_age_km == 96_561  # 60,000 times 1.609344


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"plugs_age": "150001"}, "plugs_age"),
        ({"timing_work": "Belt", "timing_work_odometer": "150001"}, "timing_work_odometer"),
        ({"timing_work_odometer": "100"}, "timing_work"),
        ({"fuel_work_on": "2024-05-02"}, "fuel_work"),
        ({"bank_a_side": "left", "oil_level": "ok"}, None),
        ({"direction": "backwards"}, "direction"),
        ({"oil_level": "empty"}, "oil_level"),
    ],
)
def test_what_cannot_be_is_refused_and_what_was_typed_stays(client, visit, address, said, field):
    visit.odometer = 150_000
    visit.save(update_fields=["odometer"])
    page = client.post(address, {"version": 1, "remarks": "as typed", **said})
    if field is None:  # a single row has no bank, so the page does not take one
        assert page.status_code == 302
        assert Triage.objects.get().bank_a_side == ""
        return
    assert page.status_code == 422
    assert field in page.context["form"].errors
    assert "as typed" in page.content.decode()
    assert not Triage.objects.filter(visit=visit).exists()


def test_a_job_of_tomorrow_is_refused(client, visit, address):
    tomorrow = timezone.localdate() + timedelta(days=1)
    said = {"version": 1, "timing_work": "Belt", "timing_work_on": tomorrow.isoformat()}
    assert client.post(address, said).status_code == 422


def test_a_diesel_is_not_asked_for_its_plugs(client, visit, address):
    Vehicle.objects.filter(pk=visit.vehicle_id).update(fuel="diesel")
    form = client.get(address).context["form"]
    assert "plugs_age" not in form.fields
    assert client.post(address, {"version": 1, "plugs_age": "9"}).status_code == 302
    assert Triage.objects.get().plugs_age is None


def test_what_is_asked_at_once_follows_from_the_job(client, cast, visit, address):
    names = [f.name for f in client.get(address).context["form"].asked]
    assert names == ["oil_level", "coolant_level"]
    codes_add(visit=visit, text="P0302 stored", member=cast.diagnostician)
    Complaint.objects.filter(visit=visit).update(happens=["after_fuel"])
    form = client.get(address).context["form"]
    assert {"plugs_age", "fuel_work"} <= {f.name for f in form.asked}
    assert "timing_work" in {f.name for f in form.folded}


def test_what_was_answered_never_hides_in_the_fold(client, cast, visit, address):
    note(visit, cast.diagnostician, timing_work="Chain")
    form = client.get(address).context["form"]
    assert "timing_work" in {f.name for f in form.asked}
    page = client.post(
        address, {"version": 2, "timing_work": "Chain", "fuel_work_on": "2020-01-01"}
    )
    assert {"fuel_work", "timing_work"} <= {f.name for f in page.context["form"].asked}


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ({}, False),
        ({"coolant_loss": "yes"}, True),
        ({"coolant_level": "low"}, True),
        ({"coolant_level": "low", "coolant_loss": "no"}, False),
        ({"coolant_loss": "no"}, False),
    ],
)
def test_coolant_that_was_looked_at_counts_before_words(visit, said, expected):
    assert coolant_is_lost(Complaint(words="It shakes."), Triage(visit=visit, **said)) == expected
    words = Complaint(words="It loses coolant.")
    looked = "coolant_loss" in said
    assert coolant_is_lost(words, Triage(visit=visit, **said)) == (expected or not looked)


@pytest.mark.parametrize(
    ("said", "caution"),
    [
        ({"oil_level": "high", "fuel_in_oil": "yes"}, "oil_high_with_fuel"),
        ({"oil_level": "high"}, "oil_high"),
        ({"fuel_in_oil": "yes"}, "fuel_in_oil"),
        ({"oil_level": "low"}, "oil_low"),
        ({"coolant_loss": "yes"}, "coolant_loss"),
        ({"coolant_level": "low"}, "coolant_low"),
    ],
)
def test_cautions_follow_from_oil_and_coolant(client, cast, visit, said, caution):
    address = reverse("jobs:triage-edit", args=[visit.pk])
    text = f"jobs/cautions:{caution}.text"
    assert not says(client.get(address).content.decode(), text)
    note(visit, cast.diagnostician, **said)
    assert says(client.get(address).content.decode(), text)


def test_how_the_engine_sits_is_said_once(client, cast, visit, address, take_in):
    note(visit, cast.diagnostician, direction="left")
    page = client.get(reverse("jobs:numbering", args=[visit.pk]))
    assert page.context["form"].initial["direction"] == "left"
    assert mounting_of(visit, numbering_of(visit)) == Mounting(Direction.LEFT)
    later = take_in(cast.writer, vehicle=visit.vehicle, customer=visit.vehicle.customer)
    assert mounting_of(later, None) is None
    seen = SeenOnVehicle("coil", "right")
    numbering_confirm(visit=visit, member=cast.mechanic, seen=seen)
    assert mounting_of(visit, numbering_of(visit)) == Mounting(Direction.RIGHT)
