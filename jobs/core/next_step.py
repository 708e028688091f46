"""The next step of a job by what stands on record, and whether it is this person's to take."""

from dataclasses import dataclass
from enum import StrEnum

from jobs.core.stages import ORDER, Stage
from shopdiag.people.core.roles import ALLOWED, Action, Role


class Step(StrEnum):
    """What brings a job on."""

    COMPLAINT = "complaint"
    LISTEN = "listen"
    UPLOAD = "upload"
    SET_UP = "set_up"
    ANALYSING = "analysing"
    LOOK_AGAIN = "look_again"
    SIGN = "sign"
    SIGN_AGAIN = "sign_again"
    DECIDE = "decide"
    MAKE_ORDER = "make_order"
    REPLACE_ORDER = "replace_order"
    CALL_BACK = "call_back"
    ANSWER = "answer"
    ACCEPT = "accept"
    RECORD = "record"
    CALL = "call"
    NEW_CONSENT = "new_consent"
    ORDER_REPAIR = "order_repair"
    SIGN_REPAIR = "sign_repair"
    PROVE = "prove"
    VERIFY = "verify"
    WRITE_UP = "write_up"
    TO_DELIVERY = "to_delivery"
    DELIVER = "deliver"
    DONE = "done"


class Captures(StrEnum):
    """How far the captures for the diagnosis are: the furthest of them counts."""

    NONE = "none"
    TO_SET_UP = "to_set_up"
    ANALYSING = "analysing"
    NOT_JUDGED = "not_judged"
    JUDGED = "judged"


class Order(StrEnum):
    """The work order that is out."""

    NONE = "none"
    OPEN = "open"
    ACCEPTED = "accepted"


class Holder(StrEnum):
    """Whose the work order that is out is."""

    NOBODY = "nobody"
    VIEWER = "viewer"
    OTHER = "other"


class Asked(StrEnum):
    """What was asked on the order that is out and nobody answered."""

    NOTHING = "nothing"
    QUESTION = "question"
    STOP = "stop"


class Consent(StrEnum):
    """What the customer said to the repair that the verdict names."""

    NOT_ASKED = "not_asked"
    YES = "yes"
    NO = "no"


class Proof(StrEnum):
    """What was written of the repair."""

    NONE = "none"
    SETTLED = "settled"
    STILL_THE_SAME = "still_the_same"


@dataclass(frozen=True, slots=True)
class StepFacts:
    """What the next step hangs on.

    Parameters
    ----------
    stage
        Where the job stands; a person may have moved it back by hand.
    captures, has_proof_capture
        Those for the diagnosis; whether one was made after the repair.
    method_applies
        Whether the cranking test applies to this vehicle.
    is_signed, beyond_compression, may_order
        Whether a verdict stands, whether it found no compression fault, and whether an order can
        be made from it.
    order, holder, is_superseded, asked, orders_done
        The order that is out, whose it is, whether a later verdict says otherwise, what is asked
        on it; whether one was completed.
    consent, repair_to_sign
        The customer's answer; whether the agreed repair needs a verdict before it is ordered.
    proof, is_written_up
        Whether the repair held; whether cause and correction are written.
    is_passed
        Whether more was used than the customer agreed to.
    """

    stage: Stage
    has_complaint: bool = True
    has_triage: bool = True
    captures: Captures = Captures.NONE
    has_proof_capture: bool = False
    method_applies: bool = True
    is_signed: bool = False
    beyond_compression: bool = False
    may_order: bool = False
    order: Order = Order.NONE
    holder: Holder = Holder.NOBODY
    is_superseded: bool = False
    asked: Asked = Asked.NOTHING
    orders_done: bool = False
    consent: Consent = Consent.NOT_ASKED
    repair_to_sign: bool = False
    proof: Proof = Proof.NONE
    is_written_up: bool = False
    is_passed: bool = False


@dataclass(frozen=True, slots=True)
class NextStep:
    """The step, and whether it is the viewer's."""

    step: Step
    is_mine: bool


_TAKEN_BY: dict[Step, frozenset[Action]] = {
    Step.COMPLAINT: frozenset({Action.TAKE_IN}),
    Step.LISTEN: frozenset({Action.TRIAGE}),
    Step.UPLOAD: frozenset({Action.CAPTURE}),
    Step.SET_UP: frozenset({Action.CAPTURE}),
    Step.ANALYSING: frozenset(),
    Step.LOOK_AGAIN: frozenset({Action.CAPTURE}),
    Step.SIGN: frozenset({Action.JUDGE}),
    Step.SIGN_AGAIN: frozenset({Action.JUDGE}),
    Step.DECIDE: frozenset({Action.JUDGE}),
    Step.MAKE_ORDER: frozenset({Action.ORDER_WORK}),
    Step.REPLACE_ORDER: frozenset({Action.ORDER_WORK}),
    Step.CALL_BACK: frozenset({Action.ORDER_WORK}),
    Step.ANSWER: frozenset({Action.ORDER_WORK}),
    Step.ACCEPT: frozenset({Action.DO_WORK}),
    Step.RECORD: frozenset({Action.DO_WORK}),
    Step.CALL: frozenset({Action.TAKE_IN}),
    Step.NEW_CONSENT: frozenset({Action.TAKE_IN}),
    Step.ORDER_REPAIR: frozenset({Action.ORDER_WORK}),
    Step.SIGN_REPAIR: frozenset({Action.JUDGE}),
    Step.PROVE: frozenset({Action.CAPTURE}),
    Step.VERIFY: frozenset({Action.VERIFY}),
    Step.WRITE_UP: frozenset({Action.VERIFY}),
    Step.TO_DELIVERY: frozenset({Action.VERIFY, Action.HAND_BACK}),
    Step.DELIVER: frozenset({Action.HAND_BACK}),
    Step.DONE: frozenset(),
}
"""Any one of the actions will do."""


