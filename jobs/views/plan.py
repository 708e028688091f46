"""The guided plan of a job: what may be behind it, and which tests come next."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from jobs.selectors.plan import may_order_from, plan_of
from jobs.views.rows_by_address import visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action


@requires(Action.SEE_WORK)
@require_safe
def plan(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Show the plan as it follows from all that is on record now."""
    visit = visit_seen(request.member, visit_id)
    found = plan_of(visit)
    return render(
        request,
        "jobs/plan/plan.html",
        {
            "visit": visit,
            "plan": found.plan,
            "found": found,
            "asks": found.asks if visit.closed_at is None else (),
            "may_order_now": may_order_from(visit, found.judgement),
        },
    )
