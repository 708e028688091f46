"""The shop's clamps."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import post_form
from traces.forms.clamps import ClampForm
from traces.models import Clamp
from traces.selectors.clamps import clamps_of
from traces.services.clamps import clamp_add, clamp_retire


@requires(Action.CAPTURE)
@require_http_methods(["GET", "POST"])
def clamps(request: MemberRequest) -> HttpResponse:
    """Show the shop's clamps, and add one."""
    form = ClampForm(request.POST if request.method == "POST" else None)
    return post_form(
        request,
        form=form,
        save=lambda: clamp_add(member=request.member, **form.cleaned_data),
        page="traces/clamps.html",
        context={"clamps": clamps_of(request.member)},
        done=reverse("traces:clamps"),
        saved=lambda clamp: _("%(name)s is offered in every set-up now.") % {"name": clamp.name},
    )


@requires(Action.CAPTURE)
@require_POST
def retire(request: MemberRequest, clamp_pk: int) -> HttpResponse:
    """Offer a clamp no longer."""
    clamp_retire(clamp=get_object_or_404(Clamp.objects.seen_by(request.member), pk=clamp_pk))
    messages.success(request, _("The clamp is no longer offered; captures keep their scale."))
    return redirect("traces:clamps")
