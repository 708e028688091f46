"""One next step for each state of a job, and whose it is."""

from dataclasses import replace

import pytest

from jobs.core.next_step import (
    Asked,
    Captures,
    Consent,
    Holder,
    NextStep,
    Order,
    Proof,
    Step,
    StepFacts,
    next_step,
)
from jobs.core.stages import Stage
from shopdiag.people.core.roles import Role

FRESH = StepFacts(Stage.INTAKE, has_complaint=False, has_triage=False)
TAKEN_IN = replace(FRESH, has_complaint=True)
LISTENED = replace(TAKEN_IN, stage=Stage.TRIAGE, has_triage=True)
RECORDED = replace(LISTENED, stage=Stage.TEST, captures=Captures.TO_SET_UP)
JUDGED = replace(RECORDED, captures=Captures.JUDGED)
SIGNED = replace(JUDGED, stage=Stage.DECIDE, is_signed=True, may_order=True)
ORDERED = replace(SIGNED, stage=Stage.WORK, may_order=False, order=Order.OPEN)
ACCEPTED = replace(ORDERED, order=Order.ACCEPTED, holder=Holder.OTHER)
DIAGNOSED = replace(ORDERED, order=Order.NONE, orders_done=True)
AGREED = replace(DIAGNOSED, stage=Stage.VERIFY, consent=Consent.YES)
PROVED = replace(AGREED, has_proof_capture=True)
DELIVERY = replace(PROVED, stage=Stage.HAND_BACK, proof=Proof.SETTLED)

CASES = [
    ("a job without a complaint", FRESH, Step.COMPLAINT),
    ("taken in", TAKEN_IN, Step.LISTEN),
    ("listened to", LISTENED, Step.UPLOAD),
    ("cranked by a drive motor", replace(LISTENED, method_applies=False), Step.DECIDE),
    ("captured before anybody listened", replace(RECORDED, has_triage=False), Step.SET_UP),
    ("captured", RECORDED, Step.SET_UP),
    ("being analysed", replace(RECORDED, captures=Captures.ANALYSING), Step.ANALYSING),
    ("not judged", replace(RECORDED, captures=Captures.NOT_JUDGED), Step.LOOK_AGAIN),
    ("judged", JUDGED, Step.SIGN),
    ("signed", SIGNED, Step.MAKE_ORDER),
    ("its order withdrawn", replace(SIGNED, may_order=False), Step.SIGN_AGAIN),
    ("ordered", ORDERED, Step.ACCEPT),
    ("accepted", ACCEPTED, Step.RECORD),
    ("another verdict since", replace(ACCEPTED, is_superseded=True), Step.REPLACE_ORDER),
    ("stopped", replace(ACCEPTED, asked=Asked.STOP), Step.CALL_BACK),
    (
        "stopped, and another verdict since",
        replace(ACCEPTED, asked=Asked.STOP, is_superseded=True),
        Step.CALL_BACK,
    ),
    ("diagnosed", DIAGNOSED, Step.CALL),
    ("diagnosed and signed anew", replace(DIAGNOSED, may_order=True), Step.CALL),
    ("a repair agreed, its verdict signed", replace(AGREED, may_order=True), Step.ORDER_REPAIR),
    ("a repair agreed, not signed", replace(AGREED, repair_to_sign=True), Step.SIGN_REPAIR),
    ("repaired", AGREED, Step.PROVE),
    ("cranked by its drive motor", replace(AGREED, method_applies=False), Step.VERIFY),
    ("nothing captured before it", replace(AGREED, captures=Captures.NONE), Step.VERIFY),
    ("repaired beyond compression", replace(AGREED, beyond_compression=True), Step.VERIFY),
    ("captured after the repair", PROVED, Step.VERIFY),
    ("no repair wanted", replace(DIAGNOSED, consent=Consent.NO), Step.WRITE_UP),
    (
        "no repair wanted, written up",
        replace(DIAGNOSED, consent=Consent.NO, is_written_up=True),
        Step.TO_DELIVERY,
    ),
    (
        "the repair did not hold",
        replace(PROVED, proof=Proof.STILL_THE_SAME),
        Step.SIGN_AGAIN,
    ),
    (
        "it did not hold and another verdict is signed",
        replace(PROVED, proof=Proof.STILL_THE_SAME, may_order=True),
        Step.MAKE_ORDER,
    ),
    ("in delivery, nothing written", DELIVERY, Step.WRITE_UP),
    ("in delivery", replace(DELIVERY, is_written_up=True), Step.DELIVER),
    ("closed", replace(DELIVERY, stage=Stage.CLOSED, is_written_up=True), Step.DONE),
    ("back to intake by hand", replace(DIAGNOSED, stage=Stage.INTAKE), Step.COMPLAINT),
    ("back to triage by hand", replace(PROVED, stage=Stage.TRIAGE), Step.LISTEN),
    ("back to the test by hand", replace(PROVED, stage=Stage.TEST), Step.UPLOAD),
]


