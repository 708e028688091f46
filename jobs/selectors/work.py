"""Work orders and what hangs on them, as a member of the shop sees them."""

from dataclasses import dataclass
from enum import IntEnum

from django.db.models import Case, F, IntegerField, Prefetch, QuerySet, Value, When
from django.utils.translation import gettext as _

from jobs.core.authorised import order_minutes_words
from jobs.core.cautions import method_notice
from jobs.core.request import named
from jobs.models import (
    CylinderFinding,
    Judgement,
    Outcome,
    Question,
    RepairConsent,
    Visit,
    VisitCapture,
    WorkOrder,
)
from jobs.selectors.captures import CaptureRow, capture_rows
from jobs.selectors.consents import (
    consent_standing,
    minutes_authorised,
    order_made,
    repair_agreed,
    repair_consent_of,
    up_to,
    yes_falls_short,
)
from jobs.selectors.findings import (
    listed_once,
    summary_beyond,
)
from jobs.selectors.found_elsewhere import found_elsewhere, unsigned
from jobs.selectors.in_cylinder import CylindersInTurn, cylinders_in_turn
from jobs.selectors.misfires import beside_judgement
from jobs.selectors.pooled_captures import CapturesTogether, together_of
from jobs.selectors.questions import stopped_orders
from jobs.selectors.running import RunningBeside, running_beside
from jobs.selectors.used import UsedOnJob, used_on
from shopdiag.people.core.roles import ALLOWED, Action, Role
from shopdiag.people.models import Member


class Turn(IntEnum):
    """Whose a work order is to whoever looks at the list, in its order."""

    YOURS = 0
    FOR_YOU = 1
    OF_YOUR_JOBS = 2
    FREE = 3
    OTHERS = 4


@dataclass(frozen=True, slots=True)
class VisitWork:
    """What the job card shows of captures, verdicts, work orders and outcome.

    Parameters
    ----------
    captures, proofs
        Captures of the cranked engine for the diagnosis, and those made after the repair.
    idling, pressures
        Captures of the idling engine, and of pressures in the cylinders, before and after the
        repair.
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
    is_repair_next
        Whether that would be the order of a repair the customer agreed to.
    has_repair_to_order
        Whether such an order wants a new verdict first: one was withdrawn, or tests found another
        cylinder bad than the verdict names.
    notice
        Why captures may not apply to this vehicle; None where they do.
    together
        Captures of one state compared and pooled, those before the repair first.
    consent
        The customer's answer on the repair as it stands; None while there is none.
    yes_falls_short
        Why a yes covers less than it seems; empty where it does not.
    beside
        Codes and counts that name another cylinder or bank than what stands.
    """

    captures: tuple[CaptureRow, ...]
    idling: tuple[CaptureRow, ...]
    pressures: tuple[CaptureRow, ...]
    proofs: tuple[CaptureRow, ...]
    judgement: Judgement | None
    earlier: tuple[Judgement, ...]
    orders: tuple[WorkOrder, ...]
    open_order: WorkOrder | None
    may_order: bool
    is_repair_next: bool
    has_repair_to_order: bool
    outcome: Outcome | None
    notice: str | None
    together: tuple[CapturesTogether, ...] = ()
    consent: RepairConsent | None = None
    yes_falls_short: str = ""
    beside: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()
    """Asked on the open order and not answered."""
    found_elsewhere: str = ""
    """What a test found bad beside the verdict."""
    running: RunningBeside | None = None
    """The idling engine beside the cranked one; None where it was not recorded."""
    running_after: RunningBeside | None = None
    """The same after the repair."""
    in_turn: CylindersInTurn | None = None
    """Pressures in the cylinders, measured in turn; None where none was."""
    in_turn_after: CylindersInTurn | None = None
    """The same after the repair."""
    used: UsedOnJob | None = None
    """Time and parts, beside what was authorised."""

    @property
    def up_to(self) -> str:
        """Amount and time that the customer agreed to; empty where no limit was noted."""
        return up_to(self.consent) if self.consent else ""

    @property
    def awaits_consent(self) -> bool:
        """Whether the diagnosis is done and nobody has said yet whether to repair."""
        done = any(o.state == WorkOrder.State.DONE for o in self.orders)
        return done and self.open_order is None and self.consent is None

    @property
    def waiting(self) -> bool:
        """Whether a capture's analysis is still under way."""
        return any(
            row.run is not None and not row.run.is_settled
            for row in (*self.captures, *self.proofs, *self.pressures)
        )

    @property
    def judged(self) -> bool:
        """Whether some capture has a verdict to sign."""
        return any(row.report and row.report.verdict != "not judged" for row in self.captures)


def is_superseded(order: WorkOrder, newest: Judgement | None) -> bool:
    """Return whether the newest verdict says otherwise than the one an open order was made from."""
    made_from = order.judgement
    return (
        order.state in WorkOrder.OPEN_STATES
        and newest is not None
        and newest.pk > made_from.pk
        and _says(newest) != _says(made_from)
    )


def superseded_by(order: WorkOrder, newest: Judgement | None) -> str:
    """Return what the newest verdict says otherwise than the one an order was made from.

    Empty where it says the same, and once the order is done or withdrawn.
    """
    if newest is None or not is_superseded(order, newest):
        return ""
    names = (
        _("names %(cylinders)s") % {"cylinders": named(newest.cylinders)}
        if newest.cylinders
        else _("names no cylinder")
    )
    what = newest.get_mechanical_display().lower()
    if newest.is_beyond_compression:
        what += f", {newest.group_label.lower()}"
    return _(
        "This work order was made from an earlier verdict. The newest %(names)s: "
        "%(what)s (signed by %(by)s)."
    ) % {"names": names, "what": what, "by": newest.by.name}


