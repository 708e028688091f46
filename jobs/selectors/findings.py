"""Recorded findings in words, which of them stand, and what is not recorded yet."""

from collections.abc import Iterable

from django.utils.translation import gettext, pgettext

from jobs.core.finding_figures import figures_of
from jobs.core.gauge import GaugeRule, default_rule
from jobs.core.measured_tests import TESTS
from jobs.core.pressure import shown
from jobs.core.request import named as cylinders_named
from jobs.core.swap_checks import SwapAnswer, contradictions_of_swaps
from jobs.core.tests_wanted import WHOLE_ENGINE, recorded_as
from jobs.core.wanted_test_texts import REPEAT, SWAP
from jobs.models import CylinderFinding, SwapTest, WorkOrder
from jobs.selectors.cranked_warm import cranked_at, is_warm_at, was_warm
from jobs.selectors.typed_findings import bank_words, typed_words
from shopdiag.people.core.numerals import written
from shopdiag.people.core.roles import Action, Role, may

_Test = CylinderFinding.Test


def finding_words(finding: CylinderFinding, unit: str) -> str:
    """Return a finding in one line, pressures in `unit`."""
    whose = gettext("whole engine")
    if finding.cylinder is not None:
        whose = gettext("cylinder %(cylinder)s") % {"cylinder": finding.cylinder}
    elif finding.bank is not None:
        whose = bank_words(finding.bank).lower()
    parts = [f"{whose}, {finding.get_test_display().lower()}"]
    if reading := reading_words(finding, unit):
        parts.append(reading)
    parts.append(finding.get_outcome_display().lower())
    line = ", ".join(parts)
    return f"{line}: {finding.words}" if finding.words else line


def reading_words(finding: CylinderFinding, unit: str) -> str:
    """Return a finding's figures in one line, pressures in `unit`; '' where it has none."""
    parts = [gauge_words(finding, unit), typed_words(finding, unit)]
    if finding.leak_percent is not None:
        parts.append(written(f"{finding.leak_percent:g} %"))
    if finding.heard_at:
        parts.append(
            gettext("air escaping at %(heard_at)s")
            % {"heard_at": finding.get_heard_at_display().lower()}
        )
    for name, value_kpa in (
        (gettext("supply"), finding.supply_kpa),
        (gettext("idle"), finding.idle_kpa),
        (gettext("snap"), finding.snap_kpa),
    ):
        if value_kpa is not None:
            parts.append(f"{name} {shown(value_kpa, unit)}")
    if finding.orifice_mm is not None:
        parts.append(
            gettext("orifice %(orifice_mm)s mm") % {"orifice_mm": _figure(finding.orifice_mm)}
        )
    if finding.at_tdc:
        parts.append(gettext("at compression top dead centre"))
    if finding.is_warm is not None:
        parts.append(pgettext("engine", "warm") if finding.is_warm else pgettext("engine", "cold"))
    if finding.oil_ml is not None:
        parts.append(gettext("oil %(oil_ml)s ml") % {"oil_ml": _figure(finding.oil_ml)})
    if finding.swept_ml is not None:
        parts.append(
            gettext("swept volume %(swept_ml)s ml") % {"swept_ml": _figure(finding.swept_ml)}
        )
    return ", ".join(part for part in parts if part)


def _figure(value: float) -> str:
    return written(f"{value:g}")


def gauge_words(finding: CylinderFinding, unit: str) -> str:
    """Return what the gauge showed, with the first puff where it was noted; '' for nothing."""
    if finding.pressure_kpa is None:
        return ""
    last = shown(finding.pressure_kpa, unit)
    if finding.first_puff_kpa is None:
        return last
    return gettext("%(last)s (first puff %(first_puff_kpa)s)") % {
        "last": last,
        "first_puff_kpa": shown(finding.first_puff_kpa, unit),
    }


def captures_on(order: WorkOrder) -> bool:
    """Return whether whoever has an order may record captures; where nobody has, a mechanic."""
    person = order.accepted_by or order.assigned_to
    return may(person.role if person else Role.MECHANIC, Action.CAPTURE)


def unrecorded_tests(order: WorkOrder) -> list[str]:
    """Return the wanted tests that nothing stands recorded for, by name, in their order.

    One that was recorded on some of the named cylinders only is there with the others. What
    somebody else has to record is named beside others, and by itself keeps nobody from finishing.
    """
    recorded = set(order.findings.filter(replaced_by=None).values_list("test", flat=True))
    wanted: dict[str, list[str]] = {}
    for asked in order.tests:
        wanted.setdefault(recorded_as(asked["key"]), []).append(str(asked["words"]))
    missing: list[str] = []
    for test, words in wanted.items():
        if test not in _Test.values:
            continue
        if test not in recorded:
            # a second one that is recorded under the same test is known by its own words
            missing += words if test == _Test.OTHER else [str(_Test(test).label), *words[1:]]
        elif test == _Test.REPEAT and (lacks := _temperatures_left(order)):
            missing.append(f"{_Test.REPEAT.label} ({lacks})")
        elif test != _Test.GAUGE_DRY and (rest := cylinders_left(order, test)):
            missing.append(f"{_Test(test).label} ({cylinders_named(rest)})")
    if any(test["key"] == SWAP.key for test in order.tests) and not order.swaps.exists():
        missing.append(gettext("Swap test"))
    if _Test.GAUGE_DRY in wanted and (left := dry_left(order)):
        missing.append(f"{_Test.GAUGE_DRY.label} ({cylinders_named(left)})")
    is_of_captures = len(missing) == 1 and missing[0].startswith(str(_Test.REPEAT.label))
    return [] if is_of_captures and not captures_on(order) else missing


