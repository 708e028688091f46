"""Work orders and what hangs on them, as a member of the shop sees them."""

from dataclasses import dataclass

from django.db.models import Case, F, IntegerField, Prefetch, QuerySet, Value, When

from jobs.core.cautions import method_notice
from jobs.models import CylinderFinding, Judgement, Outcome, Visit, VisitCapture, WorkOrder
from jobs.selectors.evidence import CaptureRow, capture_rows
from shopdiag.people.models import Member

_LIVE = (WorkOrder.State.OPEN, WorkOrder.State.ACCEPTED)


@dataclass(frozen=True, slots=True)
class VisitWork:
    """What the job card shows of captures, verdicts, work orders and outcome.

    Parameters
    ----------
    captures, proofs
        Captures for the diagnosis, and those made after the repair.
    judgement
        What was signed last and stands; None before anything was signed.
    earlier
        What was signed before it.
    orders
        Work orders, newest first.
    open_order
        The one that is not finished, if there is one.
    may_order
        Whether a work order can be made now from what stands.
    notice
        Why captures may not apply to this vehicle; None where they do.
    """

    captures: tuple[CaptureRow, ...]
    proofs: tuple[CaptureRow, ...]
    judgement: Judgement | None
    earlier: tuple[Judgement, ...]
    orders: tuple[WorkOrder, ...]
    open_order: WorkOrder | None
    may_order: bool
    outcome: Outcome | None
    notice: str | None

    @property
    def waiting(self) -> bool:
        """Whether a capture's analysis is still under way."""
        return any(
            row.run is not None and not row.run.is_settled for row in (*self.captures, *self.proofs)
        )

    @property
    def judged(self) -> bool:
        """Whether some capture has a verdict to sign."""
        return any(row.report and row.report.verdict != "not judged" for row in self.captures)


def visit_work(member: Member, visit: Visit) -> VisitWork:  # noqa: ARG001 - every read takes who asks
    """Return the job card's part on evidence, work and outcome of a visit the member may see."""
    rows = capture_rows(visit)
    proof = VisitCapture.Purpose.VERIFICATION
    signed = tuple(visit.judgements.select_related("by__user", "run__capture"))
    orders = tuple(
        visit.work_orders.select_related(
            "assigned_to__user", "accepted_by__user", "created_by__user"
        ).prefetch_related(
            Prefetch("findings", CylinderFinding.objects.filter(replaced_by=None), "current")
        )
    )
    last = signed[0] if signed else None
    open_order = next((o for o in orders if o.state in _LIVE), None)
    return VisitWork(
        captures=tuple(r for r in rows if r.tie.purpose != proof),
        proofs=tuple(r for r in rows if r.tie.purpose == proof),
        judgement=last,
        earlier=signed[1:],
        orders=orders,
        open_order=open_order,
        may_order=last is not None
        and last.mechanical != Judgement.Mechanical.NO
        and open_order is None
        and all(o.judgement_id != last.pk for o in orders),
        outcome=Outcome.objects.filter(visit=visit).select_related("changed_by__user").first(),
        notice=method_notice(visit.vehicle.drive),
    )


def work_orders_seen_by(member: Member) -> QuerySet[WorkOrder]:
    """Return the shop's work orders with vehicle and people at hand."""
    return WorkOrder.objects.seen_by(member).select_related(
        "visit__vehicle__engine",
        "visit__shop",
        "assigned_to__user",
        "accepted_by__user",
        "created_by__user",
    )


def work_orders_listed(member: Member, *, finished: bool = False) -> QuerySet[WorkOrder]:
    """Return open work orders, the member's own first, then free ones; or the finished ones."""
    seen = work_orders_seen_by(member)
    if finished:
        return seen.exclude(state__in=_LIVE).order_by(
            F("completed_at").desc(nulls_last=True), "-created_at", "-pk"
        )
    return (
        seen.filter(state__in=_LIVE)
        .annotate(
            turn=Case(
                When(accepted_by=member, then=Value(0)),
                When(assigned_to=member, then=Value(1)),
                When(assigned_to=None, then=Value(2)),
                default=Value(3),
                output_field=IntegerField(),
            )
        )
        .order_by("turn", "created_at", "pk")
    )


def work_order_get(member: Member, order_id: int) -> WorkOrder:
    """Return one work order of the member's shop with its verdict.

    Raises
    ------
    WorkOrder.DoesNotExist
        If there is none, or it is another shop's.
    """
    return (
        work_orders_seen_by(member)
        .select_related("judgement__run__setup__engine", "judgement__run__capture")
        .select_related("judgement__by__user")
        .get(pk=order_id)
    )
