"""Taking a set-up over from another capture of the job."""

from uuid import uuid5

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from jobs.forms.evidence import SameSetupForm
from jobs.selectors.same_setup import same_for_others
from jobs.selectors.sent_together import batch_of
from jobs.views.rows_by_address import capture_tie_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from traces.core.setup import SetupError
from traces.services import run_like_add


@requires(Action.CAPTURE)
@require_POST
def same_setup(request: MemberRequest, capture_id: int) -> HttpResponse:
    """Analyse a capture with the set-up of another of its upload, and go on to the next."""
    tie = capture_tie_seen(request.member, capture_id)
    batch = batch_of(tie)
    form = SameSetupForm(request.POST)
    like = batch.setup_numbered(form.cleaned_data["like"]) if batch and form.is_valid() else None
    if batch is None or like is None:
        raise Http404(gettext("There is no such set-up to take over."))
    here = reverse("jobs:capture", args=[capture_id])
    try:
        run_like_add(
            member=request.member,
            capture=tie.capture,
            like=like,
            form_token=form.cleaned_data["form_token"],
        )
    except SetupError as error:
        messages.error(request, str(error))
        return redirect(f"{reverse('traces:setup', args=[capture_id])}?{urlencode({'next': here})}")
    following = batch_of(tie)
    if following and following.next:
        return redirect("jobs:capture", following.next.capture_id)
    messages.success(request, gettext("All files of this upload are set up."))
    return redirect(here)


@requires(Action.CAPTURE)
@require_POST
def same_setup_all(request: MemberRequest, capture_id: int) -> HttpResponse:
    """Analyse the job's other captures with this one's set-up, as far as their channels match."""
    tie = capture_tie_seen(request.member, capture_id)
    form = SameSetupForm(request.POST)
    here = redirect("jobs:capture", capture_id)
    found = same_for_others(tie)
    if found is None or not form.is_valid() or found.like.pk != form.cleaned_data["like"]:
        messages.info(request, gettext("Nothing was copied: look again which captures wait."))
        return here
    done = []
    for other in found.fitting:
        try:
            run_like_add(
                member=request.member,
                capture=other.capture,
                like=found.like,
                form_token=uuid5(form.cleaned_data["form_token"], str(other.pk)),
            )
        except SetupError as error:
            messages.error(
                request,
                gettext("“%(name)s”: %(why)s") % {"name": other.capture, "why": error},
            )
        else:
            done.append(str(other.capture))
    if done:
        messages.success(
            request,
            gettext("Set up alike: %(names)s.") % {"names": ", ".join(done)},
        )
    return here
