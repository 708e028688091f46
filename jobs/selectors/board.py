"""The board: open visits by stage, a member's own work orders, what waits for them."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.core.next_step import Asked, Step
from jobs.core.next_step_words import WORDS
from jobs.core.stages import LABELS, ORDER, Stage
from jobs.models import Visit, WorkOrder
from jobs.selectors.open_jobs import OpenJob, open_jobs
from shopdiag.people.core.roles import Action, Role
from shopdiag.people.models import Member

_ASKS = {Asked.NOTHING: "", Asked.QUESTION: "question", Asked.STOP: "stop"}


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
    """The jobs that the member has and whose next step is theirs."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A job that waits for the member, and the step it waits for."""

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
    jobs = {job.visit.pk: job for job in open_jobs(member)}
    for visit in visits:
        if job := jobs.get(visit.pk):
            visit.asks = _ASKS[job.facts.asked]
            visit.is_passed = job.facts.is_passed
    closed = sum(v.stage == Stage.CLOSED for v in visits)
    return Board(
        columns=columns,
        open_count=len(visits) - closed,
        closed_today=closed,
        work_orders=tuple(_own_orders(member)) if member.may(Action.DO_WORK) else (),
        waiting=tuple(_waiting(member, jobs.values())),
    )


def _waiting(member: Member, jobs: Iterable[OpenJob]) -> Iterator[Waiting]:
    """Yield the jobs whose next step is the member's own, those that were stopped first.

    Orders to accept and to work through are listed by themselves.
    """
    found = []
    for job in jobs:
        following = job.next_for(member)
        if not following.is_mine or following.step in {Step.ACCEPT, Step.RECORD}:
            continue
        if job.whose(following.step) == member:
            kind = "stop" if following.step is Step.CALL_BACK else "watch"
            found.append(Waiting(job.visit, _(WORDS[following.step].label), kind))
    yield from sorted(found, key=lambda row: row.kind != "stop")


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
