"""What stands on a visit that the member may see."""

from jobs.core.stages import VisitFacts
from jobs.models import Complaint, Outcome, Triage, Visit, WorkOrder
from jobs.selectors.consents import consent_standing, covers_verdict, repair_consent_of


def visit_facts(visit: Visit) -> VisitFacts:
    """Return what the stage rules ask about a visit."""
    orders = list(visit.work_orders.select_related("judgement", "last_answer__judgement"))
    states = [order.state for order in orders]
    out = next((order for order in orders if order.state in WorkOrder.OPEN_STATES), None)
    outcome = Outcome.objects.filter(visit=visit).first()
    triage = Triage.objects.filter(visit=visit).first()
    consent = consent_standing(visit)
    return VisitFacts(
        has_complaint=Complaint.objects.filter(visit=visit).exclude(words="").exists(),
        has_triage=bool(triage and triage.cranks),
        has_judged_run=visit.judgements.exclude(run=None).exists(),
        has_judgement=visit.judgements.exists(),
        open_work_orders=sum(s in WorkOrder.OPEN_STATES for s in states),
        work_orders=sum(s != WorkOrder.State.WITHDRAWN for s in states),
        has_cause=bool(outcome and outcome.cause.strip()),
        has_correction=bool(outcome and outcome.correction.strip()),
        is_verified=bool(outcome and outcome.verified),
        has_consent=bool(consent and consent.agreed and covers_verdict(consent)),
        is_repair_out=out is not None and repair_consent_of(out) is not None,
    )
