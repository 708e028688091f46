"""Noting what the customer said about the repair."""

from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from jobs.forms.consent import ConsentForm
from jobs.selectors.captures import latest_judgement
from jobs.selectors.found_elsewhere import found_elsewhere
from jobs.selectors.misfires import beside_judgement
from jobs.services.consent import consent_add
from jobs.views.closed import on_open_job
from jobs.views.rows_by_address import visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import post_form


@requires(Action.TAKE_IN)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def consent_new(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Note the customer's yes or no to the repair; what speaks against the verdict stands above."""
    visit = visit_seen(request.member, visit_id)
    verdict = latest_judgement(visit)
    form = ConsentForm(request.POST or None, initial={"said_by": visit.vehicle.customer.name[:120]})
    return post_form(
        request,
        form=form,
        save=lambda: consent_add(
            visit=visit,
            member=request.member,
            said=form.said,
            form_token=form.cleaned_data["form_token"],
        ),
        page="jobs/work/consent.html",
        context={
            "visit": visit,
            "beside": beside_judgement(verdict),
            "found_elsewhere": found_elsewhere(verdict),
        },
        done=reverse("jobs:visit", args=[visit.pk]) + "#work",
        saved=_("The customer's answer is noted."),
    )
