"""Moving a visit from stage to stage."""

from collections.abc import Callable

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from jobs.core.stages import LABELS, ORDER, Stage, carried_to, fallen_back_to, needs_reason, refusal
from jobs.models import Visit
from jobs.selectors.outcome import missing_for_customer
from jobs.selectors.visit_facts import visit_facts
from jobs.services.timeline import event_add
from shopdiag.people.asking_back import Confirmed, ask_back
from shopdiag.people.models import Member
from traces.selectors.clock import database_now

LONGEST_REASON = 200


def check_open(visit: Visit) -> None:
    """Refuse to add to a job that is closed.

    Raises
    ------
    ValidationError
        If it is.
    """
    if visit.stage == Stage.CLOSED:
        raise ValidationError(_("This job is closed; move it back to delivery first."))


def check_stays_open(visit_id: int) -> None:
    """Refuse to add to a job that is closed, and keep it from being closed until the commit.

    Raises
    ------
    ValidationError
        If it is.
    """
    check_open(Visit.objects.select_for_update(no_key=True).get(pk=visit_id))


@transaction.atomic
def visit_move(
    *,
    visit: Visit,
    to: Stage,
    member: Member,
    reason: str = "",
    confirmed: Confirmed = False,
) -> Visit:
    """Move a visit to another stage by hand, by the rules of `jobs.core.stages`.

    Parameters
    ----------
    reason
        Why; needed unless the move is what the job's own next step does.
    confirmed
        Whether a person was asked about what the customer copy lacks, and closes all the same.

    Raises
    ------
    ValidationError
        With the sentence that says what has to be done first, or that the reason is missing or
        too long, or that closing leaves the customer copy incomplete and was not confirmed.
    """
    # `no_key` here and elsewhere: lines that refer to the visit may be added meanwhile, or
    # two who hold an order and its visit would wait for each other.
    locked = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
    if locked.stage == to:
        return locked
    facts = visit_facts(locked)
    why_not = refusal(locked.stage_enum, to, facts)
    if why_not:
        raise ValidationError(why_not)
    reason = " ".join(reason.split())
    if not reason and needs_reason(locked.stage_enum, to, facts):
        is_back = ORDER.index(to) < ORDER.index(locked.stage_enum)
        raise ValidationError(
            {
                "reason": _("Say why the job goes back.")
                if is_back
                else _("Say why the job is moved on by hand.")
            }
        )
    if len(reason) > LONGEST_REASON:
        raise ValidationError(
            {
                "reason": _("Say it in %(longest_reason)s characters; these are %(count)s.")
                % {"longest_reason": LONGEST_REASON, "count": len(reason)}
            }
        )
    if to is Stage.CLOSED and (missing := missing_for_customer(locked)):
        asked = _("Still to be written: %(missing)s.") % {"missing": ", ".join(missing)}
        ask_back(confirmed, [asked], about={"visit": locked.pk})
    return _moved(locked, to, member, lambda: reason)


def _moved(
    locked: Visit, to: Stage, member: Member, reason: Callable[[], str] = lambda: ""
) -> Visit:
    before = locked.stage_enum
    locked.stage = to.value
    locked.closed_at = database_now() if to is Stage.CLOSED else None
    locked.save(update_fields=["stage", "closed_at"])
    event_add(
        visit=locked,
        by=member,
        kind="stage",
        words=lambda: (
            _("moved the job from %(here)s to %(there)s")
            % {"here": _(LABELS[before]), "there": _(LABELS[to])}
            + (f": {why}" if (why := reason()) else "")
        ),
        data={"from": before.value, "to": to.value, "reason": reason()},
    )
    return locked


@transaction.atomic
def visit_fall_back(*, visit: Visit, member: Member, why: Callable[[], str]) -> Visit:
    """Move a visit back where an order that was made or withdrawn leaves it."""
    locked = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
    to = fallen_back_to(locked.stage_enum, visit_facts(locked))
    return locked if to is locked.stage_enum else _moved(locked, to, member, why)


@transaction.atomic
def visit_advance(*, visit: Visit, to: Stage, member: Member) -> Visit:
    """Move forward to `to` if the visit stands before it and what is on record carries it there.

    Work done on a page carries the visit along: signing a verdict needs no separate move.
    """
    locked = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
    at = locked.stage_enum
    facts = visit_facts(locked)
    if ORDER.index(at) < ORDER.index(to) and carried_to(to, facts):
        return _moved(locked, to, member)
    while ORDER.index(at) < ORDER.index(to):
        following = next(
            (
                s
                for s in reversed(ORDER[ORDER.index(at) + 1 : ORDER.index(to) + 1])
                if refusal(at, s, visit_facts(locked)) is None
            ),
            None,
        )
        if following is None:
            break
        locked = _moved(locked, following, member)
        at = following
    return locked
