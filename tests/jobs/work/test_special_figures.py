"""Wet test, leak-down and running compression: what is asked, kept and read."""

from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from engines.models import Engine
from jobs.models import CylinderFinding, WorkOrder
from jobs.selectors.finding_hints import hints
from jobs.selectors.findings import current_findings, finding_words, gauge_rule_of
from jobs.services.findings import NewFinding, finding_add
from tests.jobs.work.kept_order import cast, kept, order, taken, visit
from tests.wording import says

__all__ = ["cast", "kept", "order", "taken", "visit"]


@pytest.fixture
def add(order, cast):
    """Record a finding of cylinder 3, or of another one."""

    def record(test: str, outcome: str = "bad", cylinder: int = 3, **given):
        found = NewFinding(cylinder, test, outcome, **given)
        return finding_add(order=order, member=cast.mechanic, found=found)

    return record


@pytest.fixture
def said(order):
    """Give what the readings say, as one text."""

    def words() -> str:
        fresh = WorkOrder.objects.get(pk=order.pk)
        return " ".join(h.words for h in hints(fresh, current_findings(fresh), "kPa"))

    return words


def test_a_wet_test_passes_by_a_control_only(add, said):
    """15 ml alone lifts a 0.5 L cylinder by up to 50 % (computed), so 50 % says nothing."""
    add("gauge_dry", "good", 1, pressure_kpa=1200)
    add("gauge_dry", pressure_kpa=600)
    add("gauge_wet", "ambiguous", pressure_kpa=900, oil_ml=15, swept_ml=500, confirmed=True)
    assert says(said(), "wet_test.rises-but-oil-alone")
    add("gauge_wet", "good", 1, pressure_kpa=1300, oil_ml=15, swept_ml=500, confirmed=True)
    assert says(said(), "wet_test.rises-more-oil-explains")
    assert says(said(), "finding_hints.good-cylinder", control=1)


def test_much_oil_is_asked_back(add):
    with pytest.raises(ValidationError) as asked:
        add("gauge_wet", pressure_kpa=900, oil_ml=15, swept_ml=500)
    assert set(asked.value.message_dict) == {"confirmed"}
    assert add("gauge_wet", pressure_kpa=700, oil_ml=5, swept_ml=500).oil_ml == 5


def test_much_oil_is_asked_back_without_a_swept_volume_too(add):
    """5 ml are usual for 500 ml; 15 ml are 1 % of 1.5 L, which no car's cylinder sweeps."""
    with pytest.raises(ValidationError) as asked:
        add("gauge_wet", pressure_kpa=900, oil_ml=15)
    assert set(asked.value.message_dict) == {"confirmed"}
    assert add("gauge_wet", pressure_kpa=700, oil_ml=8).oil_ml == 8


def test_a_swept_volume_typed_once_holds_for_the_other_cylinders(add):
    add("gauge_wet", pressure_kpa=700, oil_ml=3, swept_ml=330)
    with pytest.raises(ValidationError) as asked:
        add("gauge_wet", cylinder=2, pressure_kpa=700, oil_ml=8)
    assert set(asked.value.message_dict) == {"confirmed"}
    add("gauge_wet", cylinder=1, pressure_kpa=700, oil_ml=15, swept_ml=1400)


@pytest.mark.parametrize("kind", ["diesel", "flat"])
def test_oil_in_a_diesel_or_a_flat_engine_is_asked_back_and_not_read(add, said, order, kind):
    """A maker forbids oil in diesels; in flat engines it does not reach the whole ring."""
    if kind == "diesel":
        order.visit.vehicle.fuel = "diesel"
        order.visit.vehicle.save()
    else:
        Engine.objects.filter(pk=order.visit.vehicle.engine_id).update(layout="F4")
    add("gauge_dry", pressure_kpa=600)
    with pytest.raises(ValidationError) as asked:
        add("gauge_wet", pressure_kpa=1100)
    assert set(asked.value.message_dict) == {"confirmed"}
    add("gauge_wet", pressure_kpa=1100, confirmed=True)
    assert "is not read" in said()
    assert "rings" not in said()


def test_first_and_last_puff_are_read(add, said):
    """A maker's service text (example): low and does not build is valves or gasket."""
    add("gauge_dry", "good", 1, first_puff_kpa=600, pressure_kpa=1200)
    add("gauge_dry", first_puff_kpa=300, pressure_kpa=360)
    assert says(said(), "first_puff.begins-low-does-not")


