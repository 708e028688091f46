"""What a mechanic found, a line per test and cylinder; a correction is one line more."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from jobs.core.finding_figures import ALL_FIGURES, RANGES, figures_of
from jobs.core.groups import ONLY_BEYOND
from jobs.core.pressure import MOST_KPA
from jobs.core.stages import Stage
from jobs.models import CylinderFinding, Visit, WorkOrder
from jobs.selectors.findings import finding_words
from jobs.services.finding_doubts import doubts_about, doubts_beside_dry
from jobs.services.timeline import event_add
from jobs.services.typed_findings import (
    checked_figures,
    is_of_no_cylinder,
    typed_contradictions,
)
from jobs.services.work import work_order_accept
from shopdiag.people.asking_back import Confirmed, already_there, ask_back
from shopdiag.people.core.numerals import written
from shopdiag.people.models import Member

_GAUGE = {CylinderFinding.Test.GAUGE_DRY, CylinderFinding.Test.GAUGE_WET}
_SEEN = {
    CylinderFinding.Test.BORESCOPE,
    CylinderFinding.Test.SEATS,
    CylinderFinding.Test.VALVES,
    CylinderFinding.Test.OTHER,
    *ONLY_BEYOND,
}
_SAID = (
    "cylinder",
    "bank",
    "test",
    "outcome",
    "figures",
    *ALL_FIGURES,
    "heard_at",
    "conditions",
    "words",
)
_PRESSURES = {
    "pressure": "pressure_kpa",
    "first_puff": "first_puff_kpa",
    "supply": "supply_kpa",
    "idle": "idle_kpa",
    "snap": "snap_kpa",
}
"""Fields of the form by the figure they hold."""


@dataclass(frozen=True, slots=True)
class NewFinding:
    """One test on one cylinder, or on the whole engine, as it was written down."""

    cylinder: int | None
    test: str
    outcome: str
    pressure_kpa: float | None = None
    leak_percent: float | None = None
    heard_at: str = ""
    conditions: str = ""
    words: str = ""
    first_puff_kpa: float | None = None
    supply_kpa: float | None = None
    orifice_mm: float | None = None
    at_tdc: bool | None = None
    is_warm: bool | None = None
    oil_ml: float | None = None
    swept_ml: float | None = None
    idle_kpa: float | None = None
    snap_kpa: float | None = None
    bank: int | None = None
    figures: Mapping[str, object] = field(default_factory=dict)
    """Of a test in `jobs.core.measured_tests`, by name, in the units of the names."""
    confirmed: Confirmed = False
    """Whether a person was asked about an odd figure and says that it is right."""


@transaction.atomic
def finding_add(
    *,
    order: WorkOrder,
    member: Member,
    found: NewFinding,
    replaces: CylinderFinding | None = None,
    form_token: UUID | None = None,
) -> CylinderFinding:
    """Record a finding; recording on an open order accepts it.

    Whoever does mechanical work may record on a colleague's order: two work on one engine at
    times. The line carries the name of whoever recorded it, and says whose order it is.

    Parameters
    ----------
    replaces
        The finding that this one corrects; it stays on record.
    form_token
        The same token gives the same finding, so that a form sent twice records once; the
        same said under another token is asked back.

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
    locked = (
        WorkOrder.objects.select_for_update(no_key=True, of=("self",))
        .select_related("accepted_by__user")
        .get(pk=order.pk)
    )
    check_takes_findings(visit, locked, replaces)
    finding = checked_finding(locked, found)
    said = said_of(finding)
    by_member = locked.findings.filter(by=member, replaced_by=None)
    ask_back(
        found.confirmed,
        doubts_about(locked, finding, replaces),
        doubts_beside_dry(locked, finding, replaces),
        typed_contradictions(locked, [finding], [replaces] if replaces else []),
        already_there(by_member, **said) if form_token and replaces is None else (),
        about=said,
    )
    finding.form_token = form_token
    return finding_record(
        order=locked, visit=visit, member=member, finding=finding, replaces=replaces
    )


def said_of(finding: CylinderFinding) -> dict[str, object]:
    """Return what a finding says, by name."""
    return {name: getattr(finding, name) for name in _SAID}


def finding_record(
    *,
    order: WorkOrder,
    visit: Visit,
    member: Member,
    finding: CylinderFinding,
    replaces: CylinderFinding | None,
) -> CylinderFinding:
    """Save a checked finding of a locked order and tell it in the timeline."""
    finding.replaces = replaces
    finding.by = member
    finding.full_clean()
    if order.state == WorkOrder.State.OPEN:
        work_order_accept(order=order, member=member)
    finding.save()
    event_add(
        visit=visit,
        by=member,
        kind="finding",
        words=lambda: _found_words(finding, order.accepted_by, visit.shop.pressure_unit),
        data={"work_order": order.pk, "finding": finding.pk, "cylinder": finding.cylinder},
    )
    return finding


