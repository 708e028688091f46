"""Captures of a visit and the verdict that is signed about them."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext, ngettext
from django.views.decorators.http import require_POST, require_safe

from jobs.core.cautions import method_notice
from jobs.core.stages import Stage
from jobs.forms.evidence import (
    AsideForm,
    CaptureUploadForm,
    PurposeForm,
)
from jobs.models import Triage, Visit, VisitCapture
from jobs.selectors.captures import (
    engine_of,
    fuel_of,
    latest_judgement,
    visit_runs,
    why_no_proof,
)
from jobs.selectors.decision import Decision, decision_on
from jobs.selectors.in_cylinder import cylinders_in_turn
from jobs.selectors.learning import learned_line
from jobs.selectors.proofs import doubts_without_proof
from jobs.selectors.running import RunningBeside, running_beside
from jobs.selectors.same_setup import same_for_others
from jobs.selectors.sent_together import batch_of
from jobs.selectors.signing import OVERRULE, capture_list, signing_choices
from jobs.services.captures import (
    UploadOutcome,
    capture_aside,
    capture_purpose_set,
    visit_captures_add,
)
from jobs.views.deciding import (
    accept_form,
    decide_context,
    misfiring_by,
    own_form,
    seen_together,
)
from jobs.views.rows_by_address import capture_tie_seen, visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import post_form
from traces.models import Work
from traces.views.pages import THEN_SETUP, capture_context


@requires(Action.CAPTURE)
@require_POST
def capture_upload(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Take recordings in; the script sends them one by one, the plain form all at once."""
    visit = visit_seen(request.member, visit_id)
    form = CaptureUploadForm(request.POST, request.FILES, member=request.member)
    if not form.is_valid():
        return _not_taken(
            request, visit, [str(e) for errors in form.errors.values() for e in errors]
        )
    data = form.cleaned_data
    try:
        outcomes = visit_captures_add(
            visit=visit,
            member=request.member,
            uploads=data["recordings"],
            purpose=data["purpose"],
            keep_duplicate=data["keep_duplicate"],
            batch=data["batch"],
        )
    except ValidationError as error:
        return _not_taken(request, visit, error.messages)
    here = [tie for outcome in outcomes if (tie := outcome.added or outcome.already)]
    # what came with an earlier upload leads on only where nothing is new
    added = {o.added.pk for o in outcomes if o.added}
    new = [t for t in here if t.pk in added or (t.batch and t.batch == data["batch"])]
    refused = [o.sentence for o in outcomes if o.sentence and not o.already]
    if not here:
        return _not_taken(request, visit, refused)
    _tell(request, outcomes)
    following = reverse("jobs:capture", args=[(new or here)[0].capture_id])
    following += f"?then={THEN_SETUP}"
    if _wants_json(request):
        return JsonResponse({"next": following} | ({} if new else {"already": True}))
    return redirect(following)


def _wants_json(request: MemberRequest) -> bool:
    return "application/json" in request.headers.get("Accept", "")


def _not_taken(request: MemberRequest, visit: Visit, sentences: list[str]) -> HttpResponse:
    if _wants_json(request):
        return JsonResponse({"errors": sentences}, status=422)
    for sentence in sentences:
        messages.error(request, sentence)
    # without a place on the page: what was refused stands at its head
    return redirect("jobs:visit", visit.pk)


def _tell(request: MemberRequest, outcomes: list[UploadOutcome]) -> None:
    added = sum(bool(outcome.added) for outcome in outcomes)
    if added > 1:
        messages.success(
            request,
            ngettext(
                "%(count)s recording is here. Once it is read, say how it was recorded.",
                "%(count)s recordings are here. Once they are read, say how each was recorded.",
                added,
            )
            % {"count": added},
        )
    for outcome in outcomes:
        if outcome.already:
            here = gettext("“%(name)s” was on this job already; this is it.")
            messages.warning(request, outcome.where or here % {"name": outcome.name})
        elif outcome.sentence:
            messages.error(request, outcome.sentence)


@requires(Action.SEE_WORK)
@require_safe
def capture(request: MemberRequest, capture_id: int) -> HttpResponse:
    """Show a capture with its result and, for whoever may, the form that signs it."""
    return _capture_page(request, capture_tie_seen(request.member, capture_id))


