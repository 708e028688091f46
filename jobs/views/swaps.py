"""Recording a swap test on a work order."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from jobs.forms.swap import SwapForm
from jobs.services.swaps import swap_add
from jobs.views.seen import order_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action


@requires(Action.DO_WORK)
@require_http_methods(["GET", "HEAD", "POST"])
def swap_new(request: MemberRequest, order_id: int) -> HttpResponse:
    """Record which part moved where, and whether the misfire followed."""
    order = order_seen(request.member, order_id)
    form = SwapForm(request.POST or None, order=order)
    if request.method == "POST" and form.is_valid():
        try:
            swap = swap_add(
                order=order,
                member=request.member,
                swapped=form.swapped,
                form_token=form.cleaned_data["form_token"],
            )
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, f"Recorded. {swap.reading}")
            return redirect("jobs:work-order", order.pk)
    return render(
        request,
        "jobs/work/swap.html",
        {"order": order, "visit": order.visit, "form": form},
        status=422 if request.method == "POST" else 200,
    )