@pytest.mark.parametrize(("facts", "step"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_each_state_of_a_job_has_one_next_step(facts: StepFacts, step: Step) -> None:
    for role in Role:
        assert next_step(facts, role).step is step


def test_every_step_is_reached_by_a_case() -> None:
    # A question is answered by some and passed over by the others.
    # What was used beyond what is agreed is asked for by those who speak with the customer.
    assert {case[2] for case in CASES} == set(Step) - {Step.ANSWER, Step.NEW_CONSENT}


def test_a_question_is_answered_by_those_who_order_and_the_others_go_on() -> None:
    asked = replace(ACCEPTED, asked=Asked.QUESTION, holder=Holder.VIEWER)
    steps = {role: next_step(asked, role) for role in Role}
    assert steps[Role.DIAGNOSTICIAN] == NextStep(Step.ANSWER, is_mine=True)
    assert steps[Role.MECHANIC] == NextStep(Step.RECORD, is_mine=True)
    assert steps[Role.WRITER] == NextStep(Step.RECORD, is_mine=False)


PASSED = replace(ACCEPTED, is_passed=True)


@pytest.mark.parametrize(
    ("facts", "role", "step"),
    [
        (PASSED, Role.WRITER, Step.NEW_CONSENT),
        (PASSED, Role.DIAGNOSTICIAN, Step.NEW_CONSENT),
        (PASSED, Role.MECHANIC, Step.RECORD),
        (replace(PASSED, asked=Asked.STOP), Role.WRITER, Step.NEW_CONSENT),
        (replace(PASSED, asked=Asked.STOP), Role.DIAGNOSTICIAN, Step.CALL_BACK),
        (replace(DIAGNOSED, is_passed=True), Role.WRITER, Step.NEW_CONSENT),
        (replace(DELIVERY, is_passed=True, is_written_up=True), Role.WRITER, Step.DELIVER),
    ],
)
def test_more_than_agreed_is_asked_for_first(facts: StepFacts, role: Role, step: Step) -> None:
    assert next_step(facts, role).step is step


D, M, W, O = Role.DIAGNOSTICIAN, Role.MECHANIC, Role.WRITER, Role.OWNER  # noqa: E741


@pytest.mark.parametrize(
    ("facts", "whose"),
    [
        (FRESH, {D, W, O}),
        (TAKEN_IN, {D, O}),
        (LISTENED, {D, O}),
        (JUDGED, {D, O}),
        (SIGNED, {D, O}),
        (ORDERED, {M}),
        (replace(ORDERED, holder=Holder.VIEWER), {D, M, O}),
        (replace(ORDERED, holder=Holder.OTHER), set()),
        (ACCEPTED, set()),
        (replace(ACCEPTED, holder=Holder.VIEWER), {D, M, O}),
        (replace(ACCEPTED, asked=Asked.STOP), {D, O}),
        (DIAGNOSED, {D, W, O}),
        (AGREED, {D, O}),
        (replace(DIAGNOSED, consent=Consent.NO, is_written_up=True), {D, W, O}),
        (replace(DELIVERY, is_written_up=True), {D, W, O}),
        (replace(DELIVERY, stage=Stage.CLOSED), set()),
        (replace(RECORDED, captures=Captures.ANALYSING), set()),
    ],
)
def test_a_step_is_offered_to_those_who_take_it(facts: StepFacts, whose: set[Role]) -> None:
    assert {role for role in Role if next_step(facts, role).is_mine} == whose
