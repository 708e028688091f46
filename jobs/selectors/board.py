"""The board: open visits by stage, a mechanic's own work orders, what waits for a writer."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils import timezone

from jobs.core.stages import LABELS, ORDER, Stage
from jobs.models import Visit, WorkOrder
from jobs.selectors.visits import consent_standing, orders_done
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
    """For a service writer: jobs they opened that wait for the customer's word or for delivery."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A job that waits for whoever speaks with the customer, and what for."""

    visit: Visit
    words: str


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
        StageColumn(stage, LABELS[stage], tuple(v for v in visits if v.stage == stage))
        for stage in ORDER
    )
    closed = sum(v.stage == Stage.CLOSED for v in visits)
    return Board(
        columns=columns,
        open_count=len(visits) - closed,
        closed_today=closed,
        work_orders=tuple(_own_orders(member)) if member.may(Action.DO_WORK) else (),
        waiting=tuple(_waiting(member, visits)),
    )


def _waiting(member: Member, visits: list[Visit]) -> Iterator[Waiting]:
    """Yield the jobs that a service writer opened and that wait for them, as the board has them."""
    if member.role != Role.WRITER:
        return
    for visit in visits:
        if visit.opened_by_id != member.pk:
            continue
        if visit.stage == Stage.HAND_BACK:
            yield Waiting(visit, "ready for delivery")
        elif visit.stage == Stage.WORK and _is_diagnosed(visit):
            said = consent_standing(visit)
            if said is None:
                yield Waiting(visit, "ask the customer about the repair")
            elif not said.agreed:
                yield Waiting(visit, "no repair wanted: on to delivery")


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
