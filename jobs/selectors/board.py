"""The board: open visits by stage, a mechanic's own work orders, what waits for a writer."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.core.stages import LABELS, ORDER, Stage
from jobs.models import Question, Visit, WorkOrder
from jobs.selectors.consents import (
    consent_standing,
    covers_verdict,
    orders_done,
    repair_consent_of,
)
from jobs.selectors.questions import open_questions
from shopdiag.people.core.roles import Action, Role
from shopdiag.people.models import Member


@dataclass(frozen=True, slots=True)
class StageColumn:
    """One stage and the visits that stand in it, the longest waiting first."""

    stage: Stage
    label: str
    visits: tuple[Visit, ...]


@dataclass(frozen=True, slots=True)
class Board:
    """Every open visit of the shop, and those closed today."""

    columns: tuple[StageColumn, ...]
    open_count: int
    closed_today: int
    work_orders: tuple[WorkOrder, ...]
    """The member's own; for a mechanic also those that nobody has taken."""
    waiting: tuple["Waiting", ...] = ()
    """A service writer's jobs that wait for the customer's word or for delivery; of a mechanic the
    repairs agreed to of what they found."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A job that waits for whoever speaks with the customer, and what for."""

    visit: Visit
    words: str
    kind: str = "watch"
    """Of the badge: `stop` where work was stopped."""


def board_of(member: Member) -> Board:
    """Return the board as `member` sees it."""
    midnight = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    visits = list(
        Visit.objects.seen_by(member)
        .with_vehicle()
        .filter(~Q(stage=Stage.CLOSED) | Q(closed_at__gte=midnight))
        .select_related("complaint")
        .order_by("pk")
    )
    columns = tuple(
        StageColumn(stage, _(LABELS[stage]), tuple(v for v in visits if v.stage == stage))
        for stage in ORDER
    )
    questions = open_questions(member)
    for visit in visits:
        visit.asks = _asks(questions.get(visit.pk, []))
    closed = sum(v.stage == Stage.CLOSED for v in visits)
    return Board(
        columns=columns,
        open_count=len(visits) - closed,
        closed_today=closed,
        work_orders=tuple(_own_orders(member)) if member.may(Action.DO_WORK) else (),
        waiting=(*_asked(member, visits, questions), *_waiting(member, visits)),
    )


def _asks(questions: list[Question]) -> str:
    """Return what a job's open questions come to: `stop`, `question` or nothing."""
    if any(question.is_stop for question in questions):
        return "stop"
    return "question" if questions else ""


def _asked(
    member: Member, visits: list[Visit], questions: dict[int, list[Question]]
) -> Iterator[Waiting]:
    """Yield the jobs on whose orders a member was asked, those that were stopped first."""
    for visit in sorted(visits, key=lambda v: v.asks != "stop"):
        mine = [q for q in questions.get(visit.pk, []) if q.work_order.created_by_id == member.pk]
        if asks := _asks(mine):
            is_stop = asks == "stop"
            words = _("stopped: call") if is_stop else _("question to you")
            yield Waiting(visit, words, "stop" if is_stop else "watch")


def _waiting(member: Member, visits: list[Visit]) -> Iterator[Waiting]:
    """Yield the jobs that wait for a member, as the board has them.

    A service writer's are those they opened, a mechanic's those whose order they did.
    """
    for visit in visits:
        words = ""
        if member.role == Role.WRITER and visit.opened_by_id == member.pk:
            words = _for_writer(visit)
        elif member.role == Role.MECHANIC and _is_to_repair(visit, member):
            words = _("repair agreed")
        if words:
            yield Waiting(visit, words)


def _for_writer(visit: Visit) -> str:
    """Return what a job waits for from whoever speaks with the customer; empty for nothing."""
    if visit.stage == Stage.HAND_BACK:
        return _("ready for delivery")
    if visit.stage != Stage.WORK or not _is_diagnosed(visit):
        return ""
    said = consent_standing(visit)
    if said is None or (said.agreed and not covers_verdict(said)):
        return _("ask about the repair")
    return "" if said.agreed else _("no repair wanted")


def _is_to_repair(visit: Visit, member: Member) -> bool:
    if visit.stage != Stage.VERIFY:
        return False
    last = visit.work_orders.filter(state=WorkOrder.State.DONE).order_by("-pk").first()
    if last is None or last.accepted_by_id != member.pk:
        return False
    said = consent_standing(visit)
    # once its own order is done, nothing of the repair is left to do
    return bool(said and said.agreed and repair_consent_of(last) != said)


def _is_diagnosed(visit: Visit) -> bool:
    is_out = visit.work_orders.filter(state__in=WorkOrder.OPEN_STATES).exists()
    return not is_out and orders_done(visit) > 0


def _own_orders(member: Member) -> QuerySet[WorkOrder]:
    mine = Q(accepted_by=member) | Q(accepted_by=None, assigned_to=member)
    if member.role == Role.MECHANIC:
        mine |= Q(accepted_by=None, assigned_to=None)
    return (
        WorkOrder.objects.seen_by(member)
        .filter(state__in=WorkOrder.OPEN_STATES)
        .filter(mine)
        .select_related("visit__vehicle", "assigned_to__user")
        .order_by("pk")
    )
