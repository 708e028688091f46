"""Findings per cylinder: in the shop's unit, corrected by one more line, needed to complete."""

from io import BytesIO
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, transaction
from django.urls import reverse
from PIL import Image

from jobs.core.stages import Stage
from jobs.models import CylinderFinding, Photo, TimelineEvent, WorkOrder
from jobs.selectors.finding_hints import hints
from jobs.selectors.findings import current_findings, finding_words
from jobs.services.completion import work_order_complete
from jobs.services.findings import NewFinding, finding_add
from jobs.services.work import work_order_accept, work_order_withdraw
from tests.jobs.work.kept_order import cast, kept, order, taken, visit
from tests.shopdiag.page_forms import filled, forms_on
from tests.wording import says

__all__ = ["cast", "kept", "order", "taken", "visit"]


@pytest.fixture
def mechanic(cast):
    return cast.mechanic


@pytest.fixture
def browser(client_for, mechanic):
    return client_for(mechanic)


@pytest.fixture
def address(order):
    return reverse("jobs:finding-add", args=[order.pk])


def sent(**given):
    return {
        "form_token": str(uuid4()),
        "cylinder": "3",
        "test": "gauge_dry",
        "outcome": "bad",
        **given,
    }


@pytest.mark.parametrize(
    "given", [("kPa", "620", 620.0), ("bar", "6.2", 620.0), ("psi", "90", 620.53)]
)
def test_pressure_is_typed_in_the_shops_unit(browser, address, cast, given):
    unit, typed, kpa = given
    cast.shop.pressure_unit = unit
    cast.shop.save()
    assert browser.post(address, sent(pressure=typed)).status_code == 302
    assert CylinderFinding.objects.get().pressure_kpa == pytest.approx(kpa, abs=0.01)
    assert unit in TimelineEvent.objects.get(kind="finding").words
    page = browser.get(reverse("jobs:finding-add", args=[WorkOrder.objects.get().pk]))
    assert unit in page.content.decode()


def test_one_tap_fills_test_and_cylinder(browser, address, order, mechanic):
    page = browser.get(reverse("jobs:work-order", args=[order.pk])).content.decode()
    assert f"{address}?test=leak_down" in page
    form = browser.get(address, {"test": "leak_down", "cylinder": "3"}).context["form"]
    assert form["test"].value() == "leak_down"
    assert form["cylinder"].value() == "3"
    only = browser.get(address).context["form"]
    assert only["cylinder"].value() == "3"


def test_recording_accepts_the_order(browser, address, order, mechanic):
    browser.post(address, sent(pressure="620"))
    order.refresh_from_db()
    assert order.state == "accepted"
    assert order.accepted_by == mechanic


def test_sent_twice_records_once(browser, address):
    twice = sent(pressure="620")
    for _ in range(2):
        assert browser.post(address, twice).status_code == 302
    assert CylinderFinding.objects.count() == 1
    assert TimelineEvent.objects.filter(kind="finding").count() == 1


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({}, "Write down what the gauge shows"),
        ({"test": "leak_down"}, "Write down the leak in per cent"),
        ({"test": "borescope"}, "Say in a few words what was seen"),
        ({"test": "other"}, "Say in a few words what was seen"),
        ({"outcome": "not_done"}, "Say why it was not done"),
        ({"pressure": "20000"}, "is more than a gauge shows"),
        ({"pressure": "-1"}, "cannot be negative"),
        ({"test": "leak_down", "leak_percent": "120"}, "between 0 and 100"),
        ({"cylinder": ""}, "Choose the cylinder"),
        ({"cylinder": "9", "pressure": "600"}, "is not in it"),
        ({"outcome": "", "pressure": "600"}, "Choose good, bad, ambiguous or not done"),
    ],
)
def test_bad_input_gets_a_sentence_and_loses_nothing(browser, address, given, sentence):
    response = browser.post(address, sent(conditions="5 strokes, warm", **given))
    assert response.status_code == 422
    page = response.content.decode()
    assert sentence in page
    assert "5 strokes, warm" in page
    assert not CylinderFinding.objects.exists()


