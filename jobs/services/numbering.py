"""Confirming on the vehicle how its cylinders are numbered."""

from dataclasses import dataclass
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from engines.core.mounting import Direction, Mounting, MountingError, Side
from jobs.models import NumberingCheck, Visit
from jobs.services.timeline import event_add
from jobs.services.visits import check_open
from shopdiag.people.asking_back import Confirmed, already_there, ask_back
from shopdiag.people.models import Member


@dataclass(frozen=True, slots=True)
class SeenOnVehicle:
    """What a person read off the vehicle; values as `NumberingCheck` keeps them."""

    basis: str
    direction: str = ""
    bank_a_side: str = ""
    note: str = ""
    confirmed: Confirmed = False
    """Whether a person was asked why the same is said once more."""


def check_mounting(direction: str, bank_a_side: str) -> None:
    """Refuse a side without a direction, and a pair of which no engine sits so.

    Raises
    ------
    ValidationError
        With the sentence at the field that it is about.
    """
    if bank_a_side and not direction:
        raise ValidationError({"direction": _("Say how the engine sits as well.")})
    if bank_a_side:
        try:
            Mounting(Direction(direction), Side(bank_a_side))
        except MountingError as error:
            raise ValidationError({"bank_a_side": str(error)}) from None


@transaction.atomic
def numbering_confirm(
    *, visit: Visit, member: Member, seen: SeenOnVehicle, form_token: UUID | None = None
) -> NumberingCheck:
    """Confirm the numbering for this visit; the same `form_token` sent twice counts once.

    The same said under another token is asked back.

    Raises
    ------
    ValidationError
        If the visit is closed, or direction and side contradict each other.
    """
    visit = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
    if form_token:
        sent_before = NumberingCheck.objects.filter(visit=visit, form_token=form_token).first()
        if sent_before:
            return sent_before
    check_open(visit)
    check_mounting(seen.direction, seen.bank_a_side)
    said = {
        "basis": seen.basis,
        "direction": seen.direction,
        "bank_a_side": seen.bank_a_side,
        "note": seen.note.strip(),
    }
    if form_token:
        by_member = visit.numbering_checks.filter(by=member)
        ask_back(seen.confirmed, already_there(by_member, **said), about=said)
    check = NumberingCheck(
        visit=visit,
        **said,
        form_token=form_token,
        by=member,
    )
    check.full_clean()
    check.save()
    event_add(
        visit=visit,
        by=member,
        kind="numbering",
        words=lambda: (
            _("confirmed the cylinder numbering: %(basis)s")
            % {"basis": check.get_basis_display().lower()}
        ),
        data={"numbering": check.pk, "basis": check.basis},
    )
    return check
