"""A job's next step for whoever looks at it: the button, where it leads, and who has the job."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from jobs.core.next_step import (
    Asked,
    Captures,
    Consent,
    Order,
    Proof,
    Step,
    StepFacts,
    next_step,
)
from jobs.core.next_step_words import WORDS
from jobs.core.stages import ORDER, Stage
from jobs.core.used import Budget
from jobs.core.waiting import PARTY_WORDS, party_of
from jobs.models import Visit, WorkOrder
from jobs.selectors import open_jobs
from jobs.selectors.captures import CaptureRow
from jobs.selectors.job_card import VisitCard, visit_card
from jobs.selectors.work import VisitWork, visit_work
from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member


@dataclass(frozen=True, slots=True)
class NextStepView:
    """The next step as the job's page shows it.

    Parameters
    ----------
    step, is_mine
        What it is, and whether it is the viewer's.
    label
        The button.
    words
        Why it is next; to others, what the job waits for.
    page, number, anchor
        Address name, its number and the place on that page; an empty name where nothing leads on.
    to
        The stage that the button moves the job to, where it is no page.
    holder
        Who has the job now, or for whom it waits.
    """

    step: Step
    is_mine: bool
    label: str
    words: str
    page: str
    number: int
    anchor: str = ""
    to: str = ""
    holder: str = ""
    leads_others: str = ""
    """The link for those whose step it is not; empty for none."""


_PAGES: dict[Step, tuple[str, str]] = {
    Step.COMPLAINT: ("jobs:complaint-edit", ""),
    Step.LISTEN: ("jobs:triage-edit", ""),
    Step.UPLOAD: ("jobs:visit", "#add-captures"),
    Step.SET_UP: ("jobs:capture", ""),
    Step.ANALYSING: ("jobs:capture", ""),
    Step.LOOK_AGAIN: ("jobs:capture", ""),
    Step.SIGN: ("jobs:decide", ""),
    Step.SIGN_AGAIN: ("jobs:decide", ""),
    Step.DECIDE: ("jobs:decide", ""),
    Step.MAKE_ORDER: ("jobs:work-order-new", ""),
    Step.REPLACE_ORDER: ("jobs:work-order", ""),
    Step.CALL_BACK: ("jobs:work-order", "#questions"),
    Step.ANSWER: ("jobs:work-order", "#questions"),
    Step.ACCEPT: ("jobs:work-order", ""),
    Step.RECORD: ("jobs:work-order", ""),
    Step.CALL: ("jobs:consent-add", ""),
    Step.NEW_CONSENT: ("jobs:consent-add", ""),
    Step.ORDER_REPAIR: ("jobs:work-order-new", ""),
    Step.SIGN_REPAIR: ("jobs:decide", ""),
    Step.PROVE: ("jobs:visit", "#add-proof"),
    Step.VERIFY: ("jobs:outcome-edit", ""),
    Step.WRITE_UP: ("jobs:outcome-edit", ""),
}
_MOVES: dict[Step, Stage] = {
    Step.TO_DELIVERY: Stage.HAND_BACK,
    Step.DELIVER: Stage.CLOSED,
}
OF_CAPTURES = frozenset({Step.SET_UP, Step.ANALYSING, Step.LOOK_AGAIN})
OF_ORDERS = frozenset({Step.REPLACE_ORDER, Step.CALL_BACK, Step.ANSWER, Step.ACCEPT, Step.RECORD})


def next_step_of(member: Member, visit: Visit, card: VisitCard, work: VisitWork) -> NextStepView:
    """Return the next step of a visit for a member who sees it, from what its page read."""
    facts = step_facts(member, visit, card, work)
    found = next_step(facts, Role(member.role))
    words = WORDS[found.step]
    page, anchor = _PAGES.get(found.step, ("", ""))
    number = visit.pk
    if found.step is Step.NEW_CONSENT and not any(b.is_repair for b in _passed(work)):
        # the complaint holds what was agreed for the diagnosis
        page = "jobs:complaint-edit"
    if found.step in OF_CAPTURES:
        row = _row_in(_counting(work.captures), facts.captures)
        number = row.tie.capture_id if row else visit.pk
    elif found.step in OF_ORDERS and work.open_order is not None:
        number = work.open_order.pk
    return NextStepView(
        step=found.step,
        is_mine=found.is_mine,
        label=_(words.label) if words.label else "",
        words=_(words.why if found.is_mine else words.waits),
        page=page,
        number=number,
        anchor=anchor,
        to=_MOVES[found.step].value if found.step in _MOVES else "",
        holder=_holder_words(work.open_order) or _waits_for(visit, facts, work),
        leads_others=_others_link(found.step),
    )


def following_after(member: Member, order: WorkOrder) -> NextStepView | None:
    """Return where a job goes on from a finished order; None where it is not the member's."""
    visit = order.visit
    if order.state != WorkOrder.State.DONE or visit.stage == Stage.CLOSED:
        return None
    found = next_step_of(member, visit, visit_card(member, visit), visit_work(member, visit))
    return found if found.is_mine and found.page else None


