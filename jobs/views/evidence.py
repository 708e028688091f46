"""Captures of a visit and the verdict that is signed about them."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext, ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.core.cautions import method_notice
from jobs.core.groups import EVEN_LEAVES_OPEN
from jobs.core.stages import Stage
from jobs.forms.evidence import (
    AcceptForm,
    AsideForm,
    CaptureUploadForm,
    OwnVerdictForm,
    PurposeForm,
)
from jobs.models import Judgement, Triage, Visit, VisitCapture
from jobs.selectors.captures import (
    ANY_CYLINDERS,
    engine_of,
    engine_sequence,
    fuel_of,
    latest_judgement,
    visit_runs,
    why_no_proof,
)
from jobs.selectors.decision import Decision, decision_on, run_to_decide
from jobs.selectors.learning import learned_line
from jobs.selectors.plan import plan_to_decide
from jobs.selectors.proofs import doubts_without_proof
from jobs.selectors.same_setup import same_for_others
from jobs.selectors.sent_together import batch_of
from jobs.selectors.signing import OVERRULE, capture_list, signing_choices
from jobs.services.captures import (
    UploadOutcome,
    capture_aside,
    capture_purpose_set,
    visit_captures_add,
)
from jobs.services.judgements import OVERRULES, judgement_sign
from jobs.services.work import work_order_create
from jobs.views.closed import on_open_job
from jobs.views.rows_by_address import capture_tie_seen, visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.core.roles import Action
from shopdiag.people.core.row_ids import is_row_id
from shopdiag.people.editing import post_form
from traces.core.report import Report
from traces.models import Run, Work
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
    if run and run.state == Work.State.DONE:
        decision = decision_on(visit, run)
        together = decision.together
        context |= _seen_together(decision)
        if request.member.may(Action.JUDGE):
            context.update(_decide_context(visit, decision))
            context.update(_bar_context(request, tie, decision))
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
            "judgement": judgement,
            "notice": method_notice(visit.vehicle.drive),
            "batch": batch_of(tie),
            "others": same_for_others(tie),
            "captures": capture_list(visit, tie, together, judgement),
        },
        status=422 if aside_form or refused else 200,
    )


def _bar_context(request: MemberRequest, tie: VisitCapture, decision: Decision) -> dict[str, Any]:
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
        initial = {"mechanical": asked.found}
        if asked.form == "own":
            found["own"] = _own_form(visit, decision.run, initial=initial)
        elif decision.run and decision.report:
            found["accept"] = _accept_form(visit, decision.run, decision.report, initial=initial)
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
            if row.purpose == VisitCapture.Purpose.VERIFICATION
            else gettext("It counts for the diagnosis.")
        ),
    )


@requires(Action.JUDGE)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def decide(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Sign a verdict, overrule it, or decide without a capture."""
    visit = visit_seen(request.member, visit_id)
    run = _run_asked(request, visit)
    decision = decision_on(visit, run)
    context = _decide_context(visit, decision)
    context |= {
        "visit": visit,
        "run": run,
        "judgement": latest_judgement(visit),
        "learned": learned_line(request.member, visit, decision.run),
    }
    context["plan"] = plan_to_decide(visit, run)
    if run is not None:
        shown = run.capture.visit_capture
        together, judgement = context["together"], context["judgement"]
        context["captures"] = capture_list(visit, shown, together, judgement)
    if request.method != "POST":
        return render(request, "jobs/work/decide.html", context)
    kind = request.POST.get("kind", "")
    form = _bound(request, visit, run, kind)
    accepts = kind == Judgement.Kind.ACCEPTED
    context |= {"accept" if accepts else "own": form, "own_open": not accepts, "bound": form}
    return post_form(
        request,
        form=form,
        save=lambda: judgement_sign(
            visit=visit,
            member=request.member,
            kind=kind,
            mechanical=form.cleaned_data["mechanical"],
            run=None if kind == Judgement.Kind.WITHOUT_RUN else run,
            cylinders=form.cylinders,
            reason=form.cleaned_data["reason"],
            fault_group=form.cleaned_data.get("fault_group", ""),
            form_token=form.cleaned_data["form_token"],
            confirmed=is_confirmed(form),
        ),
        page=lambda status: _decide_page(request, visit, form, context, status),
        done=lambda signed: _after_signing(request, signed),
        saved=gettext("Signed. What was signed before stays on record."),
        called={"cylinders": "chosen"},
    )


