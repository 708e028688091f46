"""Cause, correction and proof; before and after; the customer's sheet."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.core.stages import Stage
from jobs.models import Outcome, TimelineEvent
from jobs.selectors.outcome import before_after
from jobs.services.outcome import outcome_change, outcome_of
from shopdiag.people.services import SavedMeanwhileError
from tests.jobs.work.repairs import address, repaired
from tests.wording import named, says
from traces.core.report.starter_figures import StarterFigures
from traces.models import CaptureSetup

__all__ = ["address", "repaired"]


def opened(page):
    form = page.context["form"]
    return {n: str(v) for n in form.fields if (v := form[n].value()) not in (None, "")}


WRITTEN = {
    "cause": "Exhaust valve burnt.",
    "correction": "Valve replaced.",
    "verified": "yes",
    "verified_how": "Second capture.",
    "told_customer": "A valve was burnt.",
}


def test_the_diagnostician_writes_and_the_visit_goes_to_delivery(client_for, address, repaired, by):
    browser = client_for(by)
    response = browser.post(address, opened(browser.get(address)) | WRITTEN)
    assert response.status_code == 302
    outcome = Outcome.objects.get(visit=repaired)
    assert {name: getattr(outcome, name) for name in WRITTEN} == WRITTEN
    repaired.refresh_from_db()
    assert repaired.stage == Stage.HAND_BACK
    line = TimelineEvent.objects.get(visit=repaired, kind="outcome")
    assert line.by == by
    assert line.data["fields"][:2] == ["cause", "correction"]


def test_verified_needs_how(client_for, address, by):
    browser = client_for(by)
    sent = opened(browser.get(address)) | WRITTEN | {"verified_how": ""}
    response = browser.post(address, sent)
    assert response.status_code == 422
    assert says(response.content.decode(), "outcome.say-how-verified-second")
    assert "Exhaust valve burnt." in response.content.decode()
    assert not Outcome.objects.filter(verified="yes").exists()


def test_the_writer_words_it_for_the_customer_only(client_for, address, repaired, cast, by):
    writer = client_for(cast.writer)
    page = writer.get(address)
    assert page.context["form"].record_fields == ["told_customer"]
    writer.post(address, opened(page) | WRITTEN)
    outcome = Outcome.objects.get(visit=repaired)
    assert outcome.told_customer == WRITTEN["told_customer"]
    assert outcome.cause == ""
    assert outcome.verified == ""


def test_two_people_the_second_is_told_and_keeps_his(client_for, address, repaired, cast, by):
    first, second = client_for(by), client_for(cast.owner)
    here, late = opened(first.get(address)), opened(second.get(address))
    assert first.post(address, here | {"cause": "Valve."}).status_code == 302
    response = second.post(address, late | {"cause": "Rings.", "correction": "Rebuilt."})
    assert response.status_code == 409
    page = response.content.decode()
    assert "Valve." in page
    assert "Rings." in page
    assert "Rebuilt." in page
    assert Outcome.objects.get(visit=repaired).cause == "Valve."
    assert second.post(address, opened(response)).status_code == 302
    outcome = Outcome.objects.get(visit=repaired)
    assert (outcome.cause, outcome.correction) == ("Rings.", "Rebuilt.")


def test_a_stale_version_is_refused_by_the_service(repaired, by):
    outcome = outcome_of(visit=repaired)
    outcome.cause = "x"
    outcome_change(outcome=outcome, expected_version=1, member=by, fields=["cause"])
    outcome.cause = "y"
    with pytest.raises(SavedMeanwhileError):
        outcome_change(outcome=outcome, expected_version=1, member=by, fields=["cause"])


def test_saving_the_same_twice_writes_one_line(client_for, address, by):
    browser = client_for(by)
    sent = opened(browser.get(address)) | WRITTEN
    for _ in range(2):
        assert browser.post(address, sent).status_code == 302
    assert TimelineEvent.objects.filter(kind="outcome").count() == 1


def test_a_closed_job_is_not_rewritten(repaired, by):
    type(repaired).objects.filter(pk=repaired.pk).update(stage="closed")
    outcome = outcome_of(visit=repaired)
    with pytest.raises(ValidationError, match="closed"):
        outcome_change(outcome=outcome, expected_version=1, member=by, fields=["cause"])


def test_before_and_after_by_cylinder(client_for, repaired, run_of, by, signed):
    after = run_of(repaired, {1: 1.0, 2: 0.99, 3: 0.98, 4: 1.01}, purpose="verification")
    evidence = before_after(repaired, signed)
    assert (evidence.before, evidence.after) == (signed.run, after)
    rows = {r.cylinder: r for r in evidence.rows}
    assert rows[3].verdict == "better"
    assert rows[3].change == pytest.approx(0.41)
    assert {rows[c].verdict for c in (1, 2, 4)} == {"same"}
    page = client_for(by).get(reverse("jobs:before-after", args=[repaired.pk])).content.decode()
    assert 'id="bars-before"' in page
    assert 'id="bars-after"' in page
    assert "+41 points" in page
    assert says(page, "before_after.each-capture-compares-cylinders")


def test_how_the_engine_was_cranked_stands_side_by_side(client_for, repaired, run_of, by, signed):
    after = run_of(repaired, {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0}, purpose="verification")
    assert before_after(repaired, signed).starter == ()
    for run, mean_a, rpm in ((signed.run, 182.0, 178.0), (after, 165.0, None)):
        figures = StarterFigures(mean_current_a=mean_a, cranking_rpm=rpm)
        run.result = run.result | {"starter": figures.to_json()}
        run.save(update_fields=["result"])
    pairs = {p.label: (p.before, p.after) for p in before_after(repaired, signed).starter}
    assert pairs == {
        "Mean cranking current": ("182 A", "165 A"),
        "Cranking speed": ("178 rpm", "–"),
    }
    page = client_for(by).get(reverse("jobs:before-after", args=[repaired.pk])).content.decode()
    assert says(page, "before_after.how-engine-cranked-before")


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        (None, named("outcome.no-capture-after-repair")),
        ({"verdict": "not judged"}, named("outcome.no-capture-after-repair")),
        ({"known": False}, named("outcome.capture-repair-no-sync", when="after")),
    ],
)
def test_why_there_is_nothing_to_compare(repaired, run_of, signed, given, sentence):
    if given is not None:
        run_of(repaired, {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0}, purpose="verification", **given)
    evidence = before_after(repaired, signed)
    assert evidence.rows == ()
    assert says(evidence.why_not, sentence)


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        (
            {"throttle": "closed"},
            {"throttle": "open"},
            named("conditions.throttle-one-other-cylinders", first="closed", second="held open"),
        ),
        (
            {"temperature": "cold"},
            {"temperature": "hot"},
            named("conditions.one-other-do-not", first="cold", second="hot"),
        ),
        (
            {"charger_off": True},
            {"charger_off": False},
            named("conditions.charger-connected-only-one"),
        ),
        ({"fuel_off": True}, {"fuel_off": False}, named("conditions.fuel-off-only-one")),
        (
            {"battery_v": 12.6},
            {"battery_v": 12.0},
            named("conditions.battery-stood-before-one", first="12.6 V", second="12 V"),
        ),
        ({"throttle": "closed"}, {}, named("conditions.not-noted-both-what")),
    ],
)
def test_other_conditions_are_pointed_out(client_for, repaired, run_of, by, *, before, after, told):
    proof = run_of(repaired, {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0}, purpose="verification")
    first = before_after(repaired).before
    assert first is not None
    for run, conditions in ((first, before), (proof, after)):
        if conditions:
            CaptureSetup.objects.filter(pk=run.setup_id).update(**conditions)
    page = client_for(by).get(reverse("jobs:before-after", args=[repaired.pk])).content.decode()
    assert says(page, told)