def test_not_done_with_the_reason_counts(order, mechanic):
    found = NewFinding(3, "leak_down", "not_done", leak_percent=12, words="No adapter that fits.")
    finding = finding_add(order=order, member=mechanic, found=found)
    assert finding.leak_percent is None
    work_order_complete(
        order=WorkOrder.objects.get(), member=mechanic, summary="", left_out="No time."
    )
    assert WorkOrder.objects.get().state == "done"


def test_a_correction_is_one_more_line(browser, address, order, mechanic):
    first = finding_add(
        order=order, member=mechanic, found=NewFinding(3, "gauge_dry", "bad", pressure_kpa=260)
    )
    form = browser.get(address, {"replaces": first.pk}).context["form"]
    assert form["pressure"].value() == 260
    browser.post(address, sent(replaces=first.pk, pressure="620"))
    (stands,) = current_findings(order)
    assert stands.pressure_kpa == 620
    assert stands.replaces == first
    assert CylinderFinding.objects.count() == 2
    assert TimelineEvent.objects.filter(words__startswith="corrected a finding").count() == 1
    page = browser.get(reverse("jobs:work-order", args=[order.pk])).content.decode()
    assert says(page, "found.replaces-what-wrote", name="Mika Mech")
    again = browser.post(address, sent(replaces=first.pk, pressure="630"))
    assert "was corrected already" in again.content.decode()
    with pytest.raises(DatabaseError), transaction.atomic():
        CylinderFinding.objects.filter(pk=first.pk).update(pressure_kpa=1)


def test_a_finding_of_another_order_is_not_replaced(browser, address):
    assert browser.get(address, {"replaces": "99999"}).status_code == 404
    assert browser.get(address, {"replaces": "x"}).status_code == 404


def test_completing_needs_each_suspect(browser, order, mechanic):
    work_order_accept(order=order, member=mechanic)
    address = reverse("jobs:work-order-complete", args=[order.pk])
    response = browser.post(address, {"summary": "Looked at it."})
    assert response.status_code == 422
    page = response.content.decode()
    assert says(page, "completion.record-finding-first-not", missing="cylinder 3")
    assert "Looked at it." in page
    finding_add(order=order, member=mechanic, found=NewFinding(2, "gauge_dry", "good", 1200))
    assert browser.post(address, {"summary": "x"}).status_code == 422
    finding_add(order=order, member=mechanic, found=NewFinding(3, "gauge_dry", "bad", 620))
    leaks = {"summary": "Cylinder 3 leaks.", "left_out": "The gauge says enough."}
    assert browser.post(address, leaks).status_code == 302
    order.refresh_from_db()
    assert (order.state, order.summary) == ("done", "Cylinder 3 leaks.")
    order.visit.refresh_from_db()
    assert order.visit.stage == Stage.WORK
    assert browser.post(address, {"summary": "Twice."}).status_code == 302
    order.refresh_from_db()
    assert order.summary == "Cylinder 3 leaks."
    assert TimelineEvent.objects.filter(words__startswith="completed").count() == 1


def test_the_summary_is_filled_from_the_findings(browser, order, mechanic):
    finding_add(order=order, member=mechanic, found=NewFinding(3, "gauge_dry", "bad", 620))
    page = browser.get(reverse("jobs:work-order", args=[order.pk]))
    summary = page.context["complete_form"]["summary"].value()
    finding = order.findings.get()
    assert summary.lower() == f"{finding_words(finding, 'kPa')}.".lower()
    assert "620 kPa" in summary


