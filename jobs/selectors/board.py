"""The board: open visits by stage, a member's own work orders, what waits for them."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.core.next_step import Asked, Step
from jobs.core.next_step_words import WORDS
from jobs.core.stages import LABELS, ORDER, Stage
from jobs.core.waiting import Party, party_of
from jobs.models import Visit, WorkOrder
from jobs.selectors.open_jobs import OpenJob, open_jobs
from jobs.selectors.questions import stopped_orders
from shopdiag.people.core.roles import Action, Role
from shopdiag.people.models import Member

_ASKS = {Asked.NOTHING: "", Asked.QUESTION: "question", Asked.STOP: "stop"}


@dataclass(frozen=True, slots=True)
class StageColumn:
    """One stage and the visits in it: those that are stopped first, then the longest here."""

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
    for_anyone: tuple["Waiting", ...] = ()
    """The jobs that nobody has, and that wait for any diagnostician, who looks."""
    stopped: tuple["Waiting", ...] = ()
    """The jobs whose work was stopped, whoever is to call; none of them is in `waiting`."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A job that waits, and the member's step it waits for; else whose it is."""

    visit: Visit
    words: str
    is_mine: bool = True


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
    jobs = {job.visit.pk: job for job in open_jobs(member)}
    for visit in visits:
        if job := jobs.get(visit.pk):
            visit.asks = _ASKS[job.facts.asked]
            visit.is_passed = job.facts.is_passed
    visits.sort(key=lambda visit: visit.asks != "stop")
    columns = tuple(
        StageColumn(stage, _(LABELS[stage]), tuple(v for v in visits if v.stage == stage))
        for stage in ORDER
    )
    closed = sum(v.stage == Stage.CLOSED for v in visits)
    return Board(
        columns=columns,
        open_count=len(visits) - closed,
        closed_today=closed,
        work_orders=tuple(_own_orders(member)) if member.may(Action.DO_WORK) else (),
        waiting=tuple(_waiting(member, jobs.values())),
        for_anyone=tuple(_for_anyone(member, jobs.values())),
        stopped=tuple(_stopped(member, jobs.values())),
    )


def _stopped(member: Member, jobs: Iterable[OpenJob]) -> Iterator[Waiting]:
    """Yield the jobs whose work was stopped; first those that the member is to call about."""
    found = []
    for job in jobs:
        if job.facts.asked is not Asked.STOP:
            continue
        following = job.next_for(member)
        mine = following.is_mine and job.whose(following.step) == member
        words = WORDS[following.step]
        found.append(Waiting(job.visit, _(words.label if mine else words.waits), is_mine=mine))
    yield from sorted(found, key=lambda row: not row.is_mine)


def _waiting(member: Member, jobs: Iterable[OpenJob]) -> Iterator[Waiting]:
    """Yield the jobs whose next step is the member's own.

    Orders to accept and to work through are listed by themselves, and so is what was stopped.
    """
    for job in jobs:
        following = job.next_for(member)
        if not following.is_mine or following.step in {Step.ACCEPT, Step.RECORD}:
            continue
        if job.facts.asked is not Asked.STOP and job.whose(following.step) == member:
            yield Waiting(job.visit, _(WORDS[following.step].label))


def _for_anyone(member: Member, jobs: Iterable[OpenJob]) -> Iterator[Waiting]:
    """Yield the jobs whose next step is any diagnostician's, for a diagnostician."""
    if member.role != Role.DIAGNOSTICIAN:
        return
    for job in jobs:
        following = job.next_for(member)
        is_theirs = following.is_mine and party_of(following.step) is Party.DIAGNOSTICIAN
        if is_theirs and job.facts.asked is not Asked.STOP and job.whose(following.step) is None:
            yield Waiting(job.visit, _(WORDS[following.step].label))


def _own_orders(member: Member) -> QuerySet[WorkOrder]:
    mine = Q(accepted_by=member) | Q(accepted_by=None, assigned_to=member)
    if member.role == Role.MECHANIC:
        mine |= Q(accepted_by=None, assigned_to=None)
    return (
        WorkOrder.objects.seen_by(member)
        .filter(state__in=WorkOrder.OPEN_STATES)
        .filter(mine)
        .select_related("visit__vehicle", "assigned_to__user")
        .annotate(is_stopped=stopped_orders())
        .order_by("-is_stopped", "pk")
    )
