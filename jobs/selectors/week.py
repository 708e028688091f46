"""The week of a shop: who waits, what was done, how verdicts fared, who came back."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.core.comebacks import COMEBACK_DAYS, Comeback, Stay, comebacks
from jobs.core.week_words import comeback_words, proportion_words
from jobs.core.weeks import MinutesBooked, OrderDone, WeekRow, first_monday, week_rows
from jobs.models import Judgement, TroubleCode, UsedLine, Visit, WorkOrder
from jobs.selectors.verdict_checks import Tally, tally, verdicts_checked
from jobs.selectors.waiting import Load, WaitingJob, loads, waiting_jobs
from shopdiag.people.models import Member

_MINUTES_USED = Sum(
    "used_lines__minutes",
    filter=Q(used_lines__takes_back=None, used_lines__taken_back_by=None),
)
"""Of an order; a line that was taken back counts as little as what takes it back."""


@dataclass(frozen=True, slots=True)
class ComebackRow:
    """A comeback with both visits."""

    visit: Visit
    earlier: Visit
    pair: Comeback

    @property
    def words(self) -> str:
        """What is the same as then; empty for nothing."""
        return comeback_words(self.pair)


@dataclass(frozen=True, slots=True)
class VerdictRow:
    """How verdicts of one kind fared."""

    label: str
    tally: Tally

    @property
    def words(self) -> str:
        """The confirmed among the checked, with their interval."""
        return proportion_words(self.tally.of_checked)


@dataclass(frozen=True, slots=True)
class Week:
    """What the page shows; `since` is the first day that is looked back on."""

    since: date
    waiting: tuple[WaitingJob, ...]
    loads: tuple[Load, ...]
    rows: tuple[WeekRow, ...]
    named: Tally
    """Verdicts that name weak cylinders."""
    no_fault: Tally
    """Verdicts that found no compression fault."""
    comebacks: tuple[ComebackRow, ...]

    @property
    def verdicts(self) -> tuple[VerdictRow, ...]:
        """Both kinds of verdicts."""
        return (
            VerdictRow(_("Weak cylinder named"), self.named),
            VerdictRow(_("No compression fault found"), self.no_fault),
        )


def week_of(member: Member) -> Week:
    """Return the week as `member` sees it, in the shop's time."""
    today = timezone.localdate()
    day = first_monday(today)
    since = timezone.make_aware(datetime.combine(day, time.min))
    waiting = waiting_jobs(member)
    verdicts = verdicts_checked(member, since)
    visits = Visit.objects.seen_by(member)
    opened = visits.filter(opened_at__gte=since).values_list("opened_at", flat=True)
    closed = visits.filter(closed_at__gte=since).values_list("closed_at", flat=True)
    orders = WorkOrder.objects.seen_by(member).filter(
        state=WorkOrder.State.DONE, completed_at__gte=since
    )
    return Week(
        since=day,
        waiting=waiting,
        loads=loads(waiting),
        rows=week_rows(
            today,
            taken_in=_days(opened.order_by()),
            delivered=_days(closed.order_by()),
            orders=[
                OrderDone(timezone.localtime(at).date(), minutes, used or 0)
                for at, minutes, used in orders.order_by()
                .annotate(used=_MINUTES_USED)
                .values_list("completed_at", "scope_minutes", "used")
                if at is not None
            ],
            booked=[
                MinutesBooked(timezone.localtime(at).date(), minutes)
                for at, minutes in UsedLine.objects.seen_by(member)
                .filter(at__gte=since, takes_back=None, taken_back_by=None)
                .values_list("at", "minutes")
            ],
            verdicts=[verdict.signed for verdict in verdicts],
        ),
        named=tally(verdicts, no_fault=False),
        no_fault=tally(verdicts, no_fault=True),
        comebacks=_comebacks(member, since),
    )


def _days(moments: Iterable[datetime | None]) -> list[date]:
    return [timezone.localtime(at).date() for at in moments if at is not None]


def _comebacks(member: Member, since: datetime) -> tuple[ComebackRow, ...]:
    recent = Visit.objects.seen_by(member).filter(opened_at__gte=since)
    rows = (
        Visit.objects.seen_by(member)
        .filter(vehicle__in=recent.order_by().values("vehicle"))
        .exclude(
            ~Q(pk__in=recent.order_by().exclude(comeback_of=None).values("comeback_of")),
            closed_at__lt=since - timedelta(days=COMEBACK_DAYS),
        )
    )
    visits = {visit.pk: visit for visit in rows.with_vehicle()}
    among = {"visit__in": rows.order_by().values("pk")}
    codes: defaultdict[int, set[str]] = defaultdict(set)
    for visit, code in TroubleCode.objects.filter(**among).values_list("visit_id", "code"):
        codes[visit].add(code)
    cylinders: dict[int, frozenset[int]] = {
        signed.visit_id: frozenset(signed.cylinders)
        for signed in Judgement.objects.filter(**among).order_by("pk")
    }
    pairs = comebacks(
        (
            Stay(
                visit=visit.pk,
                vehicle=visit.vehicle_id,
                opened_at=visit.opened_at,
                closed_at=visit.closed_at,
                codes=frozenset(codes[visit.pk]),
                cylinders=cylinders.get(visit.pk, frozenset()),
                comeback_of=visit.comeback_of_id,
            )
            for visit in visits.values()
        ),
        since,
    )
    return tuple(ComebackRow(visits[pair.later], visits[pair.earlier], pair) for pair in pairs)
