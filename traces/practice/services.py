"""Drawing exercises, marking them, and setting cases."""

import secrets
from functools import partial
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shopdiag.people.models import Member
from traces.models import Work
from traces.practice.core.levels import LEVELS, can_have
from traces.practice.core.levels import Fault as FaultKind
from traces.practice.core.marking import Answer, Truth, score
from traces.practice.models import Exercise, SetCase
from traces.practice.selectors import member_progress, open_exercise
from traces.runs.sending import send
from traces.selectors.clock import database_now


@transaction.atomic
def exercise_add(
    *, member: Member, form_token: UUID, level: int, set_case: SetCase | None = None
) -> Exercise:
    """Have a capture drawn for a person; one that they have not marked yet comes first.

    Raises
    ------
    ValidationError
        If the person has not come to this level, or the case is not for them to mark.
    """
    # One at a time for a member, so that a double submit finds the first.
    Member.objects.select_for_update(no_key=True).get(pk=member.pk)
    earlier = Exercise.objects.of(member).filter(form_token=form_token).first()
    if earlier:
        return earlier
    waiting = open_exercise(member)
    if waiting:
        return waiting
    if set_case is not None:
        set_case = SetCase.objects.seen_by(member).get(pk=set_case.pk)
        _check_set_for(set_case, member)
        level = set_case.level
    elif not 1 <= level <= member_progress(member).level:
        raise ValidationError(_("You have not come to that level yet; take yours or one below it."))
    exercise = Exercise.objects.create(
        shop_id=member.shop_id,
        member=member,
        set_case=set_case,
        level=level,
        seed=secrets.randbits(62),
        form_token=form_token,
        queued_at=database_now(),
    )
    transaction.on_commit(partial(send, Exercise, exercise.pk), robust=True)
    return exercise


def _check_set_for(set_case: SetCase, member: Member) -> None:
    done = Exercise.objects.of(member).filter(set_case=set_case).exclude(state=Work.State.FAILED)
    if set_case.withdrawn_at or set_case.set_for_id not in {None, member.pk} or done.exists():
        raise ValidationError(_("This case is not set for you any more."))


@transaction.atomic
def exercise_answer(*, exercise: Exercise, member: Member, answer: Answer) -> Exercise:
    """Keep what a person marked, with its score; the first answer stands.

    Raises
    ------
    ValidationError
        If the capture is not drawn yet, or was answered otherwise before.
    """
    row = Exercise.objects.select_for_update().get(pk=exercise.pk, member=member)
    if row.is_answered:
        if row.answer == answer.to_json():
            return row
        raise ValidationError(
            _("This capture is answered already and its solution was shown; draw another one.")
        )
    if row.truth is None:
        raise ValidationError(_("The capture is not drawn yet; wait a moment."))
    found = score(Truth.from_json(row.truth), answer)
    row.answer = answer.to_json()
    row.points, row.most_points = found.points, found.most
    row.answered_at = timezone.now()
    row.save(update_fields=["answer", "points", "most_points", "answered_at"])
    return row


@transaction.atomic
def case_set(
    *,
    member: Member,
    level: int,
    engine: str = "",
    fault: str = "",
    set_for: Member | None = None,
    form_token: UUID | None = None,
) -> SetCase:
    """Set a case for one person, or for everybody in the shop.

    Raises
    ------
    ValidationError
        If the engine cannot have the fault, or the level does not exist.
    """
    Member.objects.select_for_update(no_key=True).get(pk=member.pk)
    mine = SetCase.objects.seen_by(member).filter(created_by=member)
    if form_token and (earlier := mine.filter(form_token=form_token).first()):
        return earlier
    same = mine.filter(
        level=level, engine=engine, fault=fault, set_for=set_for, withdrawn_at=None
    ).first()
    if same:
        # The same case is open already: setting it twice would only list it twice.
        return same
    if not 1 <= level <= len(LEVELS):
        raise ValidationError({"level": _("There is no such level; take one from the list.")})
    if fault and not engine:
        raise ValidationError({"engine": _("Choose the engine that shall have this fault.")})
    if engine and fault and not can_have(engine, FaultKind(fault)):
        raise ValidationError(
            {"fault": _("This engine cannot have that fault; take another engine or fault.")}
        )
    if set_for is not None and set_for.shop_id != member.shop_id:
        raise ValidationError({"set_for": _("Choose somebody from the list.")})
    return SetCase.objects.create(
        shop_id=member.shop_id,
        level=level,
        engine=engine,
        fault=fault,
        set_for=set_for,
        form_token=form_token,
        created_by=member,
    )


def case_withdraw(*, set_case: SetCase) -> None:
    """Take a case back; exercises that were drawn from it stay."""
    SetCase.objects.filter(pk=set_case.pk, withdrawn_at=None).update(withdrawn_at=timezone.now())
