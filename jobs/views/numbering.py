"""Confirming the cylinder numbering on the vehicle."""

from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from jobs.forms.numbering import NumberingForm
from jobs.models import NumberingCheck
from jobs.selectors.captures import engine_of, has_banks, latest_judgement
from jobs.selectors.numbering import mounting_offered
from jobs.services.numbering import SeenOnVehicle, numbering_confirm
from jobs.views.closed import on_open_job
from jobs.views.rows_by_address import visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import post_form
from traces.views.pages import back_address


@requires(Action.DO_WORK)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def confirm(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Confirm how this vehicle's cylinders are numbered, and how its engine sits."""
    seen = visit_seen(request.member, visit_id)
    judgement = latest_judgement(seen)
    engine = engine_of(seen, judgement.run if judgement else None)
    back = back_address(request) or reverse("jobs:visit", args=[seen.pk])
    form = NumberingForm(
        request.POST or None,
        has_banks=has_banks(engine),
        initial=mounting_offered(seen),
    )

    def save() -> NumberingCheck:
        data = dict(form.cleaned_data)
        token = data.pop("form_token")
        return numbering_confirm(
            visit=seen, member=request.member, seen=SeenOnVehicle(**data), form_token=token
        )

    return post_form(
        request,
        form=form,
        save=save,
        page="jobs/visit/numbering.html",
        context={"visit": seen, "engine": engine, "back": back},
        done=back,
        saved=_("The cylinder numbering is confirmed for this job."),
    )
