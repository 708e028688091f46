"""Confirming the cylinder numbering on the vehicle."""

from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from engines.models import Engine
from jobs.forms.numbering import NumberingForm
from jobs.models import NumberingCheck
from jobs.selectors.captures import engine_of, latest_judgement
from jobs.selectors.numbering import numbering_before, numbering_of
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
        has_banks=_has_banks(engine),
        initial=_offered(numbering_of(seen) or numbering_before(seen)),
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


def _has_banks(engine: Engine | None) -> bool:
    # what bank A is, only the drawing of a known engine says
    return engine is not None and len(engine.layout_kind.banks) > 1


def _offered(check: NumberingCheck | None) -> dict[str, Any]:
    """Return how the engine sits, as it was said before; what it was read from is asked anew."""
    if check is None:
        return {}
    return {"direction": check.direction, "bank_a_side": check.bank_a_side}
