"""What recorded findings say, as help beside them; the maker's figure wins."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.utils.translation import gettext, gettext_lazy

from engines.core.positions import neighbours_of
from jobs.core.finding_figures import figures_of
from jobs.core.first_puff import PUFF_WORDS, puff_read
from jobs.core.first_puff import SOURCE as PUFF_SOURCE
from jobs.core.gauge import GaugeRule, default_rule, gauge_read
from jobs.core.leakdown import (
    CAR_SOURCE,
    ELSEWHERE,
    REFERENCE,
    REFERENCE_LIMIT_PERCENT,
    SUSPECT_PERCENT,
    leak_read,
    names_another,
)
from jobs.core.pressure import shown
from jobs.core.request import named as cylinders_named
from jobs.core.running_compression import SOURCE as RUNNING_SOURCE
from jobs.core.running_compression import running_words
from jobs.core.swap_checks import SwapAnswer, contradictions_of_swaps
from jobs.core.tests_wanted import WHOLE_ENGINE, recorded_as
from jobs.core.wanted_test_texts import SWAP
from jobs.core.wet_test import WET_WORDS, WetReading, wet_read
from jobs.models import CylinderFinding, SwapTest, WorkOrder
from jobs.selectors.evidence import engine_of, engine_places, fuel_of, is_flat

_Test = CylinderFinding.Test
_MAKERS = gettext_lazy("vehicle manufacturers' service texts, as an example")


@dataclass(frozen=True, slots=True)
class Hint:
    """One thing the readings say, and by whose rule."""

    words: str
    source: str
    doubtful: bool = False
    """Whether it points at a fault."""


def finding_words(finding: CylinderFinding, unit: str) -> str:
    """Return a finding in one line, pressures in `unit`."""
    whose = (
        gettext("whole engine")
        if finding.cylinder is None
        else gettext("cylinder %(cylinder)s") % {"cylinder": finding.cylinder}
    )
    parts = [f"{whose}, {finding.get_test_display().lower()}"]
    if reading := reading_words(finding, unit):
        parts.append(reading)
    parts.append(finding.get_outcome_display().lower())
    line = ", ".join(parts)
    return f"{line}: {finding.words}" if finding.words else line


def reading_words(finding: CylinderFinding, unit: str) -> str:
    """Return a finding's figures in one line, pressures in `unit`; '' where it has none."""
    parts = [gauge_words(finding, unit)]
    if finding.leak_percent is not None:
        parts.append(f"{finding.leak_percent:g} %")
    if finding.heard_at:
        parts.append(
            gettext("air escaping at %(heard_at)s")
            % {"heard_at": finding.get_heard_at_display().lower()}
        )
    for name, value_kpa in (
        ("supply", finding.supply_kpa),
        ("idle", finding.idle_kpa),
        ("snap", finding.snap_kpa),
    ):
        if value_kpa is not None:
            parts.append(f"{name} {shown(value_kpa, unit)}")
    if finding.orifice_mm is not None:
        parts.append(gettext("orifice %(orifice_mm)g mm") % {"orifice_mm": finding.orifice_mm})
    if finding.at_tdc:
        parts.append(gettext("at compression top dead centre"))
    if finding.is_warm:
        parts.append("warm")
    if finding.oil_ml is not None:
        parts.append(gettext("oil %(oil_ml)g ml") % {"oil_ml": finding.oil_ml})
    if finding.swept_ml is not None:
        parts.append(gettext("swept volume %(swept_ml)g ml") % {"swept_ml": finding.swept_ml})
    return ", ".join(part for part in parts if part)


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


