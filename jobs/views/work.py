"""Work orders: one of them, making, changing, withdrawing and printing it."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from engines.core.drawing import PlanDrawing, plan_drawing
from engines.core.firing import FiringOrderError
from engines.core.layouts import LayoutError
from engines.core.mounting import Mounting
from engines.core.positions import PositionError, view_from
from engines.selectors import access_minutes
from jobs.core.next_step import is_to_accept
from jobs.forms.questions import AnswerForm, QuestionForm
from jobs.forms.reading_table import ReadingTable
from jobs.forms.used import UsedForm
from jobs.forms.work import (
    CompleteForm,
    OrderPhotoForm,
    WithdrawForm,
    WorkOrderEditForm,
    WorkOrderForm,
)
from jobs.models import Judgement, WorkOrder
from jobs.selectors.captures import engine_of, engine_places, latest_judgement
from jobs.selectors.checklist import checklist_of
from jobs.selectors.consents import order_made, repair_consent_of
from jobs.selectors.finding_hints import hints
from jobs.selectors.findings import (
    contradictions_in,
    current_findings,
    gauge_rule_of,
    summary_draft,
    unrecorded_tests,
)
from jobs.selectors.found_elsewhere import unsigned
from jobs.selectors.misfires import beside_judgement
from jobs.selectors.next_step import following_after
from jobs.selectors.numbering import mounting_of, numbering_of
from jobs.selectors.open_jobs import holder_of
from jobs.selectors.order_draft import OrderDraft, order_draft
from jobs.selectors.order_lines import cylinder_slips
from jobs.selectors.photos import photos_listed
from jobs.selectors.question_mails import mails_to_send_again
from jobs.selectors.questions import stopped_with, thread_of
from jobs.selectors.used import used_on
from jobs.selectors.work import mechanics_of, minutes_words, superseded_by
from jobs.services.work import (
    EDIT_FIELDS,
    work_order_accept,
    work_order_change,
    work_order_create,
    work_order_withdraw,
)
from jobs.views.checklist import steps_of, thread_forms
from jobs.views.closed import on_open_job
from jobs.views.rows_by_address import order_seen, visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.core.roles import Action, Role
from shopdiag.people.editing import edit_versioned, post_form
from traces.core.drawings import Picture
from traces.models import Work
from traces.selectors.figures import run_evidence


@requires(Action.ORDER_WORK)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def work_order_new(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Make a work order from the verdict that stands; everything is filled in already."""
    visit = visit_seen(request.member, visit_id)
    judgement = latest_judgement(visit)
    if judgement is None:
        messages.error(request, gettext("Sign a verdict first; the work order is made from it."))
        return redirect("jobs:decide", visit.pk)
    draft = order_draft(judgement)
    elsewhere = _stale_form(request, judgement, draft) or _no_new_order(request, judgement, draft)
    if elsewhere is not None:
        return elsewhere
    form = WorkOrderForm(
        request.POST or None,
        draft=draft,
        judgement_id=judgement.pk,
        mechanics=mechanics_of(visit),
    )
    return post_form(
        request,
        form=form,
        save=lambda: work_order_create(
            judgement=judgement,
            member=request.member,
            words=form.words,
        ),
        page="jobs/work/new.html",
        context={
            "visit": visit,
            "judgement": judgement,
            "draft": draft,
            "beside": beside_judgement(judgement),
            "numbering": numbering_of(visit),
        },
        done=lambda order: reverse("jobs:work-order", args=[order.pk]),
        saved=gettext("The work order is made."),
    )


def _stale_form(
    request: MemberRequest, judgement: Judgement, draft: OrderDraft
) -> HttpResponse | None:
    """Return where to go where the form was opened before a later verdict or answer."""
    sent, visit_id = request.POST, judgement.visit_id
    if sent.get("judgement") and sent["judgement"] != str(judgement.pk):
        messages.error(
            request, gettext("A later verdict was signed meanwhile; the order now follows it.")
        )
        return redirect("jobs:work-order-new", visit_id)
    if sent.get("for_repair", str(draft.is_repair)) != str(draft.is_repair):
        messages.error(
            request, gettext("What the customer agreed to changed meanwhile; no order was made.")
        )
        earlier = judgement.work_orders.first()
        if draft.is_repair and earlier:
            return redirect("jobs:work-order", earlier.pk)
        return redirect("jobs:work-order-new", visit_id)
    return None


