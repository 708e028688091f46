"""The end of a work order: every suspect cylinder answered, what was left out said."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from jobs.core.request import named
from jobs.core.stages import Stage
from jobs.core.tests_wanted import WHOLE_ENGINE, recorded_as
from jobs.models import Visit, WorkOrder
from jobs.selectors.consents import repair_consent_of
from jobs.selectors.findings import unrecorded_tests
from jobs.services.timeline import event_add
from jobs.services.visits import visit_advance
from jobs.services.work import next_version
from shopdiag.people.asking_back import Confirmed, ask_back
from shopdiag.people.models import Member

_STOPPED = gettext_lazy(
    "The work is stopped and nobody has answered: “%(text)s” Call whoever ordered it first. "
    "Confirm it if you were told to finish."
)


@transaction.atomic
def work_order_complete(
    *,
    order: WorkOrder,
    member: Member,
    summary: str,
    left_out: str = "",
    confirmed: Confirmed = False,
) -> WorkOrder:
    """Finish an order once every suspect cylinder has a finding.

    The order of a repair that asks for no checks needs words on what was done instead; one whose
    checks are of the whole engine needs no finding by cylinder.

    Parameters
    ----------
    left_out
        Why wanted tests have no finding; needed where some have none.
    confirmed
        Whether a person was asked about a stop that nobody answered and completes it all the same.

    Raises
    ------
    ValidationError
        If a suspect cylinder has none, wanted tests are left out without a word, the order is
        not in somebody's hands, or its work is stopped and that is not confirmed.
    """
    visit = Visit.objects.select_for_update(no_key=True).get(pk=order.visit_id)
    locked = WorkOrder.objects.select_for_update(no_key=True).get(pk=order.pk)
    if locked.state == WorkOrder.State.DONE:
        return locked
    if locked.state != WorkOrder.State.ACCEPTED:
        raise ValidationError(
            _("This work order is %(state)s; accept it first.")
            % {"state": locked.get_state_display().lower()}
            if locked.state == WorkOrder.State.OPEN
            else _("This work order was withdrawn; there is nothing to complete.")
        )
    is_repair = repair_consent_of(locked) is not None
    if is_repair and not locked.tests:
        # a repair without checks is told in words
        if not summary.strip():
            raise ValidationError({"summary": _("Say what was done.")})
    elif not is_repair or _asks_of_cylinders(locked):
        _check_answered(locked)
    unrecorded = unrecorded_tests(locked)
    if unrecorded and not left_out.strip():
        raise ValidationError(
            {
                "left_out": _(
                    "Nothing is recorded on: %(unrecorded)s. Record it, or say in a few words "
                    "why it was left out."
                )
                % {"unrecorded": "; ".join(unrecorded)}
            }
        )
    stops = locked.questions.filter(is_stop=True, answered_at=None).order_by("pk")
    ask_back(
        confirmed,
        [_STOPPED % {"text": stop.text} for stop in stops],
        about={"stops": [stop.pk for stop in stops]},
    )
    locked.left_out = left_out.strip() if unrecorded else ""
    locked.state = WorkOrder.State.DONE
    locked.completed_at = timezone.now()
    locked.summary = summary.strip()
    locked.full_clean()
    locked.save(update_fields=["state", "completed_at", "summary", "left_out"])
    WorkOrder.objects.filter(pk=locked.pk).update(**next_version(member))
    event_add(
        visit=visit,
        by=member,
        kind="work_order",
        words=lambda: (
            _("completed the work order")
            + (f": {locked.summary.splitlines()[0]}" if locked.summary else "")
        ),
        data={"work_order": locked.pk, "unrecorded": unrecorded, "left_out": locked.left_out},
    )
    # A diagnosis stays here until the customer agrees: nobody repairs what was only looked for.
    if is_repair:
        visit_advance(visit=visit, to=Stage.VERIFY, member=member)
    return locked


def _asks_of_cylinders(order: WorkOrder) -> bool:
    """Return whether a wanted test is about single cylinders."""
    return any(recorded_as(test["key"]) not in WHOLE_ENGINE for test in order.tests)


def _check_answered(order: WorkOrder) -> None:
    missing = cylinders_without_finding(order)
    if missing:
        raise ValidationError(
            _("Record a finding for %(missing)s first, or “not done” with the reason.")
            % {"missing": named(missing)}
        )
    if not order.findings.exists() and not order.swaps.exists():
        raise ValidationError(
            _("Record at least one finding first, or “not done” with the reason.")
        )


def cylinders_without_finding(order: WorkOrder) -> list[int]:
    """Return the suspect cylinders that nothing is recorded for."""
    recorded = set(order.findings.filter(replaced_by=None).values_list("cylinder", flat=True))
    recorded |= set(order.swaps.values_list("from_cylinder", flat=True))
    return [c for c in order.cylinders if c not in recorded]
