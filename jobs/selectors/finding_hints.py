"""What recorded findings say, as help beside them; the manufacturer's figure wins."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.utils.translation import gettext, gettext_lazy

from engines.core.positions import neighbours_of
from jobs.core.first_puff import PUFF_WORDS, puff_read
from jobs.core.first_puff import SOURCE as PUFF_SOURCE
from jobs.core.gauge import gauge_read
from jobs.core.leakdown import (
    CAR_SOURCE,
    ELSEWHERE,
    REFERENCE,
    REFERENCE_LIMIT_PERCENT,
    SUSPECT_PERCENT,
    leak_read,
    names_another,
)
from jobs.core.measured_tests import BAD, NOTE, TESTS
from jobs.core.pressure import shown
from jobs.core.request import named as cylinders_named
from jobs.core.running_compression import SOURCE as RUNNING_SOURCE
from jobs.core.running_compression import running_words
from jobs.core.wet_test import WET_WORDS, WetReading, wet_read
from jobs.models import CylinderFinding, WorkOrder
from jobs.selectors.captures import engine_of, engine_places, fuel_of, is_flat
from jobs.selectors.findings import gauge_rule_of
from jobs.selectors.typed_findings import rows_of, sayings_about
from shopdiag.people.core.numerals import written

_Test = CylinderFinding.Test
_MAKERS = gettext_lazy("vehicle manufacturers' service texts, as an example")


@dataclass(frozen=True, slots=True)
class Hint:
    """One thing the readings say, and by whose rule."""

    words: str
    source: str
    doubtful: bool = False
    """Whether it points at a fault."""


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
        *_typed_hints(order, rows),
    )


def _typed_hints(order: WorkOrder, rows: list[CylinderFinding]) -> list[Hint]:
    """Say what the rules find wrong in typed figures, and what they point at."""
    found = []
    for test in dict.fromkeys(row.test for row in rows if row.figures):
        entry = TESTS.get(test)
        if entry is None:
            continue
        sayings = sayings_about(order, entry, rows_of(rows, test))
        found += [
            Hint(saying.words, saying.source, doubtful=saying.outcome == BAD)
            for saying in sayings
            if saying.outcome in {BAD, NOTE}
        ]
    return found


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
        sizes = gettext(" and ").join(written(f"{size:g} mm") for size in orifices)
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
                gettext("Cylinder %(cylinder)s loses %(leak_percent)s %%: %(band)s.%(heard)s")
                % {
                    "cylinder": row.cylinder,
                    "leak_percent": written(f"{row.leak_percent:g}"),
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
                        "Also over %(reference_limit_percent).0f %%, the limit of leakage for "
                        "aircraft piston engines (FAA AC 43.13-1B); for cars none is published."
                    )
                    % {"reference_limit_percent": REFERENCE_LIMIT_PERCENT},
                    gettext(REFERENCE),
                    doubtful=True,
                )
            )
    return [*found, *_method_hints(rows)]
