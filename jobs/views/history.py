"""Finding jobs, and a vehicle's history on one page."""

from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from jobs.core.search import Match, query_read
from jobs.models import Vehicle, Visit
from jobs.selectors.found_jobs import visits_found
from jobs.selectors.history import vehicle_history, vehicle_runs
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action

_PER_PAGE = 25


@requires(Action.SEE_WORK)
@require_safe
def find(request: MemberRequest) -> HttpResponse:
    """Find jobs by number, plate, VIN, name, phone, code or words, as far as the role sees them."""
    query = query_read(request.GET.get("q", ""))
    found = visits_found(request.member, query)
    if "go" in request.GET and (only := _surely_meant(found)):
        return redirect("jobs:visit", only.pk)
    page = Paginator(found, _PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "query": query,
        "page": page,
        "is_new": query.is_empty and not Visit.objects.seen_by(request.member).exists(),
    }
    return render(request, "jobs/find.html", context)


def _surely_meant(found: QuerySet[Visit]) -> Visit | None:
    """Return the job that alone fits, or fits by number or plate more surely than all others."""
    best = list(found[:2])
    if not best:
        return None
    ranks = [visit.rank for visit in best]  # type: ignore[attr-defined]
    is_sure = len(best) == 1 or (ranks[0] <= Match.PLATE and ranks[0] < ranks[1])
    return best[0] if is_sure else None


@requires(Action.SEARCH)
@require_safe
def vehicle(request: MemberRequest, vehicle_id: int) -> HttpResponse:
    """Show a vehicle's visits with complaint, cause and correction, ready to print."""
    seen = get_object_or_404(Vehicle.objects.seen_by(request.member).with_customer(), pk=vehicle_id)
    return render(
        request,
        "jobs/vehicle.html",
        {
            "vehicle": seen,
            "visits": list(vehicle_history(request.member, seen)),
            "runs": vehicle_runs(request.member, seen),
        },
    )