def _no_new_order(
    request: MemberRequest, judgement: Judgement, draft: OrderDraft
) -> HttpResponse | None:
    """Return where to go where no order can be made of a verdict."""
    visit_id = judgement.visit_id
    if draft.is_repair and (elsewhere := unsigned(judgement)):
        messages.error(request, elsewhere)
        return redirect("jobs:decide", visit_id)
    there = order_made(judgement)
    if request.method == "POST" or there is None:
        return None
    if there.state == WorkOrder.State.WITHDRAWN:
        messages.error(
            request, gettext("Its work order was withdrawn; sign the verdict again first.")
        )
        return redirect("jobs:decide", visit_id)
    messages.info(
        request,
        gettext(
            "This verdict has its work order; another follows a new verdict, or the customer's "
            "yes to the repair."
        ),
    )
    return redirect("jobs:work-order", there.pk)


def plan_of(order: WorkOrder, mounting: Mounting | None = None) -> PlanDrawing | None:
    """Return the plan view with the named cylinders marked; None where the engine is not known."""
    engine = engine_of(order.visit, order.judgement.run)
    if engine is None:
        return None
    try:
        marked = dict.fromkeys(order.cylinders, order.judgement.cylinder_mark)
        return plan_drawing(engine.geometry, marked, mounting)
    except (FiringOrderError, LayoutError, PositionError):
        return None


def _picture_of(order: WorkOrder) -> Picture | None:
    """Return the evidence picture with the signed cylinders marked, as far as samples are left."""
    run = order.judgement.run
    if run is None or run.state != Work.State.DONE:
        return None
    try:
        marked = [] if order.judgement.is_beyond_compression else order.cylinders
        return run_evidence(run, marked=marked)
    except FileNotFoundError:
        return None


def order_context(request: MemberRequest, order: WorkOrder) -> dict[str, Any]:
    """Return what page and sheet of an order show."""
    unit = order.visit.shop.pressure_unit
    findings = current_findings(order)
    swaps = list(order.swaps.select_related("by__user"))
    run = order.judgement.run
    numbering = numbering_of(order.visit)
    mounting = mounting_of(order.visit, numbering)
    engine = engine_of(order.visit, run)
    plan = plan_of(order, mounting)
    places, minutes = engine_places(engine), access_minutes(order.visit.shop, engine)
    return {
        "order": order,
        "superseded": superseded_by(order, latest_judgement(order.visit)),
        "numbering": numbering,
        "visit": order.visit,
        "unit": unit,
        "minutes_words": minutes_words(order),
        "is_repair": repair_consent_of(order) is not None,
        "used": used_on(order.visit),
        "used_form": UsedForm(currency=order.visit.shop.currency, order_id=order.pk),
        "findings": findings,
        "swaps": swaps,
        "swaps_contradict": contradictions_in(swaps),
        "slips": cylinder_slips(order, findings, places, mounting, minutes),
        "hints": hints(order, findings, unit),
        "limits": gauge_rule_of(order).words(unit),
        "limits_source": gettext(gauge_rule_of(order).source),
        "plan": plan,
        "picture": _picture_of(order),
        "view_from": plan.view_from if plan else view_from(has_banks=False),
        "beside": beside_judgement(order.judgement),
        "run": run,
        "report": run.report if run else None,
        "is_open": order.state in WorkOrder.OPEN_STATES,
        "may_accept": order.state == WorkOrder.State.OPEN and request.member.may(Action.DO_WORK),
        "accept_kind": "primary"
        if is_to_accept(holder_of(order, request.member), Role(request.member.role))
        else "plain",
    }


@requires(Action.SEE_WORK)
@require_safe
def work_order(request: MemberRequest, order_id: int) -> HttpResponse:
    """Show a work order as the mechanic needs it: the cylinder first."""
    return order_page(request, order_seen(request.member, order_id))


