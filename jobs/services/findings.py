"""What a mechanic found, a line per test and cylinder; a correction is one line more."""

from dataclasses import dataclass
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction

from jobs.core.pressure import MOST_KPA
from jobs.core.stages import Stage
from jobs.models import CylinderFinding, Visit, WorkOrder
from jobs.selectors.findings import finding_words
from jobs.services.timeline import event_add
from jobs.services.work import work_order_accept
from shopdiag.people.models import Member

_GAUGE = {CylinderFinding.Test.GAUGE_DRY, CylinderFinding.Test.GAUGE_WET}
_SEEN = {CylinderFinding.Test.BORESCOPE, CylinderFinding.Test.OTHER}


@dataclass(frozen=True, slots=True)
class Found:
    """One test on one cylinder as it was written down."""

    cylinder: int
    test: str
    outcome: str
    pressure_kpa: float | None = None
    leak_percent: float | None = None
    heard_at: str = ""
    conditions: str = ""
    words: str = ""


@transaction.atomic
def finding_add(
    *,
    order: WorkOrder,
    member: Member,
    found: Found,
    replaces: CylinderFinding | None = None,
    form_token: UUID | None = None,
) -> CylinderFinding:
    """Record a finding; recording on an open order accepts it.

    Parameters
    ----------
    replaces
        The finding that this one corrects; it stays on record.
    form_token
        The same token gives the same finding, so that a form sent twice records once.

    Raises
    ------
    ValidationError
        If the reading is missing or impossible, or the order no longer takes findings.
    """
    visit = Visit.objects.select_for_update(no_key=True).get(pk=order.visit_id)
    earlier = (
        form_token
        and CylinderFinding.objects.filter(form_token=form_token, work_order=order).first()
    )
    if earlier:
        return earlier
    locked = WorkOrder.objects.select_for_update(no_key=True).get(pk=order.pk)
    _check_takes_findings(visit, locked, replaces)
    finding = _checked(locked, found)
    finding.replaces = replaces
    finding.form_token = form_token
    finding.by = member
    finding.full_clean()
    if locked.state == WorkOrder.State.OPEN:
        work_order_accept(order=locked, member=member)
    finding.save()
    event_add(
        visit=visit,
        by=member,
        kind="finding",
        words=("corrected a finding: " if replaces else "found: ")
        + finding_words(finding, visit.shop.pressure_unit),
        data={"work_order": order.pk, "finding": finding.pk, "cylinder": finding.cylinder},
    )
    return finding


def _check_takes_findings(visit: Visit, order: WorkOrder, replaces: CylinderFinding | None) -> None:
    if order.state == WorkOrder.State.WITHDRAWN:
        raise ValidationError("This work order was withdrawn; it takes no findings.")
    if visit.stage == Stage.CLOSED:
        raise ValidationError("This job is closed; nothing is added to its findings.")
    if replaces is None:
        if order.state == WorkOrder.State.DONE:
            raise ValidationError(
                "This work order is done; correct a finding of it, or have another order made."
            )
        return
    if replaces.work_order_id != order.pk:
        raise ValidationError("That finding belongs to another work order.")
    if CylinderFinding.objects.filter(replaces=replaces).exists():
        raise ValidationError(
            "That finding was corrected already; open the page again and correct the newer one."
        )


def _checked(order: WorkOrder, found: Found) -> CylinderFinding:
    known = {int(n) for n in order.firing_order.split("-")} if order.firing_order else None
    if found.cylinder < 1 or (known is not None and found.cylinder not in known):
        raise ValidationError(
            {"cylinder": f"This engine has no cylinder {found.cylinder}; choose one it has."}
        )
    not_done = found.outcome == CylinderFinding.Outcome.NOT_DONE
    gauge, leak = found.test in _GAUGE, found.test == CylinderFinding.Test.LEAK_DOWN
    words = found.words.strip()
    if not_done:
        if not words:
            raise ValidationError(
                {"words": "Say why it was not done: no access, no tool, no time, not needed?"}
            )
    elif gauge and found.pressure_kpa is None:
        raise ValidationError(
            {"pressure": "Write down what the gauge shows, or choose “not done”."}
        )
    elif leak and found.leak_percent is None:
        raise ValidationError({"leak_percent": "Write down the leak in per cent, or “not done”."})
    elif found.test in _SEEN and not words:
        raise ValidationError({"words": "Say in a few words what was seen."})
    if found.pressure_kpa is not None and not 0 <= found.pressure_kpa <= MOST_KPA:
        raise ValidationError(
            {"pressure": f"A gauge shows between 0 and {MOST_KPA:.0f} kPa; check figure and unit."}
        )
    if found.leak_percent is not None and not 0 <= found.leak_percent <= 100:
        raise ValidationError({"leak_percent": "A leak lies between 0 and 100 %."})
    return CylinderFinding(
        work_order=order,
        cylinder=found.cylinder,
        test=found.test,
        outcome=found.outcome,
        pressure_kpa=None if not_done or not gauge else found.pressure_kpa,
        leak_percent=None if not_done or not leak else found.leak_percent,
        heard_at=found.heard_at if leak and not not_done else "",
        conditions=found.conditions.strip(),
        words=words,
    )
