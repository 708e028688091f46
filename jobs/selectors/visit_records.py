"""Verdicts, work orders and answers of many visits, in as many queries whatever their number."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from django.db.models import QuerySet

from jobs.models import Judgement, RepairConsent, Visit, WorkOrder


@dataclass(slots=True)
class VisitRecords:
    """What was signed, ordered and answered on one visit, each by id."""

    judgements: list[Judgement] = field(default_factory=list)
    orders: list[WorkOrder] = field(default_factory=list)
    consents: list[RepairConsent] = field(default_factory=list)

    @property
    def verdict(self) -> Judgement | None:
        """The verdict that stands."""
        return self.judgements[-1] if self.judgements else None

    @property
    def last_answer(self) -> RepairConsent | None:
        """The customer's last answer on the repair."""
        return self.consents[-1] if self.consents else None

    @property
    def open_order(self) -> WorkOrder | None:
        """The newest order that is not finished."""
        out = [order for order in self.orders if order.state in WorkOrder.OPEN_STATES]
        return out[-1] if out else None

    @property
    def orders_done(self) -> list[WorkOrder]:
        """The orders that are done."""
        return [order for order in self.orders if order.state == WorkOrder.State.DONE]


def records_of(visits: QuerySet[Visit]) -> defaultdict[int, VisitRecords]:
    """Return the records of visits that the member may see, by the visit's id."""
    found: defaultdict[int, VisitRecords] = defaultdict(VisitRecords)
    among = {"visit__in": visits.order_by().values("pk")}
    for judgement in _by_id(Judgement.objects.filter(**among).select_related("by__user")):
        found[judgement.visit_id].judgements.append(judgement)
    orders = WorkOrder.objects.filter(**among).select_related(
        "judgement",
        "last_answer__judgement",
        "assigned_to__user",
        "accepted_by__user",
        "created_by__user",
    )
    for order in _by_id(orders):
        found[order.visit_id].orders.append(order)
    for said in _by_id(RepairConsent.objects.filter(**among).select_related("judgement")):
        found[said.visit_id].consents.append(said)
    return found


def _by_id(rows: QuerySet[Any]) -> Iterable[Any]:
    return rows.order_by("pk")
