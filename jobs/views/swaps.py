"""Recording a swap test on a work order."""

from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from jobs.forms.swap import SwapForm
from jobs.services.swaps import swap_add
from jobs.views.closed import on_open_job
from jobs.views.rows_by_address import order_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import post_form


@requires(Action.DO_WORK)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def swap_new(request: MemberRequest, order_id: int) -> HttpResponse:
    """Record which part moved where, and whether the misfire followed."""
    order = order_seen(request.member, order_id)
    form = SwapForm(request.POST or None, order=order)
    return post_form(
        request,
        form=form,
        save=lambda: swap_add(
            order=order,
            member=request.member,
            swapped=form.swapped,
            form_token=form.cleaned_data["form_token"],
        ),
        page="jobs/work/swap.html",
        context={"order": order, "visit": order.visit},
        done=reverse("jobs:work-order", args=[order.pk]),
        saved=lambda swap: _("Recorded. %(reading)s") % {"reading": swap.reading},
    )
