"""The stage follows what is on record; a repair waits for the customer; what *Sign* opens."""

from dataclasses import replace
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction
from django.urls import reverse

from jobs.core.after_repair import STOP_OPENED_REPAIR
from jobs.core.stages import Stage, VisitFacts, needs_reason
from jobs.models import Complaint, RepairConsent, TimelineEvent, Visit, VisitCapture
from jobs.selectors.decision import run_to_decide
from jobs.selectors.order_draft import STOP_AND_CALL, order_draft
from jobs.services.captures import capture_aside
from jobs.services.completion import work_order_complete
from jobs.services.consent import SaidOnRepair, consent_add
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from jobs.services.visits import visit_move
from jobs.services.work import work_order_create
from tests.wording import says_only

YES = SaidOnRepair(agreed=True, said_by="Casey", how="phone", amount="400")
NO = SaidOnRepair(agreed=False, said_by="Casey", how="phone")


def finished(order, mechanic):
    finding_add(order=order, member=mechanic, found=NewFinding(3, "gauge_dry", "bad", 620))
    order.refresh_from_db()
    return work_order_complete(order=order, member=mechanic, summary="Valve.", left_out="Clear.")


def stage_of(visit):
    visit.refresh_from_db()
    return visit.stage


@pytest.mark.parametrize("stage", [Stage.INTAKE, Stage.TRIAGE])
def test_a_verdict_and_an_order_carry_a_visit_nobody_listened_to(visit, by, stage):
    # No cranking by ear is on record here: that kept the stage at triage with an order out.
    visit.stage = stage
    visit.save()
    judgement = judgement_sign(
        visit=visit, member=by, kind="without", mechanical="yes", cylinders=[3], reason="Gauge."
    )
    assert stage_of(visit) == Stage.DECIDE
    work_order_create(judgement=judgement, member=by)
    assert stage_of(visit) == Stage.WORK


def test_with_an_order_out_a_job_does_not_go_back(order, by, client_for):
    for to in (Stage.TRIAGE, Stage.TEST, Stage.DECIDE):
        with pytest.raises(ValidationError):
            visit_move(visit=order.visit, to=to, member=by, reason="Listen again.")
    assert stage_of(order.visit) == Stage.WORK


def test_back_needs_a_reason_that_stays_on_record(signed, by, client_for):
    address = reverse("jobs:move", args=[signed.visit_id])
    browser = client_for(by)
    browser.post(address, {"to": "triage"})
    browser.post(address, {"to": "triage", "reason": "x" * 201})
    assert stage_of(signed.visit) == Stage.DECIDE
    browser.post(address, {"to": "triage", "reason": "Listen again, hot."})
    assert stage_of(signed.visit) == Stage.TRIAGE
    event = TimelineEvent.objects.filter(kind="stage").order_by("-pk")[0]
    told = {"from": "decide", "to": "triage", "reason": "Listen again, hot."}
    assert event.data.items() >= told.items()


def test_a_move_on_by_hand_needs_a_reason_too(triaged, by, client_for):
    Visit.objects.filter(pk=triaged.pk).update(stage=Stage.TRIAGE)
    browser, address = client_for(by), reverse("jobs:move", args=[triaged.pk])
    browser.post(address, {"to": "test", "reason": " "})
    assert stage_of(triaged) == Stage.TRIAGE
    browser.post(address, {"to": "test", "reason": "Heard elsewhere."})
    assert stage_of(triaged) == Stage.TEST


@pytest.mark.parametrize(
    ("to", "is_written_up", "wanted"),
    [
        (Stage.HAND_BACK, True, False),
        (Stage.HAND_BACK, False, True),
        (Stage.CLOSED, True, False),
        (Stage.VERIFY, True, True),
        (Stage.TRIAGE, True, True),
    ],
)
def test_the_jobs_own_step_needs_no_reason(to, is_written_up, wanted):
    facts = VisitFacts(
        has_complaint=True,
        has_triage=True,
        has_judged_run=True,
        has_judgement=True,
        open_work_orders=0,
        work_orders=1,
        has_cause=is_written_up,
        has_correction=is_written_up,
        is_verified=True,
    )
    assert needs_reason(Stage.WORK, to, facts) is wanted


