"""What is asked back before a finding is recorded: likely slips, and what contradicts others."""

from jobs.core.measured_tests import doubts_about_figures
from jobs.core.plausible import (
    contradictions,
    doubts_about_first_puff,
    doubts_about_leak,
    doubts_about_pressure,
    doubts_about_running,
    doubts_about_second,
    doubts_about_wet,
    doubts_about_wet_beside_dry,
)
from jobs.core.swap_checks import PART_TESTED_BY, PartFound, doubts_beside_parts
from jobs.models import CylinderFinding, WorkOrder
from jobs.selectors.captures import engine_of, fuel_of, is_flat
from jobs.selectors.findings import answers_of, gauge_rule_of, part_labels
from jobs.selectors.typed_findings import typed_test_of

_GAUGE = {CylinderFinding.Test.GAUGE_DRY, CylinderFinding.Test.GAUGE_WET}
_COMPARED = ("pressure_kpa", "leak_percent", "idle_kpa", "snap_kpa")
"""Figures that two findings of one test and cylinder are held against each other by."""


def doubts_about(
    order: WorkOrder, finding: CylinderFinding, replaces: CylinderFinding | None
) -> list[str]:
    """Return which figure is likely a slip, or contradicts what was recorded of its cylinder."""
    visit, run = order.visit, order.judgement.run
    unit = visit.shop.pressure_unit
    fuel = fuel_of(visit, run)
    outcome = finding.outcome
    asked = list(
        doubts_about_running(
            finding.idle_kpa, finding.snap_kpa, fuel=fuel, unit=unit, outcome=outcome
        )
    )
    asked += doubts_about_first_puff(finding.first_puff_kpa, finding.pressure_kpa, unit)
    asked += doubts_about_leak(
        finding.leak_percent,
        finding.supply_kpa,
        outcome=outcome,
        unit=unit,
        heard_at=finding.heard_at,
    )
    if finding.test in _GAUGE and finding.pressure_kpa is not None:
        asked += doubts_about_pressure(finding.pressure_kpa, outcome=outcome, fuel=fuel, unit=unit)
    if finding.test == CylinderFinding.Test.GAUGE_WET and finding.pressure_kpa is not None:
        asked += doubts_about_wet(
            finding.oil_ml,
            _swept_ml(order, finding, replaces),
            fuel=fuel,
            is_flat=is_flat(engine_of(visit, run)),
        )
    if finding.figures and (entry := typed_test_of(order, finding.test)):
        asked += doubts_about_figures(entry.figures, finding.figures, fuel=fuel, unit=unit)
    asked += _beside_dry_or_wet(order, finding, replaces, unit)
    asked += _beside_swaps(order, finding)
    if replaces is None:
        asked += _beside_the_first(order, finding)
    return asked


def _swept_ml(
    order: WorkOrder, finding: CylinderFinding, replaces: CylinderFinding | None
) -> float | None:
    """Return the swept volume of a cylinder as typed, or as typed for another one before."""
    said = [finding, *reversed(_standing(order, finding.test, replaces))]
    return next((f.swept_ml for f in said if f.swept_ml is not None), None)


def _standing(
    order: WorkOrder, test: str, replaces: CylinderFinding | None
) -> list[CylinderFinding]:
    """Return findings of a test that stand, without the one that is corrected."""
    found = order.findings.filter(replaced_by=None, test=test).order_by("pk")
    return [f for f in found if replaces is None or f.pk != replaces.pk]


def _beside_dry_or_wet(
    order: WorkOrder, finding: CylinderFinding, replaces: CylinderFinding | None, unit: str
) -> tuple[str, ...]:
    """Return why a gauge reading contradicts the other one of its cylinder, dry or wet."""
    if finding.test not in _GAUGE:
        return ()
    is_wet = finding.test == CylinderFinding.Test.GAUGE_WET
    other = CylinderFinding.Test.GAUGE_DRY if is_wet else CylinderFinding.Test.GAUGE_WET
    pressures = [
        f.pressure_kpa
        for f in _standing(order, other, replaces)
        if f.cylinder == finding.cylinder and f.pressure_kpa is not None
    ]
    if not pressures:
        return ()
    wet, dry = (
        (finding.pressure_kpa, pressures[-1]) if is_wet else (pressures[-1], finding.pressure_kpa)
    )
    return doubts_about_wet_beside_dry(wet, dry, unit)


def _beside_swaps(order: WorkOrder, finding: CylinderFinding) -> tuple[str, ...]:
    """Return whether a swap test said the opposite of the part."""
    if finding.test not in PART_TESTED_BY:
        return ()
    found = PartFound(PART_TESTED_BY[finding.test], finding.cylinder, finding.outcome)
    return doubts_beside_parts(answers_of(order.swaps.all()), [found], part_labels())


def _beside_the_first(order: WorkOrder, finding: CylinderFinding) -> tuple[str, ...]:
    """Return whether the last finding of the same test and cylinder is far from this one."""
    same = [f for f in _standing(order, finding.test, None) if f.cylinder == finding.cylinder]
    if not same or finding.cylinder is None:
        return ()
    return doubts_about_second(
        {name: getattr(same[-1], name) for name in _COMPARED},
        {name: getattr(finding, name) for name in _COMPARED},
        cylinder=finding.cylinder,
    )


def doubts_beside_dry(
    order: WorkOrder, finding: CylinderFinding, replaces: CylinderFinding | None
) -> list[str]:
    """Return in which way a dry reading and those that stand do not fit their outcomes."""
    if finding.test != CylinderFinding.Test.GAUGE_DRY or finding.pressure_kpa is None:
        return []
    return dry_contradictions(order, [finding], [replaces] if replaces else [])


def dry_contradictions(
    order: WorkOrder, new: list[CylinderFinding], replaced: list[CylinderFinding]
) -> list[str]:
    """Return which outcomes of dry readings do not fit the others once new ones stand with them.

    Parameters
    ----------
    new
        Checked, not saved.
    replaced
        Those that stand until the new ones take their place.
    """
    unit = order.visit.shop.pressure_unit
    gone = {f.pk for f in replaced}
    standing = [
        f
        for f in _standing(order, CylinderFinding.Test.GAUGE_DRY, None)
        if f.pk not in gone and f.pressure_kpa is not None and f.cylinder is not None
    ]

    def found_in(rows: list[CylinderFinding]) -> dict[int, str]:
        return contradictions(
            {r.cylinder: r.pressure_kpa for r in rows if r.cylinder and r.pressure_kpa is not None},
            {r.cylinder: r.outcome for r in rows if r.cylinder},
            gauge_rule_of(order),
            unit,
        )

    # what contradicted already was asked about and confirmed when it was recorded
    asked_before = set(found_in(standing)) - {f.cylinder for f in new}
    return [words for c, words in found_in([*standing, *new]).items() if c not in asked_before]