def _found_words(finding: CylinderFinding, holder: Member | None, unit: str) -> str:
    """Return what the timeline says of a finding."""
    whose = (
        _(" on %(name)s's work order") % {"name": holder.name}
        if holder and holder.pk != finding.by_id
        else ""
    )
    what = _("corrected a finding") if finding.replaces_id else _("found")
    return f"{what}{whose}: {finding_words(finding, unit)}"


def check_takes_findings(visit: Visit, order: WorkOrder, replaces: CylinderFinding | None) -> None:
    """Raise a `ValidationError` where an order takes no finding, or not this correction."""
    if order.state == WorkOrder.State.WITHDRAWN:
        raise ValidationError(_("This work order was withdrawn; it takes no findings."))
    if visit.stage == Stage.CLOSED:
        raise ValidationError(_("This job is closed; nothing is added to its findings."))
    if replaces is None:
        if order.state == WorkOrder.State.DONE:
            raise ValidationError(
                _("This work order is done; correct a finding of it, or have another order made.")
            )
        return
    if replaces.work_order_id != order.pk:
        raise ValidationError(_("That finding belongs to another work order."))
    if CylinderFinding.objects.filter(replaces=replaces).exists():
        raise ValidationError(
            _("That finding was corrected already; open the page again and correct the newer one.")
        )


def checked_finding(order: WorkOrder, found: NewFinding) -> CylinderFinding:
    """Return what was found as a row to save; raise a `ValidationError` where it cannot be."""
    not_done = found.outcome == CylinderFinding.Outcome.NOT_DONE
    figures = () if not_done else figures_of(found.test)
    gauge, leak = found.test in _GAUGE, found.test == CylinderFinding.Test.LEAK_DOWN
    whole = is_of_no_cylinder(order, found.test, found.cylinder)
    typed, bank = checked_figures(order, found)
    words = found.words.strip()
    if not whole:
        _check_cylinder(order, found.cylinder)
    if not_done:
        if not words:
            raise ValidationError(
                {"words": _("Say why it was not done: no access, no tool, no time, not needed?")}
            )
    elif gauge and found.pressure_kpa is None:
        raise ValidationError(
            {"pressure": _("Write down what the gauge shows, or choose “not done”.")}
        )
    elif leak and found.leak_percent is None:
        raise ValidationError(
            {"leak_percent": _("Write down the leak in per cent, or “not done”.")}
        )
    elif found.test == CylinderFinding.Test.RUNNING:
        if found.idle_kpa is None and found.snap_kpa is None and not words:
            raise ValidationError(
                {"idle": _("Write down the gauge at idle or on a snap, or what was seen.")}
            )
    elif not words and not typed and (found.test in _SEEN or (whole and found.outcome != "good")):
        raise ValidationError({"words": _("Say in a few words what was seen.")})
    _check_figures(found)
    return CylinderFinding(
        work_order=order,
        cylinder=None if whole else found.cylinder,
        bank=bank,
        figures=typed or None,
        test=found.test,
        outcome=found.outcome,
        **{name: getattr(found, name) for name in figures},
        heard_at=found.heard_at if leak and not not_done else "",
        conditions=found.conditions.strip(),
        words=words,
    )


def _check_cylinder(order: WorkOrder, cylinder: int | None) -> None:
    if cylinder is None:
        raise ValidationError({"cylinder": _("Choose the cylinder.")})
    known = {int(n) for n in order.firing_order.split("-")} if order.firing_order else None
    if cylinder < 1 or (known is not None and cylinder not in known):
        raise ValidationError(
            {
                "cylinder": _("This engine has no cylinder %(cylinder)s; choose one it has.")
                % {"cylinder": cylinder}
            }
        )


def _check_figures(found: NewFinding) -> None:
    for name, figure in _PRESSURES.items():
        value = getattr(found, figure)
        if value is not None and not 0 <= value <= MOST_KPA:
            raise ValidationError(
                {
                    name: _(
                        "A gauge shows between 0 and %(most_kpa).0f kPa; check figure and unit."
                    )
                    % {"most_kpa": MOST_KPA}
                }
            )
    if (
        found.first_puff_kpa is not None
        and found.pressure_kpa is not None
        and found.first_puff_kpa > found.pressure_kpa
    ):
        raise ValidationError(
            {"first_puff": _("A gauge holds its highest: the first puff cannot be above the last.")}
        )
    for name, (least, most) in RANGES.items():
        value = getattr(found, name)
        if value is not None and not least <= value <= most:
            raise ValidationError(
                {
                    name: _("This lies between %(least)s and %(most)s; check the figure.")
                    % {"least": written(f"{least:g}"), "most": written(f"{most:g}")}
                }
            )
    if found.leak_percent is not None and not 0 <= found.leak_percent <= 100:
        raise ValidationError({"leak_percent": _("A leak lies between 0 and 100 %.")})