def _says(judgement: Judgement) -> tuple[list[int], str, str]:
    return (judgement.cylinders, judgement.mechanical, judgement.group.value)


def visit_work(member: Member, visit: Visit) -> VisitWork:  # noqa: ARG001 - every read takes who asks
    """Return the job card's part on evidence, work and outcome of a visit the member may see."""
    rows = capture_rows(visit)
    signed = tuple(visit.judgements.select_related("by__user", "run__capture"))
    orders = tuple(
        visit.work_orders.select_related(
            "judgement", "assigned_to__user", "accepted_by__user", "created_by__user"
        ).prefetch_related(
            Prefetch("findings", CylinderFinding.objects.filter(replaced_by=None).order_by("pk")),
            "swaps",
        )
    )
    for order in orders:
        order.superseded = superseded_by(order, signed[0] if signed else None)
        order.current = listed_once(order.findings.all())
        order.summary_beyond = summary_beyond(
            order.summary, order.current, visit.shop.pressure_unit, order.swaps.all()
        )
    last = signed[0] if signed else None
    consent = consent_standing(visit)
    open_order = next((o for o in orders if o.state in WorkOrder.OPEN_STATES), None)
    is_repair_next = last is not None and repair_agreed(last) is not None
    made = order_made(last) if last else None
    elsewhere = unsigned(last)
    return VisitWork(
        captures=tuple(r for r in rows if r.tie.purpose == VisitCapture.Purpose.DIAGNOSIS),
        proofs=tuple(r for r in rows if r.tie.purpose == VisitCapture.Purpose.VERIFICATION),
        idling=tuple(r for r in rows if r.tie.is_running),
        pressures=tuple(r for r in rows if r.tie.is_pressure),
        judgement=last,
        earlier=signed[1:],
        orders=orders,
        open_order=open_order,
        may_order=last is not None
        and open_order is None
        and made is None
        and not (is_repair_next and elsewhere),
        is_repair_next=is_repair_next,
        has_repair_to_order=is_repair_next
        and open_order is None
        and (bool(elsewhere) if made is None else made.state == WorkOrder.State.WITHDRAWN),
        outcome=Outcome.objects.filter(visit=visit).select_related("changed_by__user").first(),
        notice=method_notice(visit.vehicle.drive),
        consent=consent,
        yes_falls_short=yes_falls_short(consent),
        beside=beside_judgement(last),
        questions=tuple(open_order.open_questions) if open_order else (),
        found_elsewhere=found_elsewhere(last),
        running=running_beside(visit, rows, signed=last),
        running_after=running_beside(visit, rows, after_repair=True),
        in_turn=cylinders_in_turn(visit, rows),
        in_turn_after=cylinders_in_turn(visit, rows, after_repair=True),
        used=used_on(visit),
        together=tuple(
            found
            for purpose in VisitCapture.CRANKED
            if (found := together_of(visit, rows, purpose))
        ),
    )


def work_orders_listed(member: Member, *, finished: bool = False) -> QuerySet[WorkOrder]:
    """Return open work orders, the member's own first, then free ones; or the finished ones.

    Those that are stopped come first among their like.

    `turn` says which they are: a service writer's own are those of jobs they opened.
    """
    seen = WorkOrder.objects.seen_by(member).with_people()
    if finished:
        return seen.exclude(state__in=WorkOrder.OPEN_STATES).order_by(
            F("completed_at").desc(nulls_last=True), "-created_at", "-pk"
        )
    if member.may(Action.DO_WORK):
        turns = [
            When(accepted_by=member, then=Value(Turn.YOURS)),
            When(accepted_by=None, assigned_to=member, then=Value(Turn.FOR_YOU)),
            When(accepted_by=None, assigned_to=None, then=Value(Turn.FREE)),
        ]
    else:
        turns = [When(visit__opened_by=member, then=Value(Turn.OF_YOUR_JOBS))]
    return (
        seen.filter(state__in=WorkOrder.OPEN_STATES)
        .annotate(turn=Case(*turns, default=Value(Turn.OTHERS), output_field=IntegerField()))
        .annotate(is_stopped=stopped_orders())
        .order_by("turn", "-is_stopped", "pk")
    )


def minutes_words(order: WorkOrder) -> str:
    """Return an order's time beside what the customer authorised."""
    agreed = repair_consent_of(order)
    return order_minutes_words(
        order.scope_minutes,
        minutes_authorised(order.visit, agreed),
        is_repair=agreed is not None,
    )


def mechanics_of(visit: Visit) -> QuerySet[Member]:
    """Return the shop's people who do work orders, mechanics first."""
    doing = [role.value for role in Role if Action.DO_WORK in ALLOWED[role]]
    return (
        Member.objects.filter(shop_id=visit.shop_id, active=True, role__in=doing)
        .select_related("user")
        .annotate(
            turn=Case(
                When(role=Role.MECHANIC.value, then=Value(0)),
                default=Value(1),
                output_field=IntegerField(),
            )
        )
        .order_by("turn", "user__name", "pk")
    )
