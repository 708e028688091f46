"""Noting what the customer said about the repair."""

from dataclasses import dataclass
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from jobs.core.amounts import amount_with_currency
from jobs.core.authorised import (
    USUAL_REPAIR,
    USUAL_REPAIR_MINUTES,
    doubts_about_amount,
    doubts_about_minutes,
)
from jobs.core.stages import Stage
from jobs.models import RepairConsent, Visit
from jobs.selectors.captures import latest_judgement
from jobs.selectors.consents import orders_done, up_to
from jobs.services.timeline import event_add
from jobs.services.visits import check_open, visit_advance
from shopdiag.people.asking_back import Confirmed, already_there, ask_back
from shopdiag.people.models import Member


@dataclass(frozen=True, slots=True)
class SaidOnRepair:
    """A customer's answer; values as `RepairConsent` keeps them."""

    agreed: bool
    said_by: str
    how: str
    amount: str = ""
    scope: str = ""
    minutes: int | None = None
    confirmed: Confirmed = False
    """Whether a person was asked about an odd amount or time and says that it is right."""


@transaction.atomic
def consent_add(
    *, visit: Visit, member: Member, said: SaidOnRepair, form_token: UUID | None = None
) -> RepairConsent:
    """Note a customer's answer; a yes takes a job whose diagnosis is done on to the repair.

    The same `form_token` gives the same record, so that a form sent twice notes once; the
    same answer under another token is asked back.

    Raises
    ------
    ValidationError
        If the job is closed, nothing is signed, who said it or how is missing, or an odd amount
        or time is not confirmed.
    """
    locked = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
    if form_token:
        earlier = RepairConsent.objects.filter(visit=locked, form_token=form_token).first()
        if earlier:
            return earlier
    check_open(locked)
    verdict = latest_judgement(locked)
    if verdict is None:
        raise ValidationError(
            _("Sign a verdict first: the customer agrees to a repair of what was found.")
        )
    asked = doubts_about_amount(said.amount, locked.shop.currency, usual=USUAL_REPAIR)
    if said.minutes is not None:
        asked += doubts_about_minutes(said.minutes, usual=USUAL_REPAIR_MINUTES)
    answer = {
        "agreed": said.agreed,
        "said_by": said.said_by.strip(),
        "how": said.how,
        "amount": amount_with_currency(said.amount, locked.shop.currency),
        "minutes": said.minutes,
        "scope": said.scope.strip(),
        "after_orders": orders_done(locked),
    }
    there = already_there(locked.repair_consents.filter(by=member), **answer) if form_token else ()
    ask_back(said.confirmed, asked, there, about=answer)
    consent = RepairConsent(
        visit=locked,
        **answer,
        judgement=verdict,
        form_token=form_token,
        by=member,
    )
    consent.full_clean()
    consent.save()
    event_add(
        visit=locked,
        by=member,
        kind="consent",
        words=lambda: _answer_words(consent),
        data={"consent": consent.pk, "agreed": consent.agreed},
    )
    if consent.agreed:
        visit_advance(visit=locked, to=Stage.VERIFY, member=member)
    return consent


def _answer_words(consent: RepairConsent) -> str:
    """Return what the timeline says of an answer."""
    limits = up_to(consent) if consent.agreed else ""
    return _("noted that %(said_by)s %(verb)s%(amount)s (%(how)s)") % {
        "said_by": consent.said_by,
        "verb": _("agreed to the repair") if consent.agreed else _("wants no repair"),
        "amount": _(", up to %(amount)s") % {"amount": limits} if limits else "",
        "how": consent.get_how_display().lower(),
    }