def unrecorded_tests(order: WorkOrder) -> list[str]:
    """Return the wanted tests that nothing stands recorded for, by name, in their order.

    One that was recorded on some of the named cylinders only is there with the others.
    """
    rows = order.findings.filter(replaced_by=None).values_list("test", "cylinder", "pressure_kpa")
    recorded = {test for test, _, _ in rows}
    wanted = dict.fromkeys(recorded_as(test["key"]) for test in order.tests)
    missing: list[str] = []
    for test in wanted:
        if test not in _Test.values:
            continue
        if test not in recorded:
            missing.append(str(_Test(test).label))
        elif test != _Test.GAUGE_DRY and (rest := cylinders_left(order, test)):
            missing.append(f"{_Test(test).label} ({cylinders_named(rest)})")
    if any(test["key"] == SWAP.key for test in order.tests) and not order.swaps.exists():
        missing.append(gettext("Swap test"))
    measured = {c for test, c, kpa in rows if test == _Test.GAUGE_DRY and kpa is not None}
    engine = {int(n) for n in order.firing_order.split("-")} if order.firing_order else set()
    left = sorted(engine - measured)
    if _Test.GAUGE_DRY in wanted and measured and left:
        missing.append(f"{_Test.GAUGE_DRY.label} ({cylinders_named(left)})")
    return missing


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
        seen = () if figures_of(finding.test) else (finding.outcome, finding.words.strip())
        together.setdefault((finding.cylinder, finding.test, *seen), []).append(finding)
    rows = []
    for same in together.values():
        done = [f for f in same if f.outcome != CylinderFinding.Outcome.NOT_DONE]
        shown = (done or same)[-1]
        shown.repeats = tuple(f for f in reversed(same) if f is not shown)
        rows.append(shown)
    return sorted(rows, key=lambda f: (f.cylinder or 0, f.pk))


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
    answers = [SwapAnswer(s.part, s.from_cylinder, s.to_cylinder, s.followed) for s in swaps]
    return contradictions_of_swaps(
        answers, {part: str(words) for part, words in SwapTest.Part.choices}
    )


def gauge_rule_of(order: WorkOrder) -> GaugeRule:
    """Return the limits this job is judged by."""
    return GaugeRule.from_json(order.gauge_rule) if order.gauge_rule else default_rule("petrol")


def hints(order: WorkOrder, findings: Iterable[CylinderFinding], unit: str) -> tuple[Hint, ...]:
    """Return what the findings say under the job's limits and the published references."""
    rows = list(findings)
    dry = _latest(rows, _Test.GAUGE_DRY)
    low = set(order.cylinders)
    if dry:
        low |= set(gauge_read(dry, gauge_rule_of(order)).failing)
    return (
        *_gauge_hints(order, dry, unit),
        *_puff_hints(rows, low),
        *_wet_hints(order, rows, low, unit),
        *_running_hints(rows, dry, unit),
        *_leak_hints(rows),
    )


def _latest(
    rows: list[CylinderFinding], test: str, figure: str = "pressure_kpa"
) -> dict[int, float]:
    return {
        row.cylinder: getattr(row, figure)
        for row in rows
        if row.test == test and getattr(row, figure) is not None and row.cylinder is not None
    }


def _gauge_hints(order: WorkOrder, dry: dict[int, float], unit: str) -> list[Hint]:
    if not dry:
        return []
    rule = gauge_rule_of(order)
    read = gauge_read(dry, rule, unit)
    return [
        Hint(sentence, gettext(rule.source), doubtful=not read.passes)
        for sentence in read.sentences
    ]


def _puff_hints(rows: list[CylinderFinding], low: Collection[int]) -> list[Hint]:
    first = _latest(rows, _Test.GAUGE_DRY, "first_puff_kpa")
    last = _latest(rows, _Test.GAUGE_DRY)
    return [
        Hint(
            gettext("Cylinder %(cylinder)s %(puff_words)s.%(elsewhere)s")
            % {
                "cylinder": cylinder,
                "puff_words": gettext(PUFF_WORDS[meaning]),
                "elsewhere": _elsewhere(rows, cylinder, meaning),
            },
            gettext(PUFF_SOURCE),
            doubtful=True,
        )
        for cylinder, meaning in puff_read(first, last, low).items()
    ]


def _wet_hints(
    order: WorkOrder, rows: list[CylinderFinding], low: Collection[int], unit: str
) -> list[Hint]:
    dry, wet = _latest(rows, _Test.GAUGE_DRY), _latest(rows, _Test.GAUGE_WET)
    if not dry or not wet:
        return []
    visit, run = order.visit, order.judgement.run
    engine = engine_of(visit, run)
    if is_flat(engine) or fuel_of(visit, run) == "diesel":
        kind = gettext("flat engine") if is_flat(engine) else gettext("diesel")
        return [
            Hint(gettext("A wet test of a %(kind)s is not read.") % {"kind": kind}, str(_MAKERS))
        ]
    places = engine_places(engine)
    swept = _latest(rows, _Test.GAUGE_WET, "swept_ml").values()
    read = wet_read(
        dry,
        wet,
        {c: neighbours_of(places, c) for c in places},
        low=low,
        oil_ml=_latest(rows, _Test.GAUGE_WET, "oil_ml"),
        swept_ml=min(swept, default=None),
    )
    return [
        Hint(
            gettext("Cylinder %(c)s %(wet_words)s.%(expected_words)s%(elsewhere)s")
            % {
                "c": c,
                "wet_words": gettext(WET_WORDS[one.meaning]),
                "expected_words": _expected_words(one, unit),
                "elsewhere": _elsewhere(rows, c, one.meaning),
            },
            str(_MAKERS),
            doubtful=True,
        )
        for c, one in read.items()
    ]