def next_step(facts: StepFacts, role: Role) -> NextStep:
    """Return the next step of a job, and whether it is of somebody in `role` who looks at it."""
    step = _step(facts)
    if step is Step.ANSWER and not _is_mine(step, facts, role):
        # Whoever asked goes on meanwhile.
        step = _of_the_order(facts)
    if _is_to_ask_for_more(step, facts, role):
        step = Step.NEW_CONSENT
    return NextStep(step, _is_mine(step, facts, role))


def _is_to_ask_for_more(step: Step, facts: StepFacts, role: Role) -> bool:
    """Return whether somebody in `role` first calls the customer about what was used beyond."""
    if not facts.is_passed or facts.stage in {Stage.HAND_BACK, Stage.CLOSED}:
        return False
    # somebody stands at the engine and waits for the call
    waits_at_the_engine = step is Step.CALL_BACK and _is_mine(step, facts, role)
    return bool(_TAKEN_BY[Step.NEW_CONSENT] & ALLOWED[role]) and not waits_at_the_engine


def _is_mine(step: Step, facts: StepFacts, role: Role) -> bool:
    if not _TAKEN_BY[step] & ALLOWED[role]:
        return False
    if step is Step.ACCEPT:
        return is_to_accept(facts.holder, role)
    return step is not Step.RECORD or facts.holder is Holder.VIEWER


def is_to_accept(holder: Holder, role: Role) -> bool:
    """Return whether an open order waits for somebody in `role`, whose it is by `holder`."""
    if holder is Holder.NOBODY:
        # Whoever ordered may do the work too, but mostly waits for a mechanic.
        return role is Role.MECHANIC
    return holder is Holder.VIEWER


def _step(facts: StepFacts) -> Step:
    if facts.stage is Stage.CLOSED:
        return Step.DONE
    if facts.order is not Order.NONE:
        return _with_an_order_out(facts)
    if not facts.is_signed:
        return _before_a_verdict(facts)
    if ORDER.index(facts.stage) < ORDER.index(Stage.DECIDE):
        return _moved_back(facts)
    if facts.stage is Stage.HAND_BACK:
        return Step.DELIVER if facts.is_written_up else Step.WRITE_UP
    return _after_a_verdict(facts)


def _with_an_order_out(facts: StepFacts) -> Step:
    # Somebody stands at the engine and waits.
    if facts.asked is Asked.STOP:
        return Step.CALL_BACK
    if facts.is_superseded:
        return Step.REPLACE_ORDER
    return Step.ANSWER if facts.asked is Asked.QUESTION else _of_the_order(facts)


def _of_the_order(facts: StepFacts) -> Step:
    return Step.ACCEPT if facts.order is Order.OPEN else Step.RECORD


def _before_a_verdict(facts: StepFacts) -> Step:
    if not facts.has_complaint:
        return Step.COMPLAINT
    of_captures = {
        Captures.JUDGED: Step.SIGN,
        Captures.ANALYSING: Step.ANALYSING,
        Captures.TO_SET_UP: Step.SET_UP,
        Captures.NOT_JUDGED: Step.LOOK_AGAIN,
    }
    if facts.captures in of_captures:
        return of_captures[facts.captures]
    if not facts.has_triage:
        return Step.LISTEN
    return Step.UPLOAD if facts.method_applies else Step.DECIDE


def _moved_back(facts: StepFacts) -> Step:
    """Return what a job was moved back for by hand: a verdict carries it on by itself."""
    if facts.stage is Stage.INTAKE:
        return Step.COMPLAINT
    if facts.stage is Stage.TRIAGE:
        return Step.LISTEN
    return Step.UPLOAD if facts.method_applies else Step.DECIDE


def _after_a_verdict(facts: StepFacts) -> Step:
    if facts.proof is Proof.SETTLED or facts.consent is Consent.NO:
        return Step.TO_DELIVERY if facts.is_written_up else Step.WRITE_UP
    if facts.may_order and not facts.orders_done:
        return Step.MAKE_ORDER
    if facts.proof is Proof.STILL_THE_SAME:
        return Step.MAKE_ORDER if facts.may_order else Step.SIGN_AGAIN
    if facts.has_proof_capture:
        return Step.VERIFY
    if not facts.orders_done:
        return Step.SIGN_AGAIN
    return _after_the_diagnosis(facts)


def _after_the_diagnosis(facts: StepFacts) -> Step:
    # The customer first, also where another order could be made: no repair that nobody agreed to.
    if facts.consent is Consent.NOT_ASKED:
        return Step.CALL
    if facts.may_order:
        return Step.ORDER_REPAIR
    if facts.repair_to_sign:
        return Step.SIGN_REPAIR
    # a capture proves a repair beside one of before only
    is_comparable = facts.captures is Captures.JUDGED and facts.method_applies
    return Step.PROVE if is_comparable and not facts.beyond_compression else Step.VERIFY