def order_page(
    request: MemberRequest,
    order: WorkOrder,
    *,
    complete_form: CompleteForm | None = None,
    photo_form: OrderPhotoForm | None = None,
    withdraw_form: WithdrawForm | None = None,
    table: ReadingTable | None = None,
    question_form: QuestionForm | None = None,
    answer_form: AnswerForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """Render an order's page, with whichever of its forms was filled and refused."""
    context = order_context(request, order)
    at = table.test_key.value if table else request.GET.get("at", "")
    checklist = checklist_of(order, context["findings"], context["swaps"], at)
    may_record = context["is_open"] and request.member.may(Action.DO_WORK)
    draft = summary_draft(context["findings"], context["unit"], context["swaps"])
    complete_form = complete_form or CompleteForm(
        initial={"summary": draft},
        unrecorded=unrecorded_tests(order),
        is_repair=context["is_repair"],
    )
    photo_form = photo_form or OrderPhotoForm(order=order, auto_id="id_photo_%s")
    withdraw_form, thread = withdraw_form or WithdrawForm(), thread_of(order)
    may_answer = request.member.may(Action.ORDER_WORK)
    forms_of_thread = thread_forms(thread, question_form, answer_form, may_answer=may_answer)
    stopped = stopped_with(thread)
    steps = steps_of(
        order, checklist, table, may_record=may_record, is_stopped=bool(stopped) and not at
    )
    answers_first = may_answer and forms_of_thread["main_answer"] is not None
    saves_first = not answers_first and any(step.is_main for step in steps)
    return render(
        request,
        "jobs/work/order.html",
        {
            **context,
            "following": following_after(request.member, order),
            "checklist": checklist,
            "steps": steps,
            # one main button a page: answer who waits, else save the test at hand, else complete;
            # none while others have to answer a stop first
            "answers_first": answers_first,
            "saves_first": saves_first,
            "complete_kind": "plain" if answers_first or saves_first or stopped else "primary",
            "photos": photos_listed(
                order.photos.standing().select_related("by__user", "visit"), request.member
            ),
            "photo_form": photo_form,
            **forms_of_thread,
            "thread": thread,
            "mails_again": mails_to_send_again(thread, request.member),
            "stopped": stopped,
            "complete_form": complete_form,
            "opens_tests": bool(at or context["findings"]),
            "opens_complete": bool(
                complete_form.errors
                or (table is None and (checklist.is_done or (at and may_answer)))
            ),
            "withdraw_form": withdraw_form,
            "page_forms": (
                complete_form,
                photo_form,
                withdraw_form,
                *filter(None, [table, question_form, answer_form]),
            ),
        },
        status=status,
    )


@requires(Action.DO_WORK)
@require_POST
def accept(request: MemberRequest, order_id: int) -> HttpResponse:
    """Take an order on."""
    order = order_seen(request.member, order_id)
    try:
        work_order_accept(order=order, member=request.member)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(request, gettext("The work order is yours."))
    return redirect("jobs:work-order", order.pk)


@requires(Action.ORDER_WORK)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def work_order_edit(request: MemberRequest, order_id: int) -> HttpResponse:
    """Change request, person, scope or time of an order that is not finished."""
    order = order_seen(request.member, order_id)
    return edit_versioned(
        request,
        form=WorkOrderEditForm(
            request.POST or None, instance=order, mechanics=mechanics_of(order.visit)
        ),
        save=lambda form: work_order_change(
            order=order,
            expected_version=form.expected_version,
            member=request.member,
            fields=EDIT_FIELDS,
            confirmed=is_confirmed(form),
        ),
        template="jobs/work/edit.html",
        context={"order": order, "visit": order.visit},
        done=reverse("jobs:work-order", args=[order.pk]),
    )


@requires(Action.ORDER_WORK)
@require_POST
def withdraw(request: MemberRequest, order_id: int) -> HttpResponse:
    """Take an order back with a reason."""
    order = order_seen(request.member, order_id)
    form = WithdrawForm(request.POST)
    return post_form(
        request,
        form=form,
        save=lambda: work_order_withdraw(
            order=order, member=request.member, reason=form.cleaned_data["reason"]
        ),
        page=lambda status: order_page(request, order, withdraw_form=form, status=status),
        done=reverse("jobs:work-order", args=[order.pk]),
        saved=gettext("The work order is withdrawn."),
    )
