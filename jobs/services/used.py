"""Booking time and parts on a job, and taking a line back."""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from jobs.core.amounts import money_written
from jobs.models import UsedLine, Visit, WorkOrder
from jobs.selectors.used import is_for_repair, may_take_back
from jobs.services.timeline import event_add
from jobs.services.visits import check_open
from shopdiag.people.asking_back import Confirmed, already_there, ask_back
from shopdiag.people.models import Member


@dataclass(frozen=True, slots=True)
class WasUsed:
    """What was used; values as `UsedLine` keeps them."""

    minutes: int = 0
    amount: Decimal = Decimal(0)
    what: str = ""
    confirmed: Confirmed = False


@transaction.atomic
def used_add(
    *,
    visit: Visit,
    member: Member,
    used: WasUsed,
    order: WorkOrder | None = None,
    form_token: UUID | None = None,
) -> UsedLine:
    """Book what was used; more than was authorised is booked all the same, because it was used.

    The same `form_token` gives the same line; the same figures under another are asked back.

    Raises
    ------
    ValidationError
        If the job is closed, or neither minutes nor an amount is given.
    """
    locked = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
    if form_token:
        earlier = UsedLine.objects.filter(visit=locked, form_token=form_token).first()
        if earlier:
            return earlier
    check_open(locked)
    if not used.minutes and not used.amount:
        raise ValidationError({"minutes": _("Give the minutes worked, or an amount for parts.")})
    said = {"minutes": used.minutes, "amount": used.amount, "what": used.what.strip()}
    mine = locked.used_lines.filter(by=member, work_order=order, taken_back_by=None)
    ask_back(used.confirmed, already_there(mine, **said) if form_token else (), about=said)
    line = UsedLine(
        visit=locked,
        work_order=order,
        is_repair=is_for_repair(locked, order),
        hourly_rate=locked.shop.hourly_rate,
        by=member,
        form_token=form_token,
        **said,
    )
    line.full_clean()
    line.save()
    _tell(line, lambda: _("booked %(figures)s%(what)s"))
    return line


@transaction.atomic
def used_take_back(*, line: UsedLine, member: Member) -> UsedLine:
    """Take a line back by a counter line; a second time gives the first counter line.

    Raises
    ------
    ValidationError
        If the job is closed, or the line is a colleague's.
    """
    locked = Visit.objects.select_for_update(no_key=True).get(pk=line.visit_id)
    there = UsedLine.objects.filter(takes_back=line).first()
    if there:
        return there
    check_open(locked)
    if not may_take_back(line, member):
        raise ValidationError(_("This line is a colleague's; ask them, or whoever orders work."))
    counter = UsedLine.objects.create(
        visit=locked,
        work_order=line.work_order,
        is_repair=line.is_repair,
        minutes=line.minutes,
        amount=line.amount,
        what=line.what,
        hourly_rate=line.hourly_rate,
        takes_back=line,
        by=member,
    )
    _tell(counter, lambda: _("took back %(figures)s%(what)s"))
    return counter


def _tell(line: UsedLine, words: Callable[[], str]) -> None:
    event_add(
        visit=line.visit,
        by=line.by,
        kind="used",
        words=lambda: words() % _figures(line),
        data={"used": line.pk, "work_order": line.work_order_id},
    )


def _figures(line: UsedLine) -> dict[str, str]:
    figures = [_("%(minutes)s minutes") % {"minutes": line.minutes}] if line.minutes else []
    if line.amount:
        figures.append(money_written(float(line.amount), line.visit.shop.currency))
    return {"figures": ", ".join(figures), "what": f": {line.what}" if line.what else ""}