def _passed(work: VisitWork) -> tuple[Budget, ...]:
    return work.used.passed if work.used else ()


def _others_link(step: Step) -> str:
    if step in OF_CAPTURES:
        return _("Open the capture")
    return _("Open the work order") if step in OF_ORDERS else ""


def step_facts(member: Member, visit: Visit, card: VisitCard, work: VisitWork) -> StepFacts:
    """Return what the next step hangs on."""
    outcome, signed = work.outcome, work.judgement
    return StepFacts(
        stage=visit.stage_enum,
        has_complaint=bool(card.complaint and card.complaint.words),
        has_triage=bool(card.triage and card.triage.cranks),
        captures=captures_state(work.captures),
        has_proof_capture=any(
            row.tie.is_after_repair
            for row in _counting((*work.proofs, *work.idling, *work.pressures))
        ),
        method_applies=work.notice is None,
        is_signed=signed is not None,
        beyond_compression=signed is not None and signed.is_beyond_compression,
        may_order=work.may_order,
        order=Order(work.open_order.state) if work.open_order else Order.NONE,
        holder=open_jobs.holder_of(work.open_order, member),
        is_superseded=bool(work.open_order and work.open_order.superseded),
        asked=_asked(work),
        orders_done=any(o.state == WorkOrder.State.DONE for o in work.orders),
        consent=_consent(work),
        repair_to_sign=work.has_repair_to_order,
        proof=open_jobs.proof_state(outcome),
        is_written_up=bool(outcome and outcome.cause.strip() and outcome.correction.strip()),
        is_passed=bool(_passed(work)),
    )


def captures_state(rows: Sequence[CaptureRow]) -> Captures:
    """Return how far the captures are that count; the furthest of them."""
    return open_jobs.captures_state([state_of(row) for row in _counting(rows)])


def _counting(rows: Sequence[CaptureRow]) -> tuple[CaptureRow, ...]:
    return tuple(row for row in rows if not row.tie.is_aside)


def state_of(row: CaptureRow) -> Captures:
    """Return how far one capture is."""
    run = row.run
    return open_jobs.capture_state(
        row.tie.capture.reading.state,
        run.state if run else None,
        row.report.verdict if row.report else None,
    )


def _row_in(rows: Sequence[CaptureRow], state: Captures) -> CaptureRow | None:
    return next((row for row in rows if state_of(row) is state), None)


def _asked(work: VisitWork) -> Asked:
    if any(question.is_stop for question in work.questions):
        return Asked.STOP
    return Asked.QUESTION if work.questions else Asked.NOTHING


def _holder_words(order: WorkOrder | None) -> str:
    if order is None:
        return ""
    if order.accepted_by:
        return _("with %(name)s") % {"name": order.accepted_by.name}
    if order.assigned_to:
        return _("for %(name)s") % {"name": order.assigned_to.name}
    return ""


def _waits_for(visit: Visit, facts: StepFacts, work: VisitWork) -> str:
    """Return for whom a job waits that nobody has; a name where one is known."""
    # whom the owner sees, as the week tells it: every step is theirs too
    step = next_step(facts, Role.OWNER).step
    if step is Step.DONE:
        return ""
    party = _(PARTY_WORDS[party_of(step)])
    whose = open_jobs.whose_step(
        visit, step, out=work.open_order, verdict=work.judgement, facts=facts
    )
    who = f"{party}, {whose.name}" if whose else party
    return _("waits for: %(who)s") % {"who": who}


def _consent(work: VisitWork) -> Consent:
    said = work.consent
    if said is None:
        return Consent.NOT_ASKED
    if not said.agreed:
        return Consent.NO
    return Consent.NOT_ASKED if work.yes_falls_short else Consent.YES


def skipped_stages(visit: Visit, facts: StepFacts) -> frozenset[Stage]:
    """Return the stages behind the job's own of which nothing is on record."""
    done = {
        Stage.INTAKE: facts.has_complaint,
        Stage.TRIAGE: facts.has_triage,
        Stage.TEST: facts.captures is not Captures.NONE,
        Stage.DECIDE: facts.is_signed,
        Stage.WORK: facts.orders_done or facts.order is not Order.NONE,
        Stage.VERIFY: facts.proof is Proof.SETTLED,
    }
    behind = ORDER[: ORDER.index(visit.stage_enum)]
    return frozenset(stage for stage in behind if not done.get(stage, True))
