"""The first look: cranking by ear, codes, freeze frames, misfire counts."""

from typing import TypeVar

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Model, QuerySet
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.core.codes import codes_read
from jobs.core.freeze_frame import frame_text
from jobs.core.misfires import counts_text
from jobs.forms.triage import CodesForm, FreezeFrameForm, MisfiresForm, TriageForm
from jobs.selectors.captures import engine_sequence
from jobs.selectors.job_card import code_lines_of_paste
from jobs.selectors.numbering import mounting_offered
from jobs.selectors.triage import cautions_before_cranking, triage_questions
from jobs.services.triage import (
    code_remove,
    codes_add,
    freeze_frame_add,
    misfires_set,
    triage_change,
    triage_of,
)
from jobs.views.closed import on_open_job
from jobs.views.rows_by_address import visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.core.roles import Action
from shopdiag.people.core.row_ids import is_row_id
from shopdiag.people.editing import edit_versioned, post_form

_Line = TypeVar("_Line", bound=Model)
_STAYS = gettext_lazy("The first one stays on record; yours takes its place.")


@requires(Action.TRIAGE)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def triage_edit(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Note how it cranks by ear and whether the complaint could be seen."""
    seen = visit_seen(request.member, visit_id)
    triage = triage_of(visit=seen)
    questions = triage_questions(seen, triage)
    # what is proposed has to be seen, so not in the fold
    offers = "direction" in questions.asked and not triage.direction
    return edit_versioned(
        request,
        form=TriageForm(
            request.POST or None,
            instance=triage,
            visit=seen,
            questions=questions,
            initial=mounting_offered(seen) if offers else {},
        ),
        save=lambda form: triage_change(
            triage=triage, expected_version=form.expected_version, member=request.member
        ),
        template="jobs/visit/triage.html",
        context={
            "visit": seen,
            "title": _("Initial checks"),
            "cautions": cautions_before_cranking(seen, triage),
        },
        done=reverse("jobs:visit", args=[seen.pk]),
    )


@requires(Action.TRIAGE)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def codes_new(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Read codes out of pasted text."""
    seen = visit_seen(request.member, visit_id)
    form = CodesForm(request.POST or None)
    return post_form(
        request,
        form=form,
        save=lambda: codes_add(visit=seen, member=request.member, **form.cleaned_data),
        page="jobs/visit/codes_add.html",
        context={"visit": seen},
        done=lambda result: reverse("jobs:codes-read", args=[seen.pk, result.paste.pk]),
    )


@requires(Action.SEE_WORK)
@require_safe
def codes_paste(request: MemberRequest, visit_id: int, paste_id: int) -> HttpResponse:
    """Show what was understood of a paste, what was not, and the paste itself."""
    seen = visit_seen(request.member, visit_id)
    paste = get_object_or_404(seen.code_pastes.select_related("by__user"), pk=paste_id)
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
    code = seen.codes.select_related("visit").filter(pk=code_id).first()
    if code:
        try:
            code_remove(code=code, member=request.member)
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
        else:
            messages.success(
                request,
                _("%(code)s is off the card; the pasted text is kept.") % {"code": code.code},
            )
    return redirect("jobs:visit", seen.pk)


def _corrected(request: MemberRequest, lines: QuerySet[_Line]) -> _Line | None:
    """Return what a form corrects, as the address or the form says; None where it adds."""
    asked = request.POST.get("replaces") or request.GET.get("replaces")
    if not asked:
        return None
    if not is_row_id(asked):
        raise Http404(_("There is nothing like that to correct on this job."))
    return get_object_or_404(lines, pk=int(asked))


@requires(Action.TRIAGE)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def freeze_frame_new(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Add a freeze frame from pasted lines, or correct one by another that takes its place."""
    seen = visit_seen(request.member, visit_id)
    corrected = _corrected(request, seen.freeze_frames.all())
    initial = (
        {"replaces": corrected.pk, "code": corrected.code, "text": frame_text(corrected.rows)}
        if corrected
        else None
    )
    form = FreezeFrameForm(request.POST or None, initial=initial)
    return post_form(
        request,
        form=form,
        save=lambda: freeze_frame_add(
            visit=seen,
            member=request.member,
            code=form.cleaned_data["code"],
            text=form.cleaned_data["text"],
            replaces=corrected,
            form_token=form.cleaned_data["form_token"],
        ),
        page="jobs/visit/add.html",
        context={
            "visit": seen,
            "title": _("Correct a freeze frame") if corrected else _("Add a freeze frame"),
            "lead": _STAYS if corrected else "",
            "action": _("Correct it") if corrected else _("Add"),
            "draft": f"frame-{corrected.pk if corrected else ''}",
        },
        done=reverse("jobs:visit", args=[seen.pk]),
        saved=_("The freeze frame is on the card."),
    )


@requires(Action.TRIAGE)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def misfires(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Add misfire counts by cylinder, or correct a reading by one that takes its place."""
    seen = visit_seen(request.member, visit_id)
    corrected = _corrected(request, seen.misfire_counts.all())
    initial = (
        {
            "replaces": corrected.pk,
            "counts": counts_text(corrected.counts),
            "period": corrected.period,
        }
        if corrected
        else None
    )
    cylinders = engine_sequence(seen, None)
    form = MisfiresForm(request.POST or None, initial=initial, cylinders=cylinders)
    return post_form(
        request,
        form=form,
        save=lambda: misfires_set(
            visit=seen,
            member=request.member,
            counts=form.cleaned_data["counts"],
            period=form.cleaned_data["period"],
            replaces=corrected,
            form_token=form.cleaned_data["form_token"],
            confirmed=is_confirmed(form),
        ),
        page="jobs/visit/add.html",
        context={
            "visit": seen,
            "title": _("Correct misfire counts") if corrected else _("Misfire counts"),
            "lead": _STAYS if corrected else "",
            "action": _("Correct them") if corrected else _("Add"),
            "draft": f"misfires-{corrected.pk if corrected else ''}",
        },
        done=reverse("jobs:visit", args=[seen.pk]),
        saved=_("The counts are on the card."),
    )