def _capture_page(
    request: MemberRequest,
    tie: VisitCapture,
    *,
    aside_form: AsideForm | None = None,
    refused: PurposeForm | None = None,
) -> HttpResponse:
    """Render a capture's page; a form that is given was filled and refused."""
    capture_id = tie.capture_id
    visit = tie.visit
    engine = engine_of(visit, None)
    run = visit_runs(visit).filter(capture_id=capture_id).first()
    context = capture_context(
        request,
        capture_id,
        back=reverse("jobs:capture", args=[capture_id]),
        engine_pk=engine.pk if engine else None,
        # an engine's fuel is not handed on: it goes with the engine that is chosen
        fuel=fuel_of(visit, None) if visit.vehicle.fuel else "",
        battery_v=_battery_at_rest(tie),
    )
    if context["goes_on"]:
        return redirect(context["setup_url"])
    together = None
    running = running_beside(visit, after_repair=tie.is_after_repair)
    in_turn = cylinders_in_turn(visit, after_repair=tie.is_after_repair)
    if run and run.state == Work.State.DONE and tie.is_cranked:
        decision = decision_on(visit, run)
        together = decision.together
        context |= seen_together(decision)
        if request.member.may(Action.JUDGE):
            context.update(decide_context(visit, decision, running))
            context.update(_bar_context(request, tie, decision, running))
            context["learned"] = learned_line(request.member, visit, decision.run)
    judgement = latest_judgement(visit)
    return render(
        request,
        "jobs/capture.html",
        {
            **context,
            "visit": visit,
            "tie": tie,
            "aside_form": aside_form or AsideForm(),
            "purpose_form": refused or PurposeForm(),
            "takes_proof_back": bool(doubts_without_proof(tie)),
            "refused": aside_form or refused,
            "may_prove": not why_no_proof(tie),
            "run": run,
            "running": running,
            "in_turn": in_turn,
            "judgement": judgement,
            "notice": method_notice(visit.vehicle.drive),
            "batch": batch_of(tie),
            "others": same_for_others(tie),
            "captures": capture_list(visit, tie, together, judgement),
        },
        status=422 if aside_form or refused else 200,
    )


def _bar_context(
    request: MemberRequest, tie: VisitCapture, decision: Decision, running: RunningBeside | None
) -> dict[str, Any]:
    """Return the ways to sign, with the form open that a link of the bar asked for."""
    visit = tie.visit
    for_a_verdict = tie.purpose == VisitCapture.Purpose.DIAGNOSIS and not tie.is_aside
    if visit.stage == Stage.CLOSED or not for_a_verdict:
        return {}
    choices = signing_choices(decision)
    asked = next((c for c in choices if c.found == request.GET.get("found")), None)
    found: dict[str, Any] = {"choices": choices}
    if asked is None:
        return found
    found |= {f"opens_{asked.form}": True, "opens_any": True}
    if asked.found != OVERRULE:
        initial = misfiring_by(running) | {"mechanical": asked.found}
        if asked.form == "own":
            found["own"] = own_form(visit, decision.run, initial=initial)
        elif decision.run and decision.report:
            found["accept"] = accept_form(visit, decision.run, decision.report, initial=initial)
    return found


def _battery_at_rest(tie: VisitCapture) -> float | None:
    """Return what was read at the first look; after the repair it is read anew."""
    if tie.purpose != VisitCapture.Purpose.DIAGNOSIS:
        return None
    triage = Triage.objects.filter(visit=tie.visit).first()
    return triage.battery_v if triage else None


@requires(Action.JUDGE)
@require_POST
def aside(request: MemberRequest, capture_id: int) -> HttpResponse:
    """Set a capture aside with a reason, or take it in again."""
    tie = capture_tie_seen(request.member, capture_id)
    form = AsideForm(request.POST)
    return post_form(
        request,
        form=form,
        save=lambda: capture_aside(
            tie=tie,
            member=request.member,
            why=form.cleaned_data["why"],
            confirmed=is_confirmed(form),
        ),
        page=lambda _: _capture_page(request, tie, aside_form=form),
        done=reverse("jobs:visit", args=[tie.visit_id]) + "#together",
        saved=lambda _: (
            gettext("The capture is set aside.")
            if form.cleaned_data["why"]
            else gettext("The capture counts again.")
        ),
    )


@requires(Action.JUDGE)
@require_POST
def purpose(request: MemberRequest, capture_id: int) -> HttpResponse:
    """Count a capture as made after the repair, or for the diagnosis again."""
    tie = capture_tie_seen(request.member, capture_id)
    form = PurposeForm(request.POST)
    return post_form(
        request,
        form=form,
        save=lambda: capture_purpose_set(
            tie=tie,
            member=request.member,
            purpose=form.cleaned_data["purpose"],
            reason=form.cleaned_data["reason"],
            confirmed=is_confirmed(form),
        ),
        page=lambda _: _capture_page(request, tie, refused=form),
        done=reverse("jobs:capture", args=[capture_id]),
        saved=lambda row: (
            gettext("It counts as made after the repair.")
            if row.is_after_repair
            else gettext("It counts for the diagnosis.")
        ),
    )
