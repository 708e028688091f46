"""What is done with a case that a colleague sent."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from traces.core.setup import SetupError
from traces.forms.setup import PressForm
from traces.services import case_run_add
from traces.views.found import capture_or_404
from traces.views.pages import back_address


@require_POST
@requires(Action.CAPTURE)
def as_sender(request: MemberRequest, pk: int) -> HttpResponse:
    """Have a case analysed under its sender's set-up."""
    capture = capture_or_404(request, pk)
    form = PressForm(request.POST)
    token = form.cleaned_data["form_token"] if form.is_valid() else None
    try:
        case_run_add(member=request.member, capture=capture, form_token=token)
    except SetupError as error:
        messages.error(request, str(error))
    return redirect(back_address(request) or reverse("traces:capture", args=[pk]))
