"""What a capture's pattern suggests: usual reading, what would rule it out, next tests."""

from collections.abc import Collection
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
from django.utils.translation import gettext as _

from engines.core.firing import FiringOrder
from engines.core.layouts import Family
from engines.core.positions import neighbours_of
from engines.selectors import access_minutes
from jobs.core.pattern_meanings import PatternMeaning, meaning_of
from jobs.core.patterns import Pattern, Read, Seen, fast_hints, patterns_in
from jobs.core.plug_access import PlugAccess
from jobs.core.request import is_open, named
from jobs.core.tests_wanted import Circumstances, wanted_tests
from jobs.core.wanted_test_texts import WantedTest
from jobs.models import Complaint, Triage, TroubleCode, Visit
from jobs.selectors.captures import (
    cranked_runs,
    engine_of,
    engine_places,
    fuel_of,
    high_in,
    is_high_unnumbered,
)
from jobs.selectors.misfires import misfires_of
from jobs.selectors.pooled_captures import CapturesTogether
from jobs.selectors.triage import coolant_is_lost
from traces.core.report import Report, weaker_cylinders
from traces.core.twin import courses
from traces.models import Run, Work

TIMING_DOUBTED = frozenset({"no-compression", "hump-mismatch", "sync-mismatch"})
"""Findings of a refused capture that a dead bank or wrong valve timing makes as well."""
_OVER_TIME = {"low-at-first": Pattern.LOW_AT_FIRST, "comes-and-goes": Pattern.COMES_AND_GOES}


@dataclass(frozen=True, slots=True)
class PatternCard:
    """One pattern that applies, ready for a page or a paper.

    Parameters
    ----------
    about
        Which cylinders, in words; empty where it is about all or none.
    hints
        Why it may apply, where that is only a hint.
    tests
        What to do next because of it, in order.
    """

    pattern: Pattern
    about: str
    meaning: PatternMeaning
    hints: tuple[str, ...]
    tests: tuple[WantedTest, ...]

    def to_json(self) -> dict[str, Any]:
        """Return plain JSON values, as a work order keeps them."""
        return {
            "pattern": self.pattern.value,
            "about": self.about,
            **asdict(self.meaning),
            "hints": list(self.hints),
            "tests": [t.key for t in self.tests],
        }


def seen_in(
    visit: Visit,
    run: Run | None,
    low: Collection[int],
    together: CapturesTogether | None = None,
) -> Seen:
    """Return what is known about an engine's pattern.

    Parameters
    ----------
    run
        The capture's run; None for a decision without one.
    low
        Cylinders that count as low: as signed, or as the report names them.
    together
        Several captures of the same state, where there are some.
    """
    report = run.report if run else None
    engine = engine_of(visit, run)
    order = run.setup.analysis.firing_order if run else engine.order if engine else None
    at_first, now_and_then, unnumbered = _over_time(report)
    if together is not None:
        differing = together.pooled.differing
        now_and_then |= {p.cylinder for p in differing if p.cylinder is not None}
        if any(p.cylinder is None for p in differing):
            unnumbered |= {Pattern.COMES_AND_GOES}
    cranks = Triage.objects.filter(visit=visit).values_list("cranks", flat=True).first() or ""
    return Seen(
        low=frozenset(low),
        high=frozenset(high_in(run)),
        high_unnumbered=is_high_unnumbered(run),
        is_open=is_open(low, report.candidates if report else ()),
        sets=tuple(frozenset(c) for c in report.candidates if c) if report else (),
        watched=_watched(report),
        weaker_bank=frozenset(weaker_cylinders(report)),
        at_first=frozenset(at_first),
        now_and_then=frozenset(now_and_then),
        unnumbered=frozenset(unnumbered),
        misfires=misfires_of(visit, run).any,
        fast_hints=fast_hints(
            cranks,
            report.speed_rpm if report else None,
            _hump_share(report),
            len(order) if order else 0,
        ),
        order=order,
        places=engine_places(engine),
    )


def _watched(report: Report | None) -> frozenset[int]:
    """Return cylinders that came out lower than the others, but not clearly."""
    if report is None or report.verdict != "even" or not report.cylinders_known:
        return frozenset()
    return frozenset(e.cylinder for e in report.estimates if e.call == "watch" and e.cylinder)


