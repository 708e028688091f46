"""The fuel is the vehicle's: it goes before the engine's in limits, cautions and set-ups."""

import pytest
from django.urls import reverse

from jobs.selectors.captures import fuel_known
from jobs.selectors.order_draft import order_draft
from jobs.services.judgements import judgement_sign
from traces.selectors.hand import hand_state


@pytest.fixture
def burning(take_in, by, four):
    """Take in a vehicle with the petrol engine of the list and a fuel of its own."""

    def take(fuel: str):
        visit = take_in(by, engine=four)
        visit.vehicle.fuel = fuel
        visit.vehicle.save()
        return visit

    return take


@pytest.mark.parametrize(
    ("fuel", "counts_as"), [("", "petrol"), ("diesel", "diesel"), ("gas", "petrol")]
)
def test_the_vehicles_fuel_counts_where_it_is_said(burning, fuel, counts_as):
    assert fuel_known(burning(fuel), None) == counts_as


def test_nobody_said(take_in, by):
    assert fuel_known(take_in(by), None) is None


def test_limits_and_cautions_follow_the_vehicle(burning, by, run_of):
    visit = burning("diesel")
    run = run_of(visit)
    assert run.setup.analysis.fuel == "petrol"
    draft = order_draft(
        judgement_sign(
            visit=visit, member=by, kind="accepted", mechanical="yes", run=run, cylinders=[3]
        )
    )
    assert draft.gauge_rule.key == "diesel-80"
    assert any("rail pressure" in caution for caution in draft.cautions)


def test_the_set_up_page_offers_it(burning, by, run_of, client_for):
    visit = burning("diesel")
    run = run_of(visit)
    browser = client_for(by)
    page = browser.get(reverse("jobs:capture", args=[run.capture_id]))
    assert "fuel=diesel" in page.context["setup_url"]
    form = browser.get(page.context["setup_url"]).context["form"]
    assert form["fuel"].value() == "diesel"
    # what the engine of the list burns is not handed on: it goes with the engine chosen
    plain = run_of(burning(""))
    page = browser.get(reverse("jobs:capture", args=[plain.capture_id]))
    assert "fuel=" not in page.context["setup_url"]
    address = reverse("traces:setup", args=[plain.capture_id])
    assert not browser.get(address, {"fuel": "steam"}).context["form"]["fuel"].value()


def test_another_engine_by_hand_keeps_the_vehicles_fuel(run_of, burning):
    run = run_of(burning("diesel"), fuel="diesel")
    assert hand_state(run.setup, run.report).own_fuel == "diesel"
    plain = run_of(burning(""))
    assert hand_state(plain.setup, plain.report).own_fuel is None


def test_the_card_and_the_form_show_it(burning, cast, client_for):
    visit = burning("gas")
    browser = client_for(cast.writer)
    assert "<dd>Gas</dd>" in browser.get(reverse("jobs:visit", args=[visit.pk])).content.decode()
    form = browser.get(reverse("jobs:vehicle-edit", args=[visit.pk])).context["form"]
    assert form["fuel"].value() == "gas"
