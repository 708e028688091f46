"""Every combination of what is on record, and every order of steps, against the stage."""

from collections.abc import Callable
from itertools import product
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction

from jobs.core.stages import ORDER, Stage
from jobs.models import Judgement, Visit, WorkOrder
from jobs.selectors.visit_facts import visit_facts
from jobs.services.captures import visit_captures_add
from jobs.services.completion import work_order_complete
from jobs.services.consent import SaidOnRepair, consent_add
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from jobs.services.outcome import outcome_change, outcome_of
from jobs.services.visits import visit_move
from jobs.services.work import work_order_create, work_order_withdraw
from shopdiag.people.models import Member
from tests.traces.conftest import csv_bytes, upload_of

Step = Callable[[Visit, Member], object]


def _sign(visit: Visit, by: Member) -> object:
    return judgement_sign(
        visit=visit, member=by, kind="without", mechanical="yes", cylinders=[3], reason="Gauge."
    )


def _order(visit: Visit, by: Member) -> WorkOrder:
    judgement = Judgement.objects.filter(visit=visit).first()
    if judgement is None:
        raise ValidationError("Nothing is signed.")
    return work_order_create(judgement=judgement, member=by)


def _open_order(visit: Visit) -> WorkOrder:
    order = visit.work_orders.filter(state__in=WorkOrder.OPEN_STATES).first()
    if order is None:
        raise ValidationError("No order is out.")
    return order


def _record(visit: Visit, by: Member) -> object:
    found = NewFinding(3, "gauge_dry", "bad", 620, confirmed=True)
    return finding_add(order=_open_order(visit), member=by, found=found)


def _complete(visit: Visit, by: Member) -> object:
    _record(visit, by)
    return work_order_complete(
        order=_open_order(visit), member=by, summary="Valve.", left_out="Clear."
    )


def _withdraw(visit: Visit, by: Member) -> object:
    return work_order_withdraw(order=_open_order(visit), member=by, reason="Wrong car.")


def _agree(visit: Visit, by: Member) -> object:
    return consent_add(visit=visit, member=by, said=SaidOnRepair(True, "Casey", "phone"))


def _decline(visit: Visit, by: Member) -> object:
    return consent_add(visit=visit, member=by, said=SaidOnRepair(False, "Casey", "phone"))


def _prove(visit: Visit, by: Member) -> object:
    (outcome,) = visit_captures_add(
        visit=visit,
        member=by,
        uploads=[upload_of(csv_bytes(seconds=0.1, seed=visit.captures_so_far + 1))],  # type: ignore[attr-defined]
        purpose="verification",
    )
    return outcome


def _verified(kind: str) -> Step:
    def step(visit: Visit, by: Member) -> object:
        outcome = outcome_of(visit=visit)
        outcome.verified, outcome.verified_how = kind, "Road test."
        return outcome_change(
            outcome=outcome,
            expected_version=outcome.version,
            member=by,
            fields=["verified", "verified_how"],
        )

    return step


def _take(visit: Visit, by: Member, *steps: Step) -> str:
    visit.captures_so_far = 0  # type: ignore[attr-defined]
    for step in steps:
        step(visit, by)
    visit.refresh_from_db()
    return visit.stage


ORDERS: dict[str, tuple[Step, ...]] = {
    "no order": (),
    "out": (_order,),
    "out, work recorded": (_order, _record),
    "done": (_order, _complete),
    "withdrawn": (_order, _withdraw),
    "withdrawn after work": (_order, _record, _withdraw),
}
CONSENTS: dict[str, tuple[Step, ...]] = {"": (), "yes": (_agree,), "no": (_decline,)}
PROOFS: dict[str, tuple[Step, ...]] = {
    "": (),
    "capture": (_prove,),
    "holds": (_verified("yes"),),
    "still the same": (_verified("no"),),
    "not repaired": (_verified("declined"),),
}


def _expected(order: str, consent: str, proof: str) -> Stage:
    """Say it once more, as a person would."""
    if order.startswith("out"):
        return Stage.WORK
    if proof in {"holds", "not repaired"}:
        return Stage.HAND_BACK
    if consent == "yes" or proof == "capture":
        return Stage.VERIFY
    return Stage.WORK if order == "done" else Stage.DECIDE


@pytest.mark.parametrize(("order", "consent", "proof"), list(product(ORDERS, CONSENTS, PROOFS)))
def test_with_a_signed_verdict(triaged, by, order, consent, proof):
    steps = (_sign, *ORDERS[order], *CONSENTS[consent])
    if order.startswith("out") and proof == "holds":
        # what somebody still works on is no repair that holds
        with pytest.raises(ValidationError) as refused:
            _take(triaged, by, *steps, *PROOFS[proof])
        assert set(refused.value.message_dict) == {"verified"}
        return
    assert _take(triaged, by, *steps, *PROOFS[proof]) == _expected(order, consent, proof)


@pytest.mark.parametrize("proof", PROOFS)
def test_without_a_verdict_nothing_is_decided(triaged, by, proof):
    assert ORDER.index(Stage(_take(triaged, by, *PROOFS[proof]))) < ORDER.index(Stage.WORK)
    with pytest.raises(ValidationError):
        _agree(triaged, by)


STEPS: dict[str, Step] = {
    "sign": _sign,
    "order": _order,
    "complete": _complete,
    "withdraw": _withdraw,
    "agree": _agree,
    "decline": _decline,
    "holds": _verified("yes"),
}


def _contradiction(visit: Visit) -> str:
    """Return in what stage and record contradict each other; "" where they do not."""
    stage, facts = visit.stage_enum, visit_facts(visit)
    at = ORDER.index(stage)
    if facts.open_work_orders and stage is not Stage.WORK:
        return "an order is out"
    if stage is Stage.WORK and not facts.work_orders:
        return "no order was made"
    if facts.has_judgement and at < ORDER.index(Stage.DECIDE):
        return "a verdict is signed"
    if not facts.has_judgement and at > ORDER.index(Stage.DECIDE):
        return "no verdict is signed"
    return ""


def test_no_order_of_steps_ends_in_a_contradiction(triaged, by):
    """Walk every sequence of up to four steps; what is refused changes nothing."""
    found: dict[str, str] = {}
    walked: set[tuple[str, ...]] = set()

    def walk(taken: tuple[str, ...]) -> None:
        for name, step in STEPS.items():
            with transaction.atomic():
                visit: Any = Visit.objects.get(pk=triaged.pk)
                try:
                    with transaction.atomic():
                        step(visit, by)
                except ValidationError:
                    continue
                visit = Visit.objects.get(pk=triaged.pk)
                path = (*taken, name)
                walked.add(path)
                if wrong := _contradiction(visit):
                    found[" > ".join(path)] = f"{visit.stage}: {wrong}"
                if len(path) < 4:
                    walk(path)
                transaction.set_rollback(True)

    walk(())
    assert len(walked) > 200
    assert found == {}


def test_a_job_is_not_closed_with_an_order_out(triaged, by):
    """Closing would leave the mechanic with an order that takes no finding."""
    _take(triaged, by, _sign, _verified("declined"))
    outcome = outcome_of(visit=triaged)
    outcome.cause, outcome.correction = "Valve.", "None wanted."
    outcome_change(
        outcome=outcome, expected_version=outcome.version, member=by, fields=["cause", "correction"]
    )
    _order(triaged, by)
    Visit.objects.filter(pk=triaged.pk).update(stage=Stage.HAND_BACK)
    with pytest.raises(ValidationError):
        visit_move(visit=triaged, to=Stage.CLOSED, member=by)
