"""Angles of injector events and cam edges that the shop keeps with its engines."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from traces.models import EventAngle
from traces.selectors.event_angles import event_angles_kept
from traces.services import event_angle_learn, event_angle_retire
from traces.views.found import run_or_404
from traces.views.pages import back_address


@require_GET
@requires(Action.SEE_WORK)
def kept(request: MemberRequest) -> HttpResponse:
    """Show the angles kept with engines."""
    retired = request.GET.get("show") == "retired"
    context = {"entries": event_angles_kept(request.member, retired=retired), "retired": retired}
    return render(request, "traces/event_angles.html", context)


@require_POST
@requires(Action.CAPTURE)
def learn(request: MemberRequest, pk: int, run_pk: int) -> HttpResponse:
    """Keep the angle that a run measured with its engine."""
    run = run_or_404(request, pk, run_pk)
    try:
        event_angle_learn(member=request.member, run=run)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(
            request, _("The angle is kept with this engine; the next capture uses it and says so.")
        )
    return redirect(back_address(request) or reverse("traces:run", args=[pk, run_pk]))


@require_POST
@requires(Action.CAPTURE)
def retire(request: MemberRequest, entry_pk: int) -> HttpResponse:
    """Take an angle out of use."""
    entry = get_object_or_404(EventAngle.objects.seen_by(request.member), pk=entry_pk)
    event_angle_retire(member=request.member, entry=entry)
    messages.success(request, _("Later captures no longer use this angle."))
    return redirect("traces:event-angles")
