"""The page on which a verdict is signed."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from jobs.core.groups import EVEN_LEAVES_OPEN, FaultGroup
from jobs.core.in_cylinder import InTurn
from jobs.forms.evidence import (
    AcceptForm,
    OwnVerdictForm,
)
from jobs.models import Judgement, Visit
from jobs.selectors.captures import (
    ANY_CYLINDERS,
    cranked_runs,
    engine_sequence,
    latest_judgement,
)
from jobs.selectors.decision import Decision, decision_on, run_to_decide
from jobs.selectors.in_cylinder import CylindersInTurn, cylinders_in_turn
from jobs.selectors.learning import learned_line
from jobs.selectors.plan import plan_to_decide
from jobs.selectors.running import RunningBeside, running_beside
from jobs.selectors.signing import capture_list
from jobs.services.judgements import OVERRULES, judgement_sign
from jobs.services.work import work_order_create
from jobs.views.closed import on_open_job
from jobs.views.rows_by_address import visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.core.roles import Action
from shopdiag.people.core.row_ids import is_row_id
from shopdiag.people.editing import post_form
from traces.core.report import Report
from traces.models import Run


@requires(Action.JUDGE)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def decide(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Sign a verdict, overrule it, or decide without a capture."""
    visit = visit_seen(request.member, visit_id)
    run = _run_asked(request, visit)
    decision = decision_on(visit, run)
    context = decide_context(visit, decision, running_beside(visit))
    context |= {
        "visit": visit,
        "run": run,
        "judgement": latest_judgement(visit),
        "learned": learned_line(request.member, visit, decision.run),
    }
    in_turn = context["in_turn"] = cylinders_in_turn(visit)
    if "pressure" in request.GET and in_turn is not None:
        context["own"] = own_form(visit, None, initial=_by_pressure(in_turn))
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
        own = own_form(visit, context["run"], initial=typed)
        context |= {"own": own, "own_open": True}
    return render(request, "jobs/work/decide.html", {**context, "form": form}, status=status)


def _run_asked(request: MemberRequest, visit: Visit) -> Run | None:
    """Return the run that was asked for, or the newest that has a result; "none" for none."""
    asked = request.POST.get("run") if request.method == "POST" else request.GET.get("run")
    if asked:
        if not is_row_id(asked):
            raise Http404(gettext("There is no such run on this job."))
        return get_object_or_404(cranked_runs(visit), pk=int(asked))
    if request.method == "POST" or {"without", "pressure"} & request.GET.keys():
        return None
    return run_to_decide(visit)


def _by_pressure(in_turn: CylindersInTurn) -> dict[str, object]:
    """Return what a verdict that rests on pressures in the cylinders begins with.

    A person signs it in their own words: no single recording compares the cylinders.
    """
    found: dict[str, object] = {"reason": in_turn.reason}
    if in_turn.low:
        return found | {"mechanical": Judgement.Mechanical.YES, "chosen": list(in_turn.low)}
    group = FaultGroup.VALVE_TRAIN if in_turn.named_as(InTurn.CAM) else None
    if group is None and in_turn.named_as(InTurn.EXHAUST):
        group = FaultGroup.EXHAUST
    if group is None:
        return found
    return found | {"mechanical": Judgement.Mechanical.NO, "fault_group": group.value}


def seen_together(decision: Decision) -> dict[str, Any]:
    """Return what a page shows of captures that are read together."""
    return {
        "together": decision.together,
        "ranking": decision.ranking,
        "patterns": decision.patterns,
    }


def decide_context(
    visit: Visit, decision: Decision, running: RunningBeside | None
) -> dict[str, Any]:
    """Return what both pages that sign say of the decision, and of the engine idling beside it."""
    context: dict[str, Any] = {
        "running": running,
        "outcome": decision.outcome,
        "by_hand": decision.by_hand,
        "read_anew": decision.read_anew,
        "beside": decision.beside,
        **seen_together(decision),
        "own": own_form(visit, decision.run),
        "own_open": not decision.acceptable,
        "even_leaves_open": gettext(EVEN_LEAVES_OPEN)
        if decision.report and decision.report.verdict == "even"
        else "",
    }
    if decision.acceptable and decision.run and decision.report:
        context["accept"] = accept_form(
            visit, decision.run, decision.report, initial=misfiring_by(running)
        )
    return context


def misfiring_by(running: RunningBeside | None) -> dict[str, object]:
    """Return which cylinders a form offers as misfiring: those that compress and add less.

    None where it depends on the flywheel which they are: a person has to say so.
    """
    if running is None or running.rests_on_flywheel:
        return {}
    return {"misfiring": list(running.burning_badly)}


def accept_form(
    visit: Visit,
    run: Run,
    report: Report,
    data: Any = None,  # noqa: ANN401 - QueryDict
    *,
    initial: Mapping[str, object] | None = None,
) -> AcceptForm:
    """Return the form that signs what the capture says."""
    return AcceptForm(
        data,
        run_id=run.pk,
        candidates=report.candidates,
        engine_cylinders=_cylinders(visit, run),
        initial=dict(initial or {}),
    )


def _cylinders(visit: Visit, run: Run | None) -> list[int]:
    return list(engine_sequence(visit, run) or ANY_CYLINDERS)


def own_form(
    visit: Visit,
    run: Run | None,
    data: Any = None,  # noqa: ANN401 - QueryDict
    *,
    initial: Mapping[str, object] | None = None,
) -> OwnVerdictForm:
    """Return the form that signs a verdict of one's own."""
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
        return accept_form(visit, run, report, request.POST)
    if kind not in {Judgement.Kind.OVERRULED, Judgement.Kind.WITHOUT_RUN}:
        raise Http404(gettext("There is no such way to decide."))
    return own_form(visit, run, request.POST)
