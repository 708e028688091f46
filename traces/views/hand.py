"""A person's corrections of a run: change, take back, make again."""

from collections.abc import Callable

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_POST

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import post_form
from traces.core.setup import SetupError
from traces.forms.manual_edits import MANUAL_EDIT_FORMS, ManualEditForm, StepForm
from traces.models import Run
from traces.selectors.hand import hand_state
from traces.services import run_adjust, run_redo, run_undo
from traces.views.found import run_or_404
from traces.views.pages import back_address, capture_context

_STEPS = {"undo": run_undo, "redo": run_redo}


@require_POST
@requires(Action.CAPTURE)
def adjust(request: MemberRequest, pk: int, run_pk: int) -> HttpResponse:
    """Judge a capture again as a hand changed it; what was typed stays where it cannot be."""
    run = run_or_404(request, pk, run_pk)
    do = request.POST.get("do", "")
    if do in _STEPS:
        return _step(request, run, do)
    if do not in MANUAL_EDIT_FORMS or run.report is None:
        raise Http404
    state = hand_state(run.setup, run.report)
    form = MANUAL_EDIT_FORMS[do](request.POST, member=request.member, state=state)
    return _changed(
        request,
        run,
        form,
        lambda: run_adjust(
            member=request.member,
            run=run,
            changed=form.changed(),
            engine=form.engine,
            form_token=form.cleaned_data["form_token"],
        ),
    )


def _step(request: MemberRequest, run: Run, do: str) -> HttpResponse:
    form = StepForm(do, request.POST)
    return _changed(
        request,
        run,
        form,
        lambda: _STEPS[do](
            member=request.member, run=run, form_token=form.cleaned_data["form_token"]
        ),
    )


def _changed(
    request: MemberRequest, run: Run, form: ManualEditForm | StepForm, save: Callable[[], Run]
) -> HttpResponse:
    def again(status: int) -> HttpResponse:
        context = capture_context(request, run.capture_id, run.pk, sent=form)
        return render(request, "traces/capture.html", context, status=status)

    return post_form(
        request,
        form=form,
        save=save,
        page=again,
        done=lambda made: _shown_at(request, made),
        refusal=SetupError,
    )


def _shown_at(request: MemberRequest, run: Run) -> str:
    """Return where the new run is shown: on the page that the person is on, if that has one."""
    back = back_address(request)
    if back and request.POST.get("here") == back:
        return back
    carried = {k: v for k in ("next", "engine", "fuel") if (v := request.GET.get(k))}
    address = reverse("traces:run", args=[run.capture_id, run.pk])
    return f"{address}?{urlencode(carried)}" if carried else address
