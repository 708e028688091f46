"""How a visit ended: cause, correction, proof, and the customer's version of it."""

from collections.abc import Iterable

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from jobs.core.misfires import (
    doubts_about_counts,
    doubts_about_proof,
    doubts_about_same,
    doubts_beside_card,
)
from jobs.core.stages import Stage
from jobs.models import Outcome, Visit, WorkOrder
from jobs.selectors.misfires import counts_on_card
from jobs.selectors.outcome import uneven_after
from jobs.services.changes import record_change
from jobs.services.visits import check_open, visit_advance
from shopdiag.people.asking_back import Confirmed, ask_back
from shopdiag.people.core.numerals import written
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member

FIELDS = (
    "cause",
    "correction",
    "verified",
    "verified_how",
    "drive",
    "misfires_before",
    "misfires_after",
    "told_customer",
)
CUSTOMER_FIELDS = ("told_customer",)


def outcome_of(*, visit: Visit) -> Outcome:
    """Return the visit's outcome, or a new one that is not saved yet."""
    return Outcome.objects.filter(visit=visit).first() or Outcome(visit=visit)


def outcome_fields(member: Member) -> tuple[str, ...]:
    """Return what a member writes: who measured documents, the writer words it for the customer."""
    if member.may(Action.VERIFY):
        return FIELDS
    return CUSTOMER_FIELDS if member.may(Action.HAND_BACK) else ()


@transaction.atomic
def outcome_change(
    *,
    outcome: Outcome,
    expected_version: int,
    member: Member,
    fields: Iterable[str],
    confirmed: Confirmed = False,
) -> bool:
    """Save `fields` of an outcome; a proved or declined repair carries the visit to delivery.

    Parameters
    ----------
    confirmed
        Whether a person was asked about odd counts or a doubtful proof, and stands by them.

    Raises
    ------
    SavedMeanwhileError
        If somebody else saved it after `expected_version`.
    ValidationError
        If the visit is closed, or "verified" is said without how, counts without a drive,
        the repair is said to hold with no fewer misfires than before or while a work order is
        out, or odd counts or a doubtful proof are not confirmed.
    """
    visit = Visit.objects.select_for_update(no_key=True).get(pk=outcome.visit_id)
    check_open(visit)
    row, _ = Outcome.objects.get_or_create(visit=visit)
    outcome.pk = row.pk
    names = [name for name in fields if name in outcome_fields(member)]
    if "verified" in names and outcome.verified in {Outcome.Verified.YES, Outcome.Verified.NO}:
        _check_how(outcome)
    if {"drive", "misfires_before", "misfires_after"} & set(names):
        _check_counts(outcome)
    if {"verified", "misfires_before", "misfires_after"} & set(names):
        _check_proof(outcome)
        _check_no_order_out(outcome, row)
        _ask_back(confirmed, outcome, row)
    changed = record_change(
        row=outcome,
        expected_version=expected_version,
        member=member,
        fields=names,
        visits=[visit],
        kind="outcome",
        what=lambda: gettext("the outcome"),
    )
    if changed and outcome.verified in {Outcome.Verified.YES, Outcome.Verified.NOT_REPAIRED}:
        visit_advance(visit=visit, to=Stage.HAND_BACK, member=member)
    return changed


def _check_counts(outcome: Outcome) -> None:
    """Counts prove something only over a stated drive, and before beside after."""
    counted = outcome.misfires_before is not None or outcome.misfires_after is not None
    if counted and not outcome.drive.strip():
        raise ValidationError(
            {
                "drive": gettext(
                    "Say over which drive the misfires were counted: distance, load, how long?"
                )
            }
        )
    if outcome.misfires_after is not None and outcome.misfires_before is None:
        raise ValidationError(
            {
                "misfires_before": gettext(
                    "Give the count before the repair too, over the same drive."
                )
            }
        )


def _check_proof(outcome: Outcome) -> None:
    """A repair does not hold that left as many misfires over the same drive as before."""
    before, after = outcome.misfires_before, outcome.misfires_after
    if outcome.verified != Outcome.Verified.YES or before is None or after is None:
        return
    if after > 0 and after >= before:
        raise ValidationError(
            {
                "misfires_after": gettext(
                    "%(after)s misfires after and %(before)s before: over the same drive that is "
                    "no repair that holds. Check the counts, or choose “Still the same”."
                )
                % {"after": written(f"{after:,}"), "before": written(f"{before:,}")}
            }
        )


def _check_no_order_out(outcome: Outcome, stands: Outcome) -> None:
    """What somebody still works on is no repair that holds."""
    if outcome.verified != Outcome.Verified.YES or stands.verified == Outcome.Verified.YES:
        return
    if outcome.visit.work_orders.filter(state__in=WorkOrder.OPEN_STATES).exists():
        raise ValidationError(
            {
                "verified": gettext(
                    "A work order of this job is still out; complete or withdraw it first, "
                    "then say whether the repair holds."
                )
            }
        )


def _ask_back(confirmed: Confirmed, outcome: Outcome, stands: Outcome) -> None:
    """Ask about counts and a proof that are likely slips and do not stand as they are."""
    figures = ("verified", "misfires_before", "misfires_after")
    if all(getattr(outcome, name) == getattr(stands, name) for name in figures):
        return
    before, after = outcome.misfires_before, outcome.misfires_after
    holds = outcome.verified == Outcome.Verified.YES
    asked = doubts_about_counts(count for count in (before, after) if count is not None)
    if before is not None and before != stands.misfires_before:
        asked += doubts_beside_card(before, counts_on_card(outcome.visit))
    if before is not None and after is not None:
        if outcome.verified == Outcome.Verified.NO:
            asked += doubts_about_same(before, after)
        if holds:
            asked += doubts_about_proof(before, after)
    if holds and (uneven := uneven_after(outcome.visit)):
        asked += (
            gettext(
                "The capture after the repair came out %(uneven)s. Confirm that the repair "
                "holds all the same, or choose “Still the same”."
            )
            % {"uneven": uneven},
        )
    ask_back(confirmed, asked, about={name: getattr(outcome, name) for name in figures})


def _check_how(outcome: Outcome) -> None:
    """Words, or both counts over a stated drive, say how it was verified."""
    counts = (outcome.misfires_before, outcome.misfires_after)
    is_counted = None not in counts and bool(outcome.drive.strip())
    if not outcome.verified_how.strip() and not is_counted:
        raise ValidationError(
            {
                "verified_how": gettext(
                    "Say how it was verified: a second capture, a gauge, a road test "
                    "under the conditions of the complaint, or misfires counted over one drive?"
                )
            }
        )