def _after_signing(request: MemberRequest, signed: Judgement) -> str:
    """Return where it goes on; makes the work order where the button said so."""
    job = reverse("jobs:visit", args=[signed.visit_id])
    if request.POST.get("then") != "order" or not request.member.may(Action.ORDER_WORK):
        return job + "#evidence"
    try:
        order = work_order_create(judgement=signed, member=request.member)
    except ValidationError as error:
        # The verdict is signed all the same; the job says what comes next.
        for sentence in error.messages:
            messages.error(request, sentence)
        return job
    messages.success(request, gettext("The work order is made."))
    return reverse("jobs:work-order", args=[order.pk])


def _decide_page(
    request: MemberRequest,
    visit: Visit,
    form: AcceptForm | OwnVerdictForm,
    context: dict[str, Any],
    status: int,
) -> HttpResponse:
    """Render the page; what overrules a verdict stands, as it was typed, where that is done."""
    if form.has_error("mechanical", code=OVERRULES):
        typed = {
            "mechanical": form.cleaned_data.get("mechanical") or form["mechanical"].value(),
            "fault_group": form.cleaned_data.get("fault_group", ""),
            "chosen": form.cylinders,
            "reason": form.cleaned_data["reason"],
        }
        own = _own_form(visit, context["run"], initial=typed)
        context |= {"own": own, "own_open": True}
    return render(request, "jobs/work/decide.html", {**context, "form": form}, status=status)


def _run_asked(request: MemberRequest, visit: Visit) -> Run | None:
    """Return the run that was asked for, or the newest that has a result; "none" for none."""
    asked = request.POST.get("run") if request.method == "POST" else request.GET.get("run")
    if asked:
        if not is_row_id(asked):
            raise Http404(gettext("There is no such run on this job."))
        return get_object_or_404(visit_runs(visit), pk=int(asked))
    if request.method == "POST" or "without" in request.GET:
        return None
    return run_to_decide(visit)


def _seen_together(decision: Decision) -> dict[str, Any]:
    return {
        "together": decision.together,
        "ranking": decision.ranking,
        "patterns": decision.patterns,
    }


def _decide_context(visit: Visit, decision: Decision) -> dict[str, Any]:
    context: dict[str, Any] = {
        "outcome": decision.outcome,
        "by_hand": decision.by_hand,
        "read_anew": decision.read_anew,
        "beside": decision.beside,
        **_seen_together(decision),
        "own": _own_form(visit, decision.run),
        "own_open": not decision.acceptable,
        "even_leaves_open": gettext(EVEN_LEAVES_OPEN)
        if decision.report and decision.report.verdict == "even"
        else "",
    }
    if decision.acceptable and decision.run and decision.report:
        context["accept"] = _accept_form(visit, decision.run, decision.report)
    return context


def _accept_form(
    visit: Visit,
    run: Run,
    report: Report,
    data: Any = None,  # noqa: ANN401 - QueryDict
    *,
    initial: Mapping[str, object] | None = None,
) -> AcceptForm:
    return AcceptForm(
        data,
        run_id=run.pk,
        candidates=report.candidates,
        engine_cylinders=_cylinders(visit, run),
        initial=dict(initial or {}),
    )


def _cylinders(visit: Visit, run: Run | None) -> list[int]:
    return list(engine_sequence(visit, run) or ANY_CYLINDERS)


def _own_form(
    visit: Visit,
    run: Run | None,
    data: Any = None,  # noqa: ANN401 - QueryDict
    *,
    initial: Mapping[str, object] | None = None,
) -> OwnVerdictForm:
    return OwnVerdictForm(
        data,
        cylinders=_cylinders(visit, run),
        run_id=run.pk if run else None,
        initial=dict(initial or {}),
    )


def _bound(
    request: MemberRequest, visit: Visit, run: Run | None, kind: str
) -> AcceptForm | OwnVerdictForm:
    report = run.report if run else None
    if kind == Judgement.Kind.ACCEPTED and run and report:
        return _accept_form(visit, run, report, request.POST)
    if kind not in {Judgement.Kind.OVERRULED, Judgement.Kind.WITHOUT_RUN}:
        raise Http404(gettext("There is no such way to decide."))
    return _own_form(visit, run, request.POST)