def test_an_order_that_nobody_has_is_not_completed(order, mechanic, by):
    with pytest.raises(ValidationError) as refused:
        work_order_complete(order=order, member=mechanic, summary="")
    assert says(refused.value, "completion.work-order-accept-first")
    work_order_withdraw(order=order, member=by, reason="No.")
    with pytest.raises(ValidationError) as refused:
        work_order_complete(order=order, member=mechanic, summary="")
    assert says(refused.value, "completion.work-order-withdrawn-there")
    with pytest.raises(ValidationError) as refused:
        finding_add(order=order, member=mechanic, found=NewFinding(3, "gauge_dry", "bad", 620))
    assert says(refused.value, "findings.work-order-withdrawn-takes")


def test_a_done_order_takes_corrections_only(order, mechanic):
    first = finding_add(order=order, member=mechanic, found=NewFinding(3, "gauge_dry", "bad", 620))
    work_order_complete(
        order=WorkOrder.objects.get(), member=mechanic, summary="", left_out="No time."
    )
    with pytest.raises(ValidationError) as refused:
        finding_add(order=order, member=mechanic, found=NewFinding(3, "gauge_dry", "bad", 600))
    assert says(refused.value, "findings.work-order-done-correct")
    finding_add(
        order=order, member=mechanic, found=NewFinding(3, "gauge_dry", "bad", 610), replaces=first
    )
    assert [f.pressure_kpa for f in current_findings(order)] == [610]


def test_hints_stand_beside_the_findings_with_their_source(order, mechanic):
    for found in (
        NewFinding(1, "gauge_dry", "good", 1200),
        NewFinding(3, "gauge_dry", "bad", 620),
        NewFinding(3, "gauge_wet", "bad", 630),
        NewFinding(3, "leak_down", "bad", leak_percent=42, heard_at="exhaust"),
    ):
        finding_add(order=order, member=mechanic, found=found)
    said = hints(order, current_findings(order), "kPa")
    words = " ".join(h.words for h in said)
    assert says(words, "gauge.cylinder-highest-limit", c=3, share="52 %", limit="75 %")
    assert says(words, "wet_test.does-not-rise-oil")
    assert says(words, "finding_hints.cylinder-loses", leak_percent=42, band="bad")
    assert "exhaust valve" in words
    assert says(words, "finding_hints.over-published-aircraft-limit", reference_limit_percent=25)
    assert all(h.source for h in said)


def test_the_makers_limits_take_the_examples_place(browser, order, mechanic, cast):
    cast.shop.pressure_unit = "bar"
    cast.shop.save()
    address = reverse("jobs:work-order-limits", args=[order.pk])
    form = browser.get(address).context["form"]
    version = form["version"].value()
    own = {"version": version, "rule": "own", "least": "10"}
    refused = browser.post(address, own)
    assert refused.status_code == 422
    assert says(refused.content.decode(), "limits.say-manufacturer-figures-come")
    assert browser.post(address, {**own, "source": "Service text 14-3"}).status_code == 302
    order.refresh_from_db()
    assert order.gauge_rule["least_kpa"] == 1000
    finding_add(order=order, member=mechanic, found=NewFinding(3, "gauge_dry", "bad", 990))
    page = browser.get(reverse("jobs:work-order", args=[order.pk])).content.decode()
    assert says(page, "gauge.cylinder-shows-least", c=3, reading="9.9 bar", least="10.0 bar")
    assert "Service text 14-3" in page
    assert browser.get(address).context["form"]["least"].value() == 10


def test_limits_saved_meanwhile_are_told(browser, order, client_for, by):
    address = reverse("jobs:work-order-limits", args=[order.pk])
    version = browser.get(address).context["form"]["version"].value()
    client_for(by).post(address, {"version": version, "rule": "share-70"})
    response = browser.post(address, {"version": version, "rule": "petrol-1000"})
    assert response.status_code == 409
    page = response.content.decode()
    assert says(page, "findings.saved-work-order-meanwhile", who="Dana Diag")
    assert says(page, "gauge.lowest-least-70-highest")
    order.refresh_from_db()
    assert order.gauge_rule["key"] == "share-70"
    again = {"version": response.context["form"]["version"].value(), "rule": "petrol-1000"}
    assert browser.post(address, again).status_code == 302
    order.refresh_from_db()
    assert order.gauge_rule["key"] == "petrol-1000"