def circumstances_of(
    visit: Visit, run: Run | None, fuel: str, together: CapturesTogether | None = None
) -> Circumstances:
    """Return what is known about an engine and its job when tests are chosen for it."""
    engine = engine_of(visit, run)
    order = run.setup.analysis.firing_order if run else engine.order if engine else None
    complaint = Complaint.objects.filter(visit=visit).first()
    triage = Triage.objects.filter(visit=visit).first()
    return Circumstances(
        fuel=fuel,
        cylinders=len(order) if order else 0,
        is_flat=engine is not None and engine.layout_kind.family is Family.FLAT,
        loses_coolant=coolant_is_lost(complaint, triage),
        high_unnumbered=is_high_unnumbered(run),
        is_refused_for_timing=_is_refused_for_timing(visit, run),
        companions_of_high=_companions_of(high_in(run), order),
        has_companions=order is None or bool(order.companions),
        codes=frozenset(TroubleCode.objects.filter(visit=visit).values_list("code", flat=True)),
        captures=together.count if together is not None else int(run is not None),
        injection=visit.vehicle.injection or (engine.injection if engine else ""),
    )


def _companions_of(high: Collection[int], order: FiringOrder | None) -> frozenset[int]:
    """Return whose exhaust valves may make these stand high; none of two that share a turn."""
    found = {order.companion_of(c) for c in high} if order is not None else set()
    return frozenset(c for c in found if c is not None and c not in high)


def _is_refused_for_timing(visit: Visit, run: Run | None) -> bool:
    """Return whether the run, or else the visit's newest, was refused as timing may make it be."""
    newest = run or cranked_runs(visit).filter(state=Work.State.DONE).first()
    report = newest.report if newest else None
    if report is None or report.verdict != "not judged":
        return False
    return any(f.code in TIMING_DOUBTED for f in report.findings)


def access_of(visit: Visit, run: Run | None, seen: Seen) -> PlugAccess:
    """Return how long the plugs take to reach on this engine, beside what stands low or high."""
    minutes = access_minutes(visit.shop, engine_of(visit, run))
    places = seen.places or {}
    return PlugAccess(
        minutes=minutes,
        suspects=seen.low,
        high=seen.high,
        beside=frozenset(n for c in seen.low if c in places for n in neighbours_of(places, c)),
    )


def cards_of(seen: Seen, on: Circumstances) -> tuple[PatternCard, ...]:
    """Return the patterns that apply, in the order in which they are to be dealt with."""
    return tuple(_card(read, seen, on) for read in patterns_in(seen))


def pattern_cards(
    visit: Visit, run: Run | None, together: CapturesTogether | None = None
) -> tuple[PatternCard, ...]:
    """Return what a judged run's pattern suggests; nothing where it was not judged."""
    report = run.report if run else None
    if run is None or report is None or report.verdict == "not judged":
        return ()
    low = {c for one in report.candidates for c in one}
    seen = seen_in(visit, run, low, together)
    on = circumstances_of(visit, run, fuel_of(visit, run), together)
    return cards_of(seen, replace(on, access=access_of(visit, run, seen)))


def _card(read: Read, seen: Seen, on: Circumstances) -> PatternCard:
    return PatternCard(
        pattern=read.pattern,
        about=_(" or ").join(map(named, read.sets or ([read.cylinders] if read.cylinders else []))),
        meaning=meaning_of(read.pattern),
        hints=_hints(read, seen, on),
        tests=wanted_tests(read.pattern, on),
    )


def _hints(read: Read, seen: Seen, on: Circumstances) -> tuple[str, ...]:
    if read.pattern is Pattern.FAST_EVEN:
        return seen.fast_hints
    if read.pattern is Pattern.HIGH and on.companions_of_high:
        return (
            _("The exhaust valves that may stay shut are those of %(cylinders)s.")
            % {"cylinders": named(on.companions_of_high)},
        )
    return ()


def _over_time(report: Report | None) -> tuple[set[int], set[int], set[Pattern]]:
    """Return who is low at first, who now and then, and what is seen without a number."""
    codes = {f.code for f in report.findings} if report else set()
    if report is None or not codes & set(_OVER_TIME):
        return set(), set(), set()
    found: dict[str, set[int]] = {"first": set(), "now and then": set()}
    unnumbered = {_OVER_TIME[code] for code in codes & set(_OVER_TIME)}
    lengths = {len(e.per_cycle) for e in report.estimates}
    if report.cylinders_known and len(lengths) == 1:
        cycles = np.array([e.per_cycle for e in report.estimates]).T
        for course in courses(cycles):
            cylinder = report.estimates[course.index].cylinder
            if cylinder is not None:
                found[course.kind].add(cylinder)
    return found["first"], found["now and then"], unnumbered


def _hump_share(report: Report | None) -> float | None:
    """Return the middle height of a hump over the middle current; None without humps."""
    if report is None or not report.humps:
        return None
    current_a = float(np.median([h.current_a for h in report.humps]))
    height_a = float(np.median([h.height_a for h in report.humps]))
    return height_a / current_a if current_a > 0 else None
