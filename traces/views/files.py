"""What a capture's file is taken for: corrected by hand, as it is, as it was, forgotten."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.core.row_ids import is_row_id
from shopdiag.people.editing import post_form
from traces.core.readers import Correction
from traces.forms.file_reading import FileForm
from traces.models import Work
from traces.selectors.readings import FilePage, file_page, first_lines
from traces.services import reading_correct, reading_take_again, shape_forget
from traces.views.found import capture_or_404
from traces.views.pages import back_address


@require_http_methods(["GET", "POST"])
@requires(Action.CAPTURE)
def correct(request: MemberRequest, pk: int) -> HttpResponse:
    """Ask what is wrong in what a file was understood as, and have it read anew."""
    found = capture_or_404(request, pk)
    back = _back(request, pk)
    file = file_page(found)
    if file.newest and not file.newest.is_settled and request.method == "GET":
        messages.info(request, _("The file is being read anew; it can be corrected after that."))
        return redirect(back)
    understood = file.understood
    lines = understood.lines if understood else first_lines(found)
    form = FileForm(
        request.POST if request.method == "POST" else None,
        understood=understood,
        is_text=bool(lines) or understood is None,
        correction=file.to_correct,
    )
    return post_form(
        request,
        form=form,
        save=lambda: reading_correct(
            member=request.member,
            capture=found,
            correction=form.given,
            form_token=form.cleaned_data["form_token"],
        ),
        page="traces/file.html",
        context={
            "capture": found,
            "file": file,
            "lines": lines,
            "failure": _failure(file),
            "back": back,
            "next": back_address(request),
        },
        done=back,
    )


@require_POST
@requires(Action.CAPTURE)
def as_it_is(request: MemberRequest, pk: int) -> HttpResponse:
    """Have a file read without any correction."""
    found = capture_or_404(request, pk)
    reading_correct(member=request.member, capture=found, correction=Correction())
    return redirect(_back(request, pk))


@require_POST
@requires(Action.CAPTURE)
def take_again(request: MemberRequest, pk: int) -> HttpResponse:
    """Let an earlier reading count again."""
    found = capture_or_404(request, pk)
    asked = request.POST.get("reading", "")
    if is_row_id(asked):
        earlier = get_object_or_404(found.readings, state=Work.State.DONE, pk=int(asked))
        reading_take_again(member=request.member, reading=earlier)
    return redirect(_back(request, pk))


@require_POST
@requires(Action.CAPTURE)
def forget(request: MemberRequest, pk: int) -> HttpResponse:
    """No longer read later files of this shape as corrected."""
    found = capture_or_404(request, pk)
    if shape_forget(member=request.member, shape=found.reading.shape):
        messages.success(request, _("Forgotten: later files of this shape are read as they are."))
    return redirect(_back(request, pk))


def _back(request: HttpRequest, pk: int) -> str:
    return back_address(request) or reverse("traces:capture", args=[pk])


def _failure(file: FilePage) -> str:
    """Return why the file could not be read as last said, or at all; "" where it was."""
    failed = file.failed or (file.current if file.understood is None else None)
    return _(failed.error) if failed and failed.error else ""
