"""Pinning notes to places in a capture's time, and striking them."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.core.row_ids import is_row_id
from shopdiag.people.editing import post_form
from traces.forms.pins import PinForm
from traces.models import PinnedNote
from traces.services import note_pin, note_strike
from traces.views.found import capture_or_404
from traces.views.pages import back_address, capture_context


@require_POST
@requires(Action.CAPTURE)
def pin(request: MemberRequest, pk: int) -> HttpResponse:
    """Pin a note; what was typed stays where it cannot be."""
    capture = capture_or_404(request, pk)
    form = PinForm(request.POST, reading=capture.reading)

    def again(status: int) -> HttpResponse:
        run = _run(request)
        context = capture_context(request, pk, int(run) if run else None)
        return render(request, "traces/capture.html", context | {"note_form": form}, status=status)

    return post_form(
        request,
        form=form,
        save=lambda: note_pin(member=request.member, capture=capture, **form.cleaned_data),
        page=again,
        done=_notes_of(request, pk),
    )


@require_POST
@requires(Action.CAPTURE)
def strike(request: MemberRequest, pk: int, note_pk: int) -> HttpResponse:
    """Strike a note; it stays readable."""
    notes = PinnedNote.objects.seen_by(request.member).filter(capture_id=pk, strikes=None)
    note = get_object_or_404(notes, pk=note_pk)
    note_strike(member=request.member, note=note)
    return redirect(_notes_of(request, pk))


def _notes_of(request: MemberRequest, pk: int) -> str:
    """Return where the notes stand on the page that the person came from."""
    run = _run(request)
    own = reverse("traces:run", args=[pk, run]) if run else reverse("traces:capture", args=[pk])
    return (back_address(request) or own).partition("#")[0] + "#notes"


def _run(request: MemberRequest) -> str:
    """Return the run shown where it is not simply the newest."""
    asked = request.POST.get("run", "")
    return asked if is_row_id(asked) else ""