def _elsewhere(rows: list[CylinderFinding], cylinder: int, meaning: str) -> str:
    """Return what to say where the last leak-down of a cylinder names another leak."""
    heard = [
        row.heard_at for row in rows if row.test == _Test.LEAK_DOWN and row.cylinder == cylinder
    ]
    return f" {gettext(ELSEWHERE)}" if heard and names_another(meaning, heard[-1]) else ""


def _expected_words(read: WetReading, unit: str) -> str:
    if read.expected_kpa is None:
        return ""
    by = (
        gettext("as in the good cylinder %(control)s") % {"control": read.control}
        if read.control is not None
        else gettext("computed from its volume")
    )
    return gettext(" Oil alone may give %(expected_kpa)s, %(by)s.") % {
        "expected_kpa": shown(read.expected_kpa, unit),
        "by": by,
    }


def _running_hints(rows: list[CylinderFinding], dry: dict[int, float], unit: str) -> list[Hint]:
    found = []
    for row in rows:
        beside = dry.get(row.cylinder) if row.cylinder is not None else None
        words = running_words(row.idle_kpa, row.snap_kpa, beside, unit)
        if words:
            found.append(
                Hint(
                    gettext("Cylinder %(cylinder)s, running: %(words)s.")
                    % {"cylinder": row.cylinder, "words": words},
                    gettext(RUNNING_SOURCE),
                )
            )
    return found


def _method_hints(rows: list[CylinderFinding]) -> list[Hint]:
    """Say where leak-down figures cannot be read as they stand."""
    leaks = [row for row in rows if row.leak_percent is not None]
    found = []
    orifices = sorted({row.orifice_mm for row in leaks if row.orifice_mm is not None})
    if len(orifices) > 1:
        sizes = gettext(" and ").join(f"{size:g} mm" for size in orifices)
        found.append(
            Hint(
                gettext("Testers with orifices of %(sizes)s were used: their per cent differ.")
                % {"sizes": sizes},
                gettext(REFERENCE),
            )
        )
    unsure = [r.cylinder for r in leaks if not r.at_tdc and (r.leak_percent or 0) > SUSPECT_PERCENT]
    if unsure:
        found.append(
            Hint(
                gettext(
                    "That both valves were closed is not noted for %(unsure)s: away from top "
                    "dead centre of the compression stroke an open valve leaks."
                )
                % {"unsure": cylinders_named([c for c in unsure if c is not None])},
                gettext(REFERENCE),
            )
        )
    return found


def _leak_hints(rows: list[CylinderFinding]) -> list[Hint]:
    found = []
    for row in rows:
        if row.leak_percent is None:
            continue
        read = leak_read(row.leak_percent, row.heard_at)
        heard = (
            gettext(" Air there points at: %(points_at)s.") % {"points_at": read.points_at}
            if read.points_at
            else ""
        )
        found.append(
            Hint(
                gettext("Cylinder %(cylinder)s loses %(leak_percent)g %%: %(band)s.%(heard)s")
                % {
                    "cylinder": row.cylinder,
                    "leak_percent": row.leak_percent,
                    "band": read.band,
                    "heard": heard,
                },
                gettext(CAR_SOURCE),
                doubtful=row.leak_percent > SUSPECT_PERCENT,
            )
        )
        if read.over_reference:
            found.append(
                Hint(
                    gettext(
                        "Over the published aircraft limit of %(reference_limit_percent).0f %%."
                    )
                    % {"reference_limit_percent": REFERENCE_LIMIT_PERCENT},
                    gettext(REFERENCE),
                    doubtful=True,
                )
            )
    return [*found, *_method_hints(rows)]


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