def test_running_compression_has_its_figures(add, said):
    """Common practice: idle about half of cranking, snap about 80 %; typical, never a limit."""
    with pytest.raises(ValidationError) as missing:
        add("running")
    assert set(missing.value.message_dict) == {"idle"}
    add("gauge_dry", "good", 3, pressure_kpa=1200)
    row = add("running", "good", idle_kpa=300, snap_kpa=960)
    assert (row.idle_kpa, row.snap_kpa, row.pressure_kpa) == (300, 960, None)
    assert "idle 300 kPa, snap 960 kPa" in finding_words(row, "kPa")
    assert says(
        said(),
        "running_compression.cranking-reading-typical-cranking",
        name="idle",
        reading="300 kPa",
        share="25 %",
        usual="50 %",
    )
    assert says(
        said(),
        "running_compression.cranking-reading-typical-cranking",
        name="snap",
        reading="960 kPa",
        share="80 %",
    )
    with pytest.raises(ValidationError) as asked:
        add("running", idle_kpa=600, snap_kpa=300)
    assert set(asked.value.message_dict) == {"confirmed"}


def test_a_leak_down_says_how_it_was_done(add, said):
    """FAA AC 43.13-1B ch. 8: the figure hangs on the orifice; both valves closed."""
    add("leak_down", leak_percent=42, heard_at="exhaust")
    assert says(said(), "finding_hints.both-valves-were-closed", unsure="cylinder 3")
    given = {"supply_kpa": 690.0, "at_tdc": True, "is_warm": True}
    add("leak_down", "good", 2, leak_percent=8, orifice_mm=1.0, **given)
    row = add("leak_down", "bad", 1, leak_percent=30, orifice_mm=1.5, heard_at="exhaust", **given)
    assert "1 mm and 1.5 mm" in said()
    assert "cylinders 1" not in said()
    words = finding_words(row, "kPa")
    assert "30 %" in words
    assert "690 kPa" in words
    assert says(words, "findings.orifice-mm", orifice_mm=1.5)
    with pytest.raises(ValidationError) as refused:
        add("leak_down", leak_percent=20, orifice_mm=40)
    assert set(refused.value.message_dict) == {"orifice_mm"}


def test_the_form_takes_them_in_the_shops_unit_and_hands_the_tester_on(client_for, cast, order):
    cast.shop.pressure_unit = "bar"
    cast.shop.save()
    browser, address = client_for(cast.mechanic), reverse("jobs:finding-add", args=[order.pk])
    sent = {"form_token": str(uuid4()), "cylinder": "3", "outcome": "bad"}
    leak = {
        "test": "leak_down",
        "leak_percent": "42",
        "heard_at": "exhaust",
        "supply": "6,9",
        "orifice_mm": "1,0",
    }
    # what stands in fields of other tests says nothing
    left = {"idle": "x", "oil_ml": "900", "at_tdc": "on"}
    assert browser.post(address, {**sent, **leak, **left}).status_code == 302
    row = CylinderFinding.objects.get()
    assert row.supply_kpa == pytest.approx(690.0)
    assert row.orifice_mm == 1.0
    assert (row.at_tdc, row.is_warm, row.oil_ml, row.idle_kpa) == (True, None, None, None)
    form = browser.get(address, {"test": "leak_down"}).context["form"]
    assert (form["supply"].value(), form["orifice_mm"].value()) == (6.9, 1.0)
    assert not form["at_tdc"].value()
    corrected = browser.get(address, {"replaces": row.pk}).context["form"]
    assert corrected["at_tdc"].value() is True
    wet = {**sent, "form_token": str(uuid4()), "test": "gauge_wet", "pressure": "9"}
    refused = browser.post(address, {**wet, "oil_ml": "900"})
    assert set(refused.context["form"].errors) == {"oil_ml"}
    running = {**sent, "form_token": str(uuid4()), "test": "running", "idle": "3,5"}
    assert browser.post(address, running).status_code == 302
    assert CylinderFinding.objects.order_by("-pk")[0].idle_kpa == pytest.approx(350.0)


def test_an_order_keeps_the_limits_of_the_shops_altitude(client_for, cast, order):
    cast.shop.altitude_m = 900
    cast.shop.save()
    address = reverse("jobs:work-order-limits", args=[order.pk])
    browser = client_for(cast.mechanic)
    given = {"version": order.version, "rule": "petrol-1000"}
    assert browser.post(address, given).status_code == 302
    order.refresh_from_db()
    assert gauge_rule_of(order).least_here_kpa == pytest.approx(900)
    page = browser.get(reverse("jobs:work-order", args=[order.pk]))
    assert says(page.context["limits"], "gauge.less-m-above-sea", share="10 %", altitude_m=900)
    choices = [key for key, _ in browser.get(address).context["form"].fields["rule"].choices]
    assert len(choices) == len(set(choices))
    assert browser.get(address).context["form"]["rule"].value() == "petrol-1000"
