"""Time and parts used on a job."""

from uuid import uuid4

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from jobs.forms.used import UsedForm
from jobs.models import UsedLine, Visit, WorkOrder
from jobs.selectors.used import may_take_back, used_on
from jobs.services.used import WasUsed, used_add, used_take_back
from jobs.views.closed import on_open_job
from jobs.views.rows_by_address import visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.core.roles import Action
from shopdiag.people.core.row_ids import is_row_id
from shopdiag.people.editing import post_form


@requires(Action.DO_WORK, Action.ORDER_WORK)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def used_new(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Book time or parts, or take a line back; shows all of them."""
    visit = visit_seen(request.member, visit_id)
    order = _order(visit, request.POST.get("work_order") or request.GET.get("order", ""))
    back = request.POST.get("takes_back")
    # Taking back types nothing into the form, which stays on the page under a refusal.
    typed = request.POST if back is None else {"form_token": uuid4()}
    form = UsedForm(
        typed if request.method == "POST" else None,
        currency=visit.shop.currency,
        order_id=order.pk if order else None,
    )
    if back is not None:
        lines = UsedLine.objects.seen_by(request.member).filter(visit=visit)
        line = get_object_or_404(lines, pk=back if is_row_id(back) else 0)

    def save() -> UsedLine:
        if back is not None:
            return used_take_back(line=line, member=request.member)
        used: WasUsed = form.used
        return used_add(
            visit=visit,
            member=request.member,
            used=WasUsed(used.minutes, used.amount, used.what, is_confirmed(form)),
            order=order,
            form_token=form.cleaned_data["form_token"],
        )

    here = reverse("jobs:used-add", args=[visit.pk])
    return post_form(
        request,
        form=form,
        save=save,
        page="jobs/visit/used.html",
        context=_context(request, visit, order),
        done=here
        if back is not None
        else reverse("jobs:work-order", args=[order.pk])
        if order
        else reverse("jobs:visit", args=[visit.pk]),
        saved=_("Taken back.") if back is not None else _("Booked."),
    )


def _order(visit: Visit, asked: str) -> WorkOrder | None:
    if not asked:
        return None
    return get_object_or_404(visit.work_orders.all(), pk=asked if is_row_id(asked) else 0)


def _context(request: MemberRequest, visit: Visit, order: WorkOrder | None) -> dict[str, object]:
    used = used_on(visit)
    return {
        "visit": visit,
        "order": order,
        "used": used,
        "lines": [(line, may_take_back(line, request.member)) for line in used.lines],
    }