def test_the_diagnosis_starts_no_repair(order, cast, by, client_for):
    visit = order.visit
    finished(order, cast.mechanic)
    assert stage_of(visit) == Stage.WORK
    with pytest.raises(ValidationError):
        visit_move(visit=visit, to=Stage.VERIFY, member=by, reason="x")
    consent_add(visit=visit, member=cast.writer, said=NO)
    assert stage_of(visit) == Stage.WORK
    address = reverse("jobs:consent-add", args=[visit.pk])
    card = client_for(cast.writer).get(reverse("jobs:visit", args=[visit.pk]))
    assert address in card.content.decode()
    sent = {
        "form_token": str(uuid4()),
        "agreed": "yes",
        "said_by": "Casey",
        "how": "phone",
        "amount": "400",
    }
    for _ in range(2):
        assert client_for(cast.writer).post(address, sent).status_code == 302
    assert stage_of(visit) == Stage.VERIFY
    assert [c.agreed for c in RepairConsent.objects.all()] == [True, False]
    assert RepairConsent.objects.get(agreed=True).amount == f"400 {visit.shop.currency}"


def test_a_yes_holds_for_what_was_known(order, cast, by):
    # A yes before the diagnosis is done is none to what it finds.
    visit = order.visit
    consent_add(visit=visit, member=cast.writer, said=YES)
    finished(order, cast.mechanic)
    assert stage_of(visit) == Stage.WORK
    with pytest.raises(ValidationError):
        visit_move(visit=visit, to=Stage.VERIFY, member=by, reason="x")


@pytest.mark.parametrize("said", [SaidOnRepair(True, " ", "phone"), SaidOnRepair(True, "C", "")])
def test_a_consent_says_who_and_how(signed, cast, said):
    with pytest.raises(ValidationError):
        consent_add(visit=signed.visit, member=cast.writer, said=said)
    assert not RepairConsent.objects.exists()


def test_consents_stay_as_they_are(signed, cast):
    consent_add(visit=signed.visit, member=cast.writer, said=NO)
    with pytest.raises(DatabaseError), transaction.atomic():
        RepairConsent.objects.update(agreed=True)


def test_sign_opens_the_best_settled_capture(triaged, run_of, by):
    settled = run_of(triaged)
    # Newer, but with two sets that fit, or after the repair, or not judged.
    run_of(triaged, candidates=[(1,), (4,)])
    run_of(triaged, verdict="not judged")
    run_of(triaged, purpose=VisitCapture.Purpose.VERIFICATION)
    assert run_to_decide(triaged) == settled
    capture_aside(
        tie=VisitCapture.objects.get(capture=settled.capture), member=by, why="The clamp slipped."
    )
    offered = run_to_decide(triaged)
    assert offered
    assert offered.report
    assert len(offered.report.candidates) == 2


def test_sign_opens_the_uneven_one_where_captures_contradict(triaged, run_of):
    engine = triaged.vehicle.engine.order.sequence
    even = dict.fromkeys(engine, 1.0)
    uneven = run_of(triaged, even | {engine[2]: 0.5})
    for _ in range(2):
        run_of(triaged, even)
    assert run_to_decide(triaged) == uneven


def test_sign_opens_nothing_where_nothing_is_done(triaged, run_of):
    assert run_to_decide(triaged) is None
    refused = run_of(triaged, verdict="not judged")
    assert run_to_decide(triaged) == refused


def test_an_order_after_the_customers_yes_is_of_the_agreed_repair(order, cast):
    """It said that nothing is repaired without consent, and gave the diagnosis's amount."""
    visit = order.visit
    finished(order, cast.mechanic)
    Complaint.objects.filter(visit=visit).update(authorised_minutes=60, authorised_amount="90 EUR")

    def draft():
        judgement = judgement_sign(
            visit=visit,
            member=cast.diagnostician,
            kind="without",
            mechanical="yes",
            cylinders=[3],
            reason="Valve burnt.",
        )
        return order_draft(judgement)

    before = draft()
    assert "nothing is repaired" in before.scope
    assert (before.scope_minutes, before.stop_and_call) == (60, str(STOP_AND_CALL))
    said = replace(YES, scope="Exhaust valve of cylinder 3.")
    consent_add(visit=visit, member=cast.writer, said=said)
    after = draft()
    assert says_only(
        after.scope,
        "order_draft.repair-customer-agreed-nothing",
        what=": Exhaust valve of cylinder 3",
        amount=" Up to 400 EUR.",
    )
    assert (after.scope_minutes, after.stop_and_call) == (None, STOP_OPENED_REPAIR)
    consent_add(visit=visit, member=cast.writer, said=NO)
    assert "nothing is repaired" in draft().scope
