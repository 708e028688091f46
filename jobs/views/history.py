"""Finding jobs, and a vehicle's history on one page."""

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from jobs.core.search import query_read
from jobs.models import Vehicle
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
    page = Paginator(visits_found(request.member, query), _PER_PAGE).get_page(
        request.GET.get("page")
    )
    return render(request, "jobs/find.html", {"query": query, "page": page})


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
