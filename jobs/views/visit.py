"""The job card, and the records that intake wrote on it."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.core.stages import LABELS, Stage
from jobs.forms.intake import ComplaintForm, CustomerForm, VehicleForm, VisitForm
from jobs.forms.notes import CloseForm, NoteForm, PhotoForm
from jobs.models import Complaint, Visit
from jobs.selectors.job_card import may_move_to
from jobs.selectors.job_page import job_page
from jobs.services.intake import (
    complaint_change,
    customer_change,
    vehicle_change,
    visit_change,
)
from jobs.services.visits import visit_move
from jobs.views.closed import on_open_job
from jobs.views.rows_by_address import visit_seen
from shopdiag.people.access import MemberRequest, forbidden, requires
from shopdiag.people.asking_back import CONFIRMED, is_confirmed
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import edit_versioned
from traces.views.pages import back_address

STAGES = [(stage.value, gettext_lazy(LABELS[stage])) for stage in Stage]


@requires(Action.SEE_WORK)
@require_safe
def visit(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Show the job card."""
    return _card(request, visit_seen(request.member, visit_id))


def _card(
    request: MemberRequest, seen: Visit, *, refused: dict[str, str] | None = None
) -> HttpResponse:
    """Render the job card; `refused` is a move that was not made, as it was typed."""
    page = job_page(request.member, seen)
    return render(
        request,
        "jobs/visit/card.html",
        {
            "visit": seen,
            "page": page,
            "card": page.card,
            "work": page.work,
            "numbering": page.numbering,
            "cautions": page.cautions,
            "stages": STAGES,
            "note_form": NoteForm(),
            "photo_form": PhotoForm(auto_id="id_photo_%s"),
            "refused": refused,
        },
        status=422 if refused else 200,
    )


@requires(Action.TAKE_IN, Action.TRIAGE, Action.ORDER_WORK, Action.VERIFY, Action.HAND_BACK)
@require_POST
def move(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Move a visit to another stage, or say what has to be done first."""
    seen = visit_seen(request.member, visit_id)
    try:
        to = Stage(request.POST.get("to", ""))
    except ValueError:
        raise Http404(_("There is no such stage.")) from None
    if not may_move_to(request.member, to):
        return forbidden(request)
    reason = request.POST.get("reason", "")
    asking = CloseForm(request.POST)
    asking.full_clean()
    try:
        visit_move(
            visit=seen,
            to=to,
            member=request.member,
            reason=reason,
            confirmed=is_confirmed(asking),
        )
    except ValidationError as error:
        if CONFIRMED in getattr(error, "error_dict", {}):
            asking.add_error(None, error)
            context = {"visit": seen, "form": asking}
            return render(request, "jobs/visit/close.html", context, status=422)
        messages.error(request, " ".join(error.messages))
        if reason.strip():
            return _card(request, seen, refused={"to": to.value, "reason": reason})
        return redirect("jobs:visit", seen.pk)
    return redirect(back_address(request) or reverse("jobs:visit", args=[seen.pk]))


@requires(Action.TAKE_IN)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def visit_edit(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Edit the visit's own fields."""
    seen = visit_seen(request.member, visit_id)
    return edit_versioned(
        request,
        form=VisitForm(
            request.POST or None, instance=seen, member=request.member, vehicle=seen.vehicle
        ),
        save=lambda form: visit_change(
            visit=seen,
            expected_version=form.expected_version,
            member=request.member,
            confirmed=is_confirmed(form),
        ),
        template="jobs/visit/edit.html",
        context={"visit": seen, "title": _("Odometer, comeback")},
        done=reverse("jobs:visit", args=[seen.pk]),
    )


@requires(Action.TAKE_IN)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def complaint_edit(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Edit the complaint and what was authorised."""
    seen = visit_seen(request.member, visit_id)
    complaint = get_object_or_404(Complaint, visit=seen)
    return edit_versioned(
        request,
        form=ComplaintForm(request.POST or None, instance=complaint),
        save=lambda form: complaint_change(
            complaint=complaint,
            expected_version=form.expected_version,
            member=request.member,
            confirmed=is_confirmed(form),
        ),
        template="jobs/visit/edit.html",
        context={"visit": seen, "title": _("Change the complaint")},
        done=reverse("jobs:visit", args=[seen.pk]),
    )


@requires(Action.TAKE_IN)
@require_http_methods(["GET", "HEAD", "POST"])
def customer_edit(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Edit the customer of the visit's vehicle."""
    seen = visit_seen(request.member, visit_id)
    customer = seen.vehicle.customer
    return edit_versioned(
        request,
        form=CustomerForm(request.POST or None, instance=customer),
        save=lambda form: customer_change(
            customer=customer, expected_version=form.expected_version, member=request.member
        ),
        template="jobs/visit/edit.html",
        context={"visit": seen, "title": _("Change the customer")},
        done=reverse("jobs:visit", args=[seen.pk]),
    )


@requires(Action.TAKE_IN)
@require_http_methods(["GET", "HEAD", "POST"])
def vehicle_edit(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Edit the vehicle, its engine among it."""
    seen = visit_seen(request.member, visit_id)
    vehicle = seen.vehicle
    return edit_versioned(
        request,
        form=VehicleForm(request.POST or None, instance=vehicle, member=request.member),
        save=lambda form: vehicle_change(
            vehicle=vehicle, expected_version=form.expected_version, member=request.member
        ),
        template="jobs/visit/edit.html",
        context={"visit": seen, "title": _("Change the vehicle")},
        done=reverse("jobs:visit", args=[seen.pk]),
    )