def picture():
    file = BytesIO()
    Image.new("RGB", (40, 30), "grey").save(file, "JPEG")
    return SimpleUploadedFile("valve.jpg", file.getvalue(), "image/jpeg")


def test_a_photo_carries_its_cylinder(browser, order):
    address = reverse("jobs:work-order-photo", args=[order.pk])
    token = str(uuid4())
    sent_photo = {"form_token": token, "cylinder": "3", "caption": "Burnt edge"}
    for _ in range(2):
        browser.post(address, {**sent_photo, "image": picture()})
    photo = Photo.objects.get()
    assert (photo.work_order, photo.cylinder, photo.caption) == (order, 3, "Burnt edge")
    page = browser.get(reverse("jobs:work-order", args=[order.pk])).content.decode()
    assert "Burnt edge" in page
    refused = browser.post(address, {"form_token": str(uuid4())}, follow=True)
    assert says(refused.content.decode(), "notes.choose-picture-first")


@pytest.mark.parametrize("asked", ["x", "0", "9" * 5000])
def test_a_finding_that_is_none_is_not_corrected(browser, address, asked):
    assert browser.post(address, sent(replaces=asked, pressure="620")).status_code == 404


def test_a_decimal_comma_is_stored_as_it_was_meant(browser, address, cast):
    cast.shop.pressure_unit = "bar"
    cast.shop.save()
    assert browser.post(address, sent(pressure="9,8", first_puff="3,5")).status_code == 302
    row = CylinderFinding.objects.get()
    assert row.pressure_kpa == pytest.approx(980.0)
    assert row.first_puff_kpa == pytest.approx(350.0)


def test_an_odd_figure_is_asked_back_and_stands_when_confirmed(browser, address, cast):
    cast.shop.pressure_unit = "bar"
    cast.shop.save()
    odd = sent(pressure="98")
    page = browser.post(address, odd)
    assert page.status_code == 422
    assert set(page.context["form"].errors) == {"confirmed"}
    assert page.context["form"]["pressure"].value() == "98"
    assert not CylinderFinding.objects.exists()
    (asked,) = [f for f in forms_on(page, address) if "confirmed" in f.names]
    # the tick is for 98, not for 89
    other = filled(asked, {"pressure": "89", "confirmed": "on"})
    assert browser.post(address, other).status_code == 422
    assert not CylinderFinding.objects.exists()
    assert browser.post(address, filled(asked, {"confirmed": "on"})).status_code == 302
    assert CylinderFinding.objects.get().pressure_kpa == 9800.0


def test_good_is_asked_back_beside_a_much_higher_reading(browser, address, order, mechanic):
    finding_add(order=order, member=mechanic, found=NewFinding(1, "gauge_dry", "good", 1210))
    page = browser.post(address, sent(pressure="480", outcome="good"))
    assert page.status_code == 422
    assert set(page.context["form"].errors) == {"confirmed"}
    assert browser.post(address, sent(pressure="480", outcome="bad")).status_code == 302


def test_an_earlier_good_one_is_asked_about_when_a_higher_one_follows(order, mechanic):
    finding_add(order=order, member=mechanic, found=NewFinding(3, "gauge_dry", "good", 480))
    with pytest.raises(ValidationError) as asked:
        finding_add(order=order, member=mechanic, found=NewFinding(1, "gauge_dry", "good", 1210))
    assert set(asked.value.message_dict) == {"confirmed"}
    found = NewFinding(1, "gauge_dry", "good", 1210, confirmed=True)
    assert finding_add(order=order, member=mechanic, found=found).pressure_kpa == 1210
