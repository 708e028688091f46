"""What was used on a job, beside what was authorised."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from jobs.core.amounts import amount_read
from jobs.core.used import Budget
from jobs.models import Complaint, RepairConsent, UsedLine, Visit, WorkOrder
from jobs.selectors.consents import repair_consent_of
from jobs.selectors.visit_records import VisitRecords
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member


@dataclass(frozen=True, slots=True)
class UsedOnJob:
    """Time and parts used on a job.

    Parameters
    ----------
    diagnosis, repair
        Each against what the customer agreed to.
    lines
        All lines in the order they were added, those taken back too.
    """

    diagnosis: Budget
    repair: Budget
    lines: tuple[UsedLine, ...]

    @property
    def shown(self) -> tuple[Budget, ...]:
        """Those that anything was used of."""
        return tuple(b for b in (self.diagnosis, self.repair) if b.is_used)

    @property
    def passed(self) -> tuple[Budget, ...]:
        """Those that need a new consent."""
        return tuple(b for b in self.shown if b.is_passed)


def used_on(visit: Visit) -> UsedOnJob:
    """Return what was used on a visit that the member may see."""
    lines = tuple(
        visit.used_lines.select_related("by__user", "work_order", "takes_back", "taken_back_by")
    )
    complaint = Complaint.objects.filter(visit=visit).first()
    said = visit.repair_consents.order_by("-pk").first()
    return _used(visit, lines, complaint, said, visit.work_orders.all())


def passed_on(
    visits: Sequence[Visit], records: Mapping[int, VisitRecords]
) -> dict[int, tuple[Budget, ...]]:
    """Return the budgets that were passed, by the id of the visit; visits with none are left out.

    Parameters
    ----------
    visits
        Such that the member may see, with shop and complaint.
    """
    lines: defaultdict[int, list[UsedLine]] = defaultdict(list)
    for line in UsedLine.objects.filter(visit__in=visits).select_related("taken_back_by"):
        lines[line.visit_id].append(line)
    passed = {}
    for visit in visits:
        if of_visit := tuple(lines[visit.pk]):
            on, complaint = records[visit.pk], getattr(visit, "complaint", None)
            passed[visit.pk] = _used(visit, of_visit, complaint, on.last_answer, on.orders).passed
    return {pk: budgets for pk, budgets in passed.items() if budgets}


def _used(
    visit: Visit,
    lines: tuple[UsedLine, ...],
    complaint: Complaint | None,
    said: RepairConsent | None,
    orders: Iterable[WorkOrder],
) -> UsedOnJob:
    return UsedOnJob(
        diagnosis=_budget(
            visit,
            lines,
            minutes_agreed=complaint.authorised_minutes if complaint else None,
            amount=complaint.authorised_amount if complaint else "",
        ),
        repair=_repair_budget(visit, lines, said, orders),
        lines=lines,
    )


def _repair_budget(
    visit: Visit,
    lines: tuple[UsedLine, ...],
    said: RepairConsent | None,
    orders: Iterable[WorkOrder],
) -> Budget:
    of_repair = {line.work_order_id for line in lines if line.is_repair}
    planned = sum(
        order.scope_minutes or 0
        for order in orders
        if order.pk in of_repair and order.state != WorkOrder.State.WITHDRAWN
    )
    yes = said if said is not None and said.agreed else None
    return _budget(
        visit,
        lines,
        amount=yes.amount if yes else "",
        minutes_agreed=yes.minutes if yes else None,
        is_repair=True,
        planned=planned,
    )


def _budget(
    visit: Visit,
    lines: tuple[UsedLine, ...],
    *,
    amount: str,
    minutes_agreed: int | None = None,
    is_repair: bool = False,
    planned: int = 0,
) -> Budget:
    count = [line for line in lines if counts(line) and line.is_repair == is_repair]
    return Budget(
        is_repair=is_repair,
        minutes=sum(line.minutes for line in count),
        amount=float(sum(line.amount for line in count)),
        minutes_agreed=minutes_agreed,
        amount_agreed=amount_read(amount) if amount else None,
        minutes_planned=planned,
        currency=visit.shop.currency,
        labour=_labour(count),
    )


def _labour(lines: list[UsedLine]) -> float | None:
    """Return what time costs, each line at the rate it was booked at; None where none has one.

    Time that was booked while the shop had no rate is not priced: what a job cost does not change
    by what the shop takes later.
    """
    rates = [(line.minutes, line.hourly_rate) for line in lines if line.hourly_rate is not None]
    if not rates:
        return None
    costs = (minutes * rate / 60 for minutes, rate in rates)
    return float(sum((cost.quantize(Decimal("0.01")) for cost in costs), Decimal(0)))


def counts(line: UsedLine) -> bool:
    """Return whether a line counts: it takes nothing back and nothing took it back."""
    return line.takes_back_id is None and not hasattr(line, "taken_back_by")


def is_for_repair(visit: Visit, order: WorkOrder | None) -> bool:
    """Return whether what is used now counts as repair: the order's, else what was agreed last."""
    if order is not None:
        return repair_consent_of(order) is not None
    said = visit.repair_consents.order_by("-pk").first()
    return said is not None and said.agreed and bool(said.after_orders)


def may_take_back(line: UsedLine, member: Member) -> bool:
    """Return whether a member may take a line back: their own, or any as who orders work."""
    return counts(line) and (line.by_id == member.pk or member.may(Action.ORDER_WORK))
