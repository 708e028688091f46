"""Work orders: made from a signed verdict, changed, accepted, withdrawn."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.core.authorised import (
    USUAL_MINUTES,
    USUAL_REPAIR_MINUTES,
    doubts_about_minutes,
)
from jobs.core.gauge import GaugeRule
from jobs.core.request import LONGEST_REQUEST, named
from jobs.core.stages import Stage
from jobs.models import Judgement, Visit, WorkOrder
from jobs.selectors.captures import latest_judgement
from jobs.selectors.consents import (
    consent_standing,
    minutes_authorised,
    order_made,
    repair_consent_of,
)
from jobs.selectors.found_elsewhere import unsigned
from jobs.selectors.order_draft import order_draft
from jobs.services.changes import record_change
from jobs.services.timeline import event_add
from jobs.services.visits import check_open, visit_advance, visit_fall_back
from shopdiag.people.asking_back import Confirmed, ask_back
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member
from shopdiag.people.typed_text import check_length

EDIT_FIELDS = ("request", "scope", "scope_minutes", "stop_and_call", "assigned_to")


@dataclass(frozen=True, slots=True)
class OrderWords:
    """What the person may change in a work order before it is made; None keeps the draft's.

    Minutes are taken as they are, since a person may empty them.
    """

    request: str | None = None
    scope: str | None = None
    scope_minutes: int | None = None
    stop_and_call: str | None = None
    tests: Collection[str] | None = None
    """Keys of the drafted tests that are wanted."""
    assigned_to: Member | None = None
    for_repair: bool | None = None
    """Whether the form was that of a repair; None where there was no form."""
    confirmed: Confirmed = False
    """Whether a person was asked about odd minutes and says that they are right."""


@transaction.atomic
def work_order_create(
    *, judgement: Judgement, member: Member, words: OrderWords | None = None
) -> WorkOrder:
    """Make the work order of a judgement; a second time gives the one that is there.

    Once the customer agreed to what was found, the next one is that of the repair.

    Raises
    ------
    ValidationError
        If the verdict is not the last one, another order is open, the customer's answer changed
        since the form was opened, or odd minutes are not confirmed.
    """
    visit = Visit.objects.select_for_update(no_key=True).get(pk=judgement.visit_id)
    there = order_made(judgement)
    if there and there.state != WorkOrder.State.WITHDRAWN:
        return there
    _check_orderable(visit, judgement, withdrawn=there is not None)
    draft = order_draft(judgement)
    if draft.is_repair and (elsewhere := unsigned(judgement)):
        raise ValidationError(
            _("%(elsewhere)s Sign what is to be repaired, then make its order.")
            % {"elsewhere": elsewhere}
        )
    words = words or OrderWords(scope_minutes=draft.scope_minutes)
    if words.for_repair is not None and words.for_repair != draft.is_repair:
        raise ValidationError(
            _("What the customer agreed to changed meanwhile; open the form again.")
        )
    _check_assignee(words.assigned_to, visit)
    if words.scope_minutes != draft.scope_minutes:
        _ask_back(words.confirmed, words.scope_minutes, visit, is_repair=draft.is_repair)
    tests = [t for t in draft.tests if words.tests is None or t.key in words.tests]
    typed = (words.request or "").strip()
    check_length("request", typed, LONGEST_REQUEST)
    order = WorkOrder(
        shop_id=visit.shop_id,
        visit=visit,
        judgement=judgement,
        last_answer=visit.repair_consents.order_by("-pk").first(),
        request=typed or draft.request[:LONGEST_REQUEST],
        cylinders=list(draft.cylinders),
        places=list(draft.places),
        firing_order=draft.firing_order,
        firing_source=draft.firing_source,
        tests=[t.to_json() for t in tests],
        tests_done=list(draft.tests_done),
        patterns=[card.to_json() for card in draft.patterns],
        cautions=list(draft.cautions),
        sync_proof=draft.sync_proof,
        confidence=draft.confidence,
        disproof=draft.disproof,
        gauge_rule=draft.gauge_rule.to_json(),
        scope=draft.scope if words.scope is None else words.scope.strip(),
        scope_minutes=words.scope_minutes,
        stop_and_call=draft.stop_and_call
        if words.stop_and_call is None
        else words.stop_and_call.strip(),
        assigned_to=words.assigned_to,
        created_by=member,
        changed_by=member,
    )
    order.full_clean()
    order.save()
    event_add(
        visit=visit,
        by=member,
        kind="work_order",
        words=lambda: _made_words(order, is_repair=draft.is_repair),
        data={"work_order": order.pk, "cylinders": order.cylinders},
    )
    at_work = Stage.VERIFY if draft.is_repair else Stage.WORK
    visit_advance(visit=visit, to=at_work, member=member)
    visit_fall_back(visit=visit, member=member, why=lambda: _("a work order was made"))
    return order


def _check_orderable(visit: Visit, judgement: Judgement, *, withdrawn: bool) -> None:
    check_open(visit)
    if withdrawn:
        raise ValidationError(
            _("The work order of this verdict was withdrawn; sign the verdict again, then order.")
        )
    last = latest_judgement(visit)
    if last is None or last.pk != judgement.pk:
        raise ValidationError(_("A later verdict was signed meanwhile; make the order from that."))
    if visit.work_orders.filter(state__in=WorkOrder.OPEN_STATES).exists():
        raise ValidationError(
            _("Another work order of this job is still open; complete or withdraw it first.")
        )


def _check_assignee(assignee: Member | None, visit: Visit) -> None:
    if assignee is None:
        return
    if assignee.shop_id != visit.shop_id or not assignee.may(Action.DO_WORK):
        raise ValidationError(
            {"assigned_to": _("That person does no work orders in this shop; choose another.")}
        )


def _ask_back(confirmed: Confirmed, minutes: int | None, visit: Visit, *, is_repair: bool) -> None:
    """Ask about minutes that are likely a slip, or more than the customer authorised.

    What was authorised for the diagnosis says nothing of a repair.
    """
    if minutes is None:
        return
    agreed = consent_standing(visit) if is_repair else None
    authorised = None if is_repair and agreed is None else minutes_authorised(visit, agreed)
    usual = USUAL_REPAIR_MINUTES if is_repair else USUAL_MINUTES
    asked = doubts_about_minutes(minutes, authorised=authorised, usual=usual)
    ask_back(confirmed, asked, about={"scope_minutes": minutes, "authorised": authorised})


@transaction.atomic
def work_order_change(
    *,
    order: WorkOrder,
    expected_version: int,
    member: Member,
    fields: Iterable[str],
    confirmed: Confirmed = False,
) -> bool:
    """Save what may change in an order that is not finished yet.

    Odd minutes that are new are asked back unless `confirmed`.

    Raises
    ------
    SavedMeanwhileError
        If somebody else saved it after `expected_version`.
    ValidationError
        If the order is finished, or the new assignee does no work orders.
    """
    _check_open(order)
    _check_assignee(order.assigned_to, order.visit)
    names = list(fields)
    stands = WorkOrder.objects.values_list("scope_minutes", flat=True).get(pk=order.pk)
    if "scope_minutes" in names and order.scope_minutes != stands:
        is_repair = repair_consent_of(order) is not None
        _ask_back(confirmed, order.scope_minutes, order.visit, is_repair=is_repair)
    return record_change(
        row=order,
        expected_version=expected_version,
        member=member,
        fields=names,
        visits=[order.visit],
        kind="work_order",
        what=lambda: _("the work order"),
    )


@transaction.atomic
def work_order_limits(
    *, order: WorkOrder, expected_version: int, member: Member, rule: GaugeRule
) -> bool:
    """Set the gauge limits this job is judged by, with their source.

    Raises
    ------
    SavedMeanwhileError
        If somebody else saved the order after `expected_version`.
    ValidationError
        If the order is finished.
    """
    _check_open(order)
    order.gauge_rule = rule.at(order.visit.shop.altitude_m).to_json()
    return record_change(
        row=order,
        expected_version=expected_version,
        member=member,
        fields=["gauge_rule"],
        visits=[order.visit],
        kind="work_order",
        what=lambda: _("the gauge limits of the work order"),
    )


@transaction.atomic
def work_order_accept(*, order: WorkOrder, member: Member) -> WorkOrder:
    """Take an order on; the first one has it, the second is told who.

    Raises
    ------
    ValidationError
        If somebody else has it, or it is no longer open.
    """
    free = WorkOrder.objects.filter(pk=order.pk, state=WorkOrder.State.OPEN)
    if not member.may(Action.ORDER_WORK):
        free = free.filter(assigned_to=None) | free.filter(assigned_to=member)
    now = timezone.now()
    if free.update(
        state=WorkOrder.State.ACCEPTED,
        accepted_at=now,
        accepted_by=member,
        assigned_to=member,
        **next_version(member),
    ):
        event_add(
            visit=order.visit,
            by=member,
            kind="work_order",
            words=lambda: _("accepted the work order"),
            data={"work_order": order.pk},
        )
        return WorkOrder.objects.get(pk=order.pk)
    current = WorkOrder.objects.select_related("accepted_by__user", "assigned_to__user").get(
        pk=order.pk
    )
    if current.state == WorkOrder.State.ACCEPTED and current.accepted_by == member:
        return current
    raise ValidationError(_why_not_free(current))


def _why_not_free(order: WorkOrder) -> str:
    if order.state == WorkOrder.State.ACCEPTED and order.accepted_by and order.accepted_at:
        return _(
            "%(accepted_by)s took this work order at %(accepted_at)s; ask before you start on it."
        ) % {
            "accepted_by": order.accepted_by.name,
            "accepted_at": f"{timezone.localtime(order.accepted_at):%H:%M}",
        }
    if order.state == WorkOrder.State.OPEN and order.assigned_to:
        return _(
            "This work order is for %(assigned_to)s; ask the person who ordered it to "
            "give it to you."
        ) % {"assigned_to": order.assigned_to.name}
    return _("This work order is %(state)s; nothing is left to accept.") % {
        "state": order.get_state_display().lower()
    }


@transaction.atomic
def work_order_withdraw(*, order: WorkOrder, member: Member, reason: str) -> WorkOrder:
    """Take an unfinished order back, with a reason.

    Raises
    ------
    ValidationError
        If there is no reason, or the order is finished.
    """
    reason = reason.strip()
    if not reason:
        raise ValidationError({"reason": _("Say why the work order is withdrawn.")})
    check_length("reason", reason, 400)
    visit = Visit.objects.select_for_update(no_key=True).get(pk=order.visit_id)
    withdrawn = WorkOrder.objects.filter(pk=order.pk, state__in=WorkOrder.OPEN_STATES).update(
        state=WorkOrder.State.WITHDRAWN,
        withdrawn_at=timezone.now(),
        withdrawn_why=reason,
        **next_version(member),
    )
    current = WorkOrder.objects.get(pk=order.pk)
    if not withdrawn:
        if current.state == WorkOrder.State.WITHDRAWN:
            return current
        raise ValidationError(_("This work order is done; what was found stays on record."))
    event_add(
        visit=visit,
        by=member,
        kind="work_order",
        words=lambda: _("withdrew the work order: %(reason)s") % {"reason": reason},
        data={"work_order": order.pk},
    )
    visit_fall_back(visit=visit, member=member, why=lambda: _("the work order was withdrawn"))
    return current


def next_version(member: Member) -> dict[str, Any]:
    """Return the columns by which a form that was opened before is told of this change."""
    return {"version": F("version") + 1, "changed_at": timezone.now(), "changed_by": member}


def _check_open(order: WorkOrder) -> None:
    state = WorkOrder.objects.values_list("state", flat=True).get(pk=order.pk)
    if state not in WorkOrder.OPEN_STATES:
        raise ValidationError(
            _("This work order is %(label)s; it stays as it is.")
            % {"label": WorkOrder.State(state).label.lower()}
        )


def _made_words(order: WorkOrder, *, is_repair: bool) -> str:
    """Return what the timeline says of a new order."""
    whom, which = order.assigned_to, order.cylinders
    words = (
        _("made the work order of the repair%(which)s%(whom)s")
        if is_repair
        else _("made the work order%(which)s%(whom)s")
    )
    return words % {
        "which": _(" on %(cylinders)s") % {"cylinders": named(which)} if which else "",
        "whom": _(" for %(assigned_to)s") % {"assigned_to": whom.name} if whom else "",
    }
