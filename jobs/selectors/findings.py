"""What recorded findings say, as help beside them; the maker's figure wins."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import F

from engines.core.positions import neighbours_of
from jobs.core.gauge import WET_WORDS, GaugeRule, default_rule, gauge_read, wet_read
from jobs.core.groups import SWAP
from jobs.core.leakdown import CAR_SOURCE, REFERENCE, REFERENCE_LIMIT_PERCENT, leak_read
from jobs.core.pressure import shown
from jobs.core.request import named as cylinders_named
from jobs.core.tests_wanted import recorded_as
from jobs.models import CylinderFinding, WorkOrder
from jobs.selectors.evidence import engine_of, engine_places

_Test = CylinderFinding.Test


@dataclass(frozen=True, slots=True)
class Hint:
    """One thing the readings say, and by whose rule."""

    words: str
    source: str
    doubtful: bool = False
    """Whether it points at a fault."""


def finding_words(finding: CylinderFinding, unit: str) -> str:
    """Return a finding in one line, pressures in `unit`."""
    whose = "whole engine" if finding.cylinder is None else f"cylinder {finding.cylinder}"
    parts = [f"{whose}, {finding.get_test_display().lower()}"]
    if finding.pressure_kpa is not None:
        parts.append(gauge_words(finding, unit))
    if finding.leak_percent is not None:
        parts.append(f"{finding.leak_percent:g} %")
    if finding.heard_at:
        parts.append(f"air heard at {finding.get_heard_at_display().lower()}")
    parts.append(finding.get_outcome_display().lower())
    line = ", ".join(parts)
    return f"{line}: {finding.words}" if finding.words else line


def gauge_words(finding: CylinderFinding, unit: str) -> str:
    """Return what the gauge showed, with the first puff where it was noted; '' for nothing."""
    if finding.pressure_kpa is None:
        return ""
    last = shown(finding.pressure_kpa, unit)
    if finding.first_puff_kpa is None:
        return last
    return f"{last} (first puff {shown(finding.first_puff_kpa, unit)})"


def unrecorded_tests(order: WorkOrder) -> list[str]:
    """Return the wanted tests that nothing stands recorded for, by name, in their order."""
    rows = order.findings.filter(replaced_by=None).values_list("test", "cylinder", "pressure_kpa")
    recorded = {test for test, _, _ in rows}
    wanted = dict.fromkeys(recorded_as(test["key"]) for test in order.tests)
    missing = [
        _Test(test).label for test in wanted if test in _Test.values and test not in recorded
    ]
    if any(test["key"] == SWAP.key for test in order.tests) and not order.swaps.exists():
        missing.append("Swap test")
    measured = {c for test, c, kpa in rows if test == _Test.GAUGE_DRY and kpa is not None}
    engine = {int(n) for n in order.firing_order.split("-")} if order.firing_order else set()
    left = sorted(engine - measured)
    if _Test.GAUGE_DRY in wanted and measured and left:
        missing.append(f"{_Test.GAUGE_DRY.label} ({cylinders_named(left)})")
    return missing


def last_like(order: WorkOrder, test: str) -> CylinderFinding | None:
    """Return the newest finding of a test on an order, to take its conditions over."""
    return order.findings.filter(test=test).order_by("-pk").first()


def next_cylinder(order: WorkOrder, test: str, after: int, cylinders: list[int]) -> int | None:
    """Return the next cylinder that a test has no standing finding for; None when all have.

    Parameters
    ----------
    after
        The cylinder just recorded; those above it come first.
    cylinders
        The engine's, in rising order.
    """
    done = set(
        order.findings.filter(test=test, replaced_by=None).values_list("cylinder", flat=True)
    )
    turn = [c for c in cylinders if c > after] + [c for c in cylinders if c < after]
    return next((c for c in turn if c not in done), None)


def current_findings(order: WorkOrder) -> list[CylinderFinding]:
    """Return what stands: findings that no later one corrects, by cylinder."""
    return list(
        order.findings.filter(replaced_by=None)
        .select_related("by__user", "replaces__by__user")
        .order_by(F("cylinder").asc(nulls_first=True), "pk")
    )


def gauge_rule_of(order: WorkOrder) -> GaugeRule:
    """Return the limits this job is judged by."""
    return GaugeRule.from_json(order.gauge_rule) if order.gauge_rule else default_rule("petrol")


def hints(order: WorkOrder, findings: Iterable[CylinderFinding], unit: str) -> tuple[Hint, ...]:
    """Return what the findings say under the job's limits and the published references."""
    rows = list(findings)
    dry = _latest(rows, _Test.GAUGE_DRY)
    wet = _latest(rows, _Test.GAUGE_WET)
    return (*_gauge_hints(order, dry, unit), *_wet_hints(order, dry, wet), *_leak_hints(rows))


def _latest(rows: list[CylinderFinding], test: str) -> dict[int, float]:
    return {
        row.cylinder: row.pressure_kpa
        for row in rows
        if row.test == test and row.pressure_kpa is not None and row.cylinder is not None
    }


def _gauge_hints(order: WorkOrder, dry: dict[int, float], unit: str) -> list[Hint]:
    if not dry:
        return []
    rule = gauge_rule_of(order)
    read = gauge_read(dry, rule, unit)
    return [Hint(sentence, rule.source, doubtful=not read.passes) for sentence in read.sentences]


def _wet_hints(order: WorkOrder, dry: dict[int, float], wet: dict[int, float]) -> list[Hint]:
    if not dry or not wet:
        return []
    failing = set(gauge_read(dry, gauge_rule_of(order)).failing) | set(order.cylinders)
    low_dry = {c: v for c, v in dry.items() if c in failing}
    places = engine_places(engine_of(order.visit, order.judgement.run))
    neighbours = {c: neighbours_of(places, c) for c in places}
    return [
        Hint(
            f"Cylinder {cylinder} {WET_WORDS[meaning]}.",
            "vehicle makers' service texts, as an example",
            doubtful=True,
        )
        for cylinder, meaning in wet_read(low_dry, wet, neighbours).items()
    ]


def _leak_hints(rows: list[CylinderFinding]) -> list[Hint]:
    found = []
    for row in rows:
        if row.leak_percent is None:
            continue
        read = leak_read(row.leak_percent, row.heard_at)
        heard = f" Air there points at: {read.points_at}." if read.points_at else ""
        found.append(
            Hint(
                f"Cylinder {row.cylinder} loses {row.leak_percent:g} %: {read.band}.{heard}",
                CAR_SOURCE,
                doubtful=row.leak_percent > 20,
            )
        )
        if read.over_reference:
            found.append(
                Hint(
                    f"Over the published aircraft limit of {REFERENCE_LIMIT_PERCENT:.0f} %.",
                    REFERENCE,
                    doubtful=True,
                )
            )
    return found


def summary_draft(findings: Iterable[CylinderFinding], unit: str) -> str:
    """Return the findings in short, for the mechanic to correct and complete."""
    return "\n".join(
        f"{line[:1].upper()}{line[1:]}." for line in (finding_words(f, unit) for f in findings)
    )[:2000]
