"""What the customer said about the repair, and which verdicts and work orders that covers.

A consent keeps the verdict it was said to, an order the last answer it was made after: what came
first is told by ids, because a host's clock steps back.
"""

from collections.abc import Iterable, Sequence

from django.utils.translation import gettext as _

from jobs.core.amounts import amount_written
from jobs.core.consent import BEFORE_FINDINGS, ORDER_OUT, Diagnosed, other_verdict_words
from jobs.models import Complaint, Judgement, RepairConsent, Visit, WorkOrder


def orders_done(visit: Visit) -> int:
    """Return how many work orders of a visit are done."""
    return visit.work_orders.filter(state=WorkOrder.State.DONE).count()


def consent_standing(visit: Visit) -> RepairConsent | None:
    """Return the customer's last answer on the repair; None where another diagnosis followed it.

    The order that carries out the repair does not count against it.
    """
    last = _last_consent(visit)
    return last if last is not None and _stands(last) else None


def repair_agreed(judgement: Judgement) -> RepairConsent | None:
    """Return the yes that an order made now of `judgement` carries out.

    Only a yes that was said once an order had found something is one to a repair, and only to
    that of the verdict it was said to.
    """
    said = consent_standing(judgement.visit)
    return said if said is not None and is_yes_to(said, judgement) else None


def repair_consent_of(order: WorkOrder) -> RepairConsent | None:
    """Return the yes whose repair an order carries out; None for the order of a diagnosis."""
    before = order.last_answer
    if before is None or not is_yes_to(before, order.judgement):
        return None
    return before if stands_among(before, _done(before, up_to=order)) else None


def is_of_repair(order: WorkOrder, among: Sequence[WorkOrder]) -> bool:
    """Return whether an order carries out a repair, told from all orders of its visit."""
    before = order.last_answer
    if before is None or not is_yes_to(before, order.judgement):
        return False
    done = sorted((o for o in among if _is_done(o)), key=lambda o: o.pk)
    return stands_among(before, _done_before(order, done))


def order_made(judgement: Judgement) -> WorkOrder | None:
    """Return the order that a verdict has already; None where one may be made.

    Where a repair of it was agreed since, only an order made after that yes counts, or the order
    of a repair that went on under it.
    """
    agreed = repair_agreed(judgement)
    orders = judgement.work_orders.select_related("last_answer__judgement").order_by("-pk")
    if agreed is None:
        return orders.first()
    return order_among(agreed, orders, _done(agreed))


def order_among(
    agreed: RepairConsent | None, orders: Iterable[WorkOrder], done: Sequence[WorkOrder]
) -> WorkOrder | None:
    """Return the order that a verdict has already among its orders, the newest first.

    Parameters
    ----------
    agreed
        The yes to the verdict's repair that stands; None where there is none.
    done
        The visit's orders that are done, by id.
    """
    if agreed is None:
        return next(iter(orders), None)
    return next((order for order in orders if _is_order_of(agreed, order, done)), None)


def covers_verdict(said: RepairConsent) -> bool:
    """Return whether an answer is one to the verdict that stands."""
    return covers(said, said.visit.judgements.order_by("-pk").first())


def covers(said: RepairConsent, now: Judgement | None) -> bool:
    """Return whether an answer is one to the verdict `now`."""
    then = said.judgement
    return then is not None and now is not None and _diagnosed(then).covers(_diagnosed(now))


def yes_falls_short(said: RepairConsent | None) -> str:
    """Return why a yes that stands covers less than it seems; empty where it does not."""
    if said is None or not said.agreed:
        return ""
    out = said.visit.work_orders.filter(state__in=WorkOrder.OPEN_STATES).first()
    now = said.visit.judgements.order_by("-pk").first()
    return falls_short(said, now, out, _done(said))


def falls_short(
    said: RepairConsent, now: Judgement | None, out: WorkOrder | None, done: Sequence[WorkOrder]
) -> str:
    """Return why a yes that stands covers less than it seems; empty where it does not.

    Parameters
    ----------
    now
        The verdict that stands.
    out, done
        The visit's order that is out; those that are done, by id.
    """
    if not covers(said, now):
        then = said.judgement
        return other_verdict_words(then.cylinders if then else [])
    if out is not None:
        return "" if _carries_out(out, said, done) else _(ORDER_OUT)
    return "" if said.after_orders else _(BEFORE_FINDINGS)


def up_to(said: RepairConsent) -> str:
    """Return the limits of a yes: amount and time; empty where none were noted."""
    minutes = "" if said.minutes is None else _("%(minutes)s min") % {"minutes": said.minutes}
    return ", ".join(filter(None, (amount_written(said.amount), minutes)))


def minutes_authorised(visit: Visit, agreed: RepairConsent | None) -> int | None:
    """Return for how many minutes the customer said yes, of a repair or else of the diagnosis."""
    if agreed is not None:
        return agreed.minutes
    complaint = Complaint.objects.filter(visit=visit).first()
    return complaint.authorised_minutes if complaint else None


def _last_consent(visit: Visit) -> RepairConsent | None:
    return (
        visit.repair_consents.select_related("by__user", "visit", "judgement")
        .order_by("-pk")
        .first()
    )


def stands_among(said: RepairConsent, done: Sequence[WorkOrder]) -> bool:
    """Return whether every order done since an answer carries out what was agreed.

    Parameters
    ----------
    done
        The visit's orders that are done, by id; up to an order that is asked about.
    """
    return all(_carries_out(order, said, done) for order in done[said.after_orders :])


def _carries_out(order: WorkOrder, said: RepairConsent, done: Sequence[WorkOrder]) -> bool:
    """Return whether an order that was not done when `said` was noted carries that out.

    It was made after it, or it is the order of a repair that was agreed before: a customer who
    agrees to more while the work goes on means that work.
    """
    if not is_yes_to(said, order.judgement):
        return False
    return (order.last_answer_id or 0) >= said.pk or is_of_repair(order, done)


def _is_order_of(agreed: RepairConsent, order: WorkOrder, done: Sequence[WorkOrder]) -> bool:
    """Return whether an order was made after a yes, or was out under it and not withdrawn."""
    if (order.last_answer_id or 0) >= agreed.pk:
        return True
    was_out = len(_done_before(order, done)) >= agreed.after_orders
    is_kept = order.state != WorkOrder.State.WITHDRAWN
    return was_out and is_kept and _carries_out(order, agreed, done)


def _done_before(order: WorkOrder, done: Sequence[WorkOrder]) -> list[WorkOrder]:
    # a job has one order out at a time, so ids tell which was done first
    return [earlier for earlier in done if earlier.pk < order.pk]


def _stands(said: RepairConsent) -> bool:
    return stands_among(said, _done(said))


def _done(said: RepairConsent, up_to: WorkOrder | None = None) -> list[WorkOrder]:
    done = said.visit.work_orders.filter(state=WorkOrder.State.DONE).order_by("pk")
    if up_to is not None:
        done = done.filter(pk__lt=up_to.pk)
    return list(done.select_related("judgement", "last_answer__judgement"))


def _is_done(order: WorkOrder) -> bool:
    return order.state == WorkOrder.State.DONE


def is_yes_to(said: RepairConsent, judgement: Judgement) -> bool:
    """Return whether an answer is a yes to the repair of a verdict, once an order had found it."""
    if not said.agreed or not said.after_orders:
        return False
    then = said.judgement
    return then is not None and _diagnosed(then).covers(_diagnosed(judgement))


def _diagnosed(judgement: Judgement) -> Diagnosed:
    return Diagnosed(judgement.group, frozenset(judgement.cylinders))
