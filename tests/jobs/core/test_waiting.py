"""For whom a job waits."""

import pytest

from jobs.core.next_step import Asked, Consent, Holder, Order, Proof, StepFacts
from jobs.core.stages import Stage
from jobs.core.waiting import Party, waits_for

OUT = {"is_signed": True, "stage": Stage.WORK, "holder": Holder.OTHER}
FOUND = {"is_signed": True, "stage": Stage.WORK, "orders_done": True}


@pytest.mark.parametrize(
    ("facts", "party"),
    [
        ({"stage": Stage.INTAKE, "has_complaint": False}, Party.WRITER),
        ({"stage": Stage.TRIAGE}, Party.DIAGNOSTICIAN),
        (OUT | {"order": Order.OPEN}, Party.MECHANIC),
        (OUT | {"order": Order.ACCEPTED}, Party.MECHANIC),
        (OUT | {"order": Order.ACCEPTED, "asked": Asked.QUESTION}, Party.DIAGNOSTICIAN),
        (OUT | {"order": Order.ACCEPTED, "asked": Asked.STOP}, Party.DIAGNOSTICIAN),
        (OUT | {"order": Order.ACCEPTED, "is_superseded": True}, Party.DIAGNOSTICIAN),
        (FOUND, Party.CUSTOMER),
        (FOUND | {"consent": Consent.YES}, Party.DIAGNOSTICIAN),
        (FOUND | {"consent": Consent.YES, "is_passed": True}, Party.CUSTOMER),
        (FOUND | {"consent": Consent.NO}, Party.DIAGNOSTICIAN),
        (FOUND | {"consent": Consent.NO, "is_written_up": True}, Party.WRITER),
        (FOUND | {"proof": Proof.SETTLED, "is_written_up": True}, Party.WRITER),
        (FOUND | {"stage": Stage.HAND_BACK, "is_written_up": True}, Party.CUSTOMER),
        (FOUND | {"stage": Stage.HAND_BACK}, Party.DIAGNOSTICIAN),
    ],
)
def test_whose_move_it_is(facts, party):
    assert waits_for(StepFacts(**facts)) is party
