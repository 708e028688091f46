"""Noting what the customer said about the repair."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from jobs.forms.consent import ConsentForm
from jobs.services.consent import consent_add
from jobs.views.seen import visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action


@requires(Action.TAKE_IN)
@require_http_methods(["GET", "HEAD", "POST"])
def consent_new(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Note the customer's yes or no to the repair."""
    visit = visit_seen(request.member, visit_id)
    form = ConsentForm(request.POST or None, initial={"said_by": visit.vehicle.customer.name[:120]})
    if request.method == "POST" and form.is_valid():
        try:
            consent_add(
                visit=visit,
                member=request.member,
                said=form.said,
                form_token=form.cleaned_data["form_token"],
            )
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, "The customer's answer is noted.")
            return redirect(reverse("jobs:visit", args=[visit.pk]) + "#work")
    return render(
        request,
        "jobs/work/consent.html",
        {"visit": visit, "form": form},
        status=422 if request.method == "POST" else 200,
    )