def _temperatures_left(order: WorkOrder) -> str:
    """Return whether a capture that was to be repeated cold and hot lacks one of them; '' if not.

    One that was not made for a reason is not left.
    """
    rows = list(order.findings.filter(replaced_by=None, test=_Test.REPEAT))
    asks_both = any(asked["key"] == REPEAT.key for asked in order.tests)
    if not asks_both or any(row.outcome == CylinderFinding.Outcome.NOT_DONE for row in rows):
        return ""
    cranked = cranked_at(order.visit, order.judgement.run)
    at = {was_warm(row, order, cranked) for row in rows}
    at |= {is_warm_at(one.temperature) for one in cranked}
    lacks = [words for key, words in ((False, "cold"), (True, "warm")) if key not in at]
    return ", ".join(pgettext("engine", words) for words in lacks)


def dry_left(order: WorkOrder) -> list[int]:
    """Return the cylinders without a dry reading although others have one.

    One that was not measured for a reason is not left.
    """
    rows = order.findings.filter(replaced_by=None, test=_Test.GAUGE_DRY)
    said = set(rows.values_list("cylinder", flat=True))
    if not rows.exclude(pressure_kpa=None).exists() or not order.firing_order:
        return []
    return sorted({int(n) for n in order.firing_order.split("-")} - said)


def cylinders_left(order: WorkOrder, test: str) -> list[int]:
    """Return the named cylinders that a test was not recorded on although it was on others."""
    found = order.findings.filter(replaced_by=None, test=test)
    done = set(found.values_list("cylinder", flat=True))
    if not done or None in done or test in WHOLE_ENGINE:
        return []
    return [c for c in order.cylinders if c not in done]


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
    """Return what stands: findings that no later one corrects or repeats, by cylinder."""
    return listed_once(
        order.findings.filter(replaced_by=None)
        .select_related("by__user", "replaces__by__user")
        .order_by("pk")
    )


def listed_once(standing: Iterable[CylinderFinding]) -> list[CylinderFinding]:
    """Return one finding for each test of a cylinder, by cylinder.

    The newest that has a reading stands; those before it become its `repeats`, newest first. What
    was only seen stands in as many rows as were different things.

    Parameters
    ----------
    standing
        Findings that no later one corrects, oldest first.
    """
    together: dict[tuple[object, ...], list[CylinderFinding]] = {}
    for finding in standing:
        seen = () if _has_one_row(finding) else (finding.outcome, finding.words.strip())
        key = (finding.cylinder, finding.bank, finding.test, *seen)
        together.setdefault(key, []).append(finding)
    rows = []
    for same in together.values():
        done = [f for f in same if f.outcome != CylinderFinding.Outcome.NOT_DONE]
        shown = (done or same)[-1]
        shown.repeats = tuple(f for f in reversed(same) if f is not shown)
        rows.append(shown)
    return sorted(rows, key=lambda f: (f.cylinder or 0, f.pk))


def _has_one_row(finding: CylinderFinding) -> bool:
    """Return whether a finding stands in its test's row; others are what was only seen."""
    is_left_out = finding.test in TESTS and finding.outcome == CylinderFinding.Outcome.NOT_DONE
    is_measured = bool(figures_of(finding.test)) and finding.test != _Test.REPEAT
    return is_measured or bool(finding.figures) or is_left_out


def summary_beyond(
    summary: str,
    findings: Iterable[CylinderFinding],
    unit: str,
    swaps: Iterable[SwapTest] = (),
) -> str:
    """Return what an order's summary says beyond the findings and swaps listed beside it."""
    moved = list(swaps)
    listed = set(summary_draft(findings, unit, moved).splitlines()) - set(contradictions_in(moved))
    return "\n".join(line for line in summary.splitlines() if line.strip() not in listed).strip()


def contradictions_in(swaps: Iterable[SwapTest]) -> tuple[str, ...]:
    """Return which swap tests of an order were answered so that both cannot be right."""
    return contradictions_of_swaps(answers_of(swaps), part_labels())


def part_labels() -> dict[str, str]:
    """Return the names of parts that are swapped, by their keys."""
    return {part: str(words) for part, words in SwapTest.Part.choices}


def answers_of(swaps: Iterable[SwapTest]) -> list[SwapAnswer]:
    """Return swap tests as rules take them."""
    return [SwapAnswer(s.part, s.from_cylinder, s.to_cylinder, s.followed) for s in swaps]


def gauge_rule_of(order: WorkOrder) -> GaugeRule:
    """Return the limits this job is judged by."""
    return GaugeRule.from_json(order.gauge_rule) if order.gauge_rule else default_rule("petrol")


def summary_draft(
    findings: Iterable[CylinderFinding], unit: str, swaps: Iterable[SwapTest] = ()
) -> str:
    """Return findings and swap tests in short, for the mechanic to correct and complete."""
    moved = list(swaps)
    told = contradictions_in(moved)
    lines = (*(finding_words(f, unit) for f in findings), *(swap.line for swap in moved), *told)
    return "\n".join(
        f"{line[:1].upper()}{line[1:]}{'' if line.endswith(('.', '!', '?')) else '.'}"
        for line in lines
    )[:2000]
