"""The first look: cranking by ear, codes, freeze frames, misfire counts."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.core.cautions import capture_cautions
from jobs.core.codes import codes_read
from jobs.forms.triage import CodesForm, FreezeFrameForm, MisfiresForm, TriageForm
from jobs.models import CodePaste, TroubleCode
from jobs.selectors.visit import code_lines_of_paste
from jobs.services.triage import (
    code_remove,
    codes_add,
    freeze_frame_add,
    misfires_set,
    triage_change,
    triage_of,
)
from jobs.views.seen import visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import edit_versioned


@requires(Action.TRIAGE)
@require_http_methods(["GET", "HEAD", "POST"])
def triage_edit(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Note how it cranks by ear and whether the complaint could be seen."""
    seen = visit_seen(request.member, visit_id)
    triage = triage_of(visit=seen)
    engine = seen.vehicle.engine
    cautions = capture_cautions(engine.fuel if engine else "petrol", seen.vehicle.drive)
    return edit_versioned(
        request,
        form=TriageForm(request.POST or None, instance=triage),
        save=lambda form: triage_change(
            triage=triage, expected_version=form.expected_version, member=request.member
        ),
        template="jobs/visit/edit.html",
        context={"visit": seen, "title": "First look and listen", "cautions": cautions},
        done=reverse("jobs:visit", args=[seen.pk]),
    )


@requires(Action.TRIAGE)
@require_http_methods(["GET", "HEAD", "POST"])
def codes_new(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Read codes out of pasted text."""
    seen = visit_seen(request.member, visit_id)
    form = CodesForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            result = codes_add(visit=seen, text=form.cleaned_data["text"], member=request.member)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            return redirect("jobs:codes-read", seen.pk, result.paste.pk)
    return render(
        request,
        "jobs/visit/codes_add.html",
        {"visit": seen, "form": form},
        status=422 if request.method == "POST" else 200,
    )


@requires(Action.SEE_WORK)
@require_safe
def codes_paste(request: MemberRequest, visit_id: int, paste_id: int) -> HttpResponse:
    """Show what was understood of a paste, what was not, and the paste itself."""
    seen = visit_seen(request.member, visit_id)
    paste = get_object_or_404(CodePaste.objects.select_related("by__user"), visit=seen, pk=paste_id)
    return render(
        request,
        "jobs/visit/codes_read.html",
        {
            "visit": seen,
            "paste": paste,
            "lines": code_lines_of_paste(seen, codes_read(paste.text)),
        },
    )


@requires(Action.TRIAGE)
@require_POST
def code_off(request: MemberRequest, visit_id: int, code_id: int) -> HttpResponse:
    """Take a wrongly entered code off the card."""
    seen = visit_seen(request.member, visit_id)
    code = TroubleCode.objects.filter(visit=seen, pk=code_id).select_related("visit").first()
    if code:
        code_remove(code=code, member=request.member)
        messages.success(request, f"{code.code} is off the card; the pasted text is kept.")
    return redirect("jobs:visit", seen.pk)


@requires(Action.TRIAGE)
@require_http_methods(["GET", "HEAD", "POST"])
def freeze_frame_new(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Add a freeze frame from pasted lines."""
    seen = visit_seen(request.member, visit_id)
    form = FreezeFrameForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            freeze_frame_add(visit=seen, member=request.member, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, "The freeze frame is on the card.")
            return redirect("jobs:visit", seen.pk)
    return render(
        request,
        "jobs/visit/add.html",
        {"visit": seen, "form": form, "title": "Add a freeze frame", "action": "Add"},
        status=422 if request.method == "POST" else 200,
    )


@requires(Action.TRIAGE)
@require_http_methods(["GET", "HEAD", "POST"])
def misfires(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Add misfire counts by cylinder."""
    seen = visit_seen(request.member, visit_id)
    form = MisfiresForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        misfires_set(visit=seen, member=request.member, **form.cleaned_data)
        messages.success(request, "The counts are on the card.")
        return redirect("jobs:visit", seen.pk)
    return render(
        request,
        "jobs/visit/add.html",
        {"visit": seen, "form": form, "title": "Misfire counts", "action": "Add"},
        status=422 if request.method == "POST" else 200,
    )
