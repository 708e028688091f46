"""What must be settled before an engine is cranked or run, and what settles it."""

from collections.abc import Iterable
from typing import Literal, TypeAlias

from jobs.core.patterns import HIGH, Pattern
from jobs.core.plan.evidence import Evidence
from jobs.core.plan.focus import Focus
from jobs.core.tests_wanted import Circumstances, timing_in_doubt

Stop: TypeAlias = Literal["liquid", "coolant", "timing"]
_STARTING = frozenset({"starting", "hot_restart", "after_standing", "cold"})


def open_stops(evidence: Evidence) -> tuple[Stop, ...]:
    """Return why the engine must not be cranked yet, the first thing to settle first.

    A stop ends with the test that settles it: the borescope on the high cylinders, the cooling
    system's test, the engine barred over or the trace of its cams. The newest result counts.
    """
    found: list[Stop] = []
    coolant = _newest(evidence, "coolant") if _coolant_lost(evidence) else "good"
    if not _is_looked_into(evidence) or coolant == "bad":
        found.append("liquid")
    if coolant not in {"good", "bad"}:
        found.append("coolant")
    if doubts_timing(evidence) and not _is_barred_over(evidence):
        found.append("timing")
    return tuple(found)


def may_hold_liquid(evidence: Evidence) -> bool:
    """Return whether a cylinder may hold liquid: one stands high, or coolant is lost."""
    return not {"liquid", "coolant"}.isdisjoint(open_stops(evidence))


def is_timing_in_doubt(evidence: Evidence) -> bool:
    """Return whether the engine must not be cranked before it was barred over by hand."""
    return "timing" in open_stops(evidence)


def may_run(evidence: Evidence, focus: Focus) -> bool:
    """Return whether tests of the running engine are to be thought of at all."""
    only_starts = bool(evidence.happens) and evidence.happens <= _STARTING
    if evidence.cranks == "no_crank" or (only_starts and focus.spread == "none"):
        return False
    # a cam that is out may turn freely by hand and at cranking speed, and still not when it runs
    is_out = doubts_timing(evidence) and "bad" in {
        _newest(evidence, test) for test in ("timing", "cam_trace")
    }
    return not open_stops(evidence) and not is_out


def doubts_timing(evidence: Evidence) -> bool:
    """Return whether codes, the cranking test or a struck valve put the valve timing in doubt."""
    is_struck = any(d.figures.get("scope_valves") == "struck" for d in evidence.done)
    return is_struck or timing_in_doubt(evidence.patterns, _circumstances(evidence))


def safety_first(evidence: Evidence) -> tuple[str, ...]:
    """Return the tests that come first because of what could happen, in order."""
    stops = open_stops(evidence)
    found: list[str] = []
    if Pattern.HIGH_COMPANIONS in evidence.patterns and "coolant" not in stops:
        found.append("bind")
    if "liquid" in stops:
        found.append("borescope")
    if "coolant" in stops:
        found.append("coolant")
    if "timing" in stops:
        found += ["timing", "bind"]
    if evidence.compression.result == "open":
        found.append("sync")
    return tuple(dict.fromkeys(found))


def _circumstances(evidence: Evidence) -> Circumstances:
    codes = frozenset(code for code, _status in evidence.codes)
    return Circumstances(
        loses_coolant=evidence.said.loses_coolant,
        is_refused_for_timing=evidence.is_refused_for_timing,
        codes=codes,
    )


def _coolant_lost(evidence: Evidence) -> bool:
    return _circumstances(evidence).coolant_first


def _is_looked_into(evidence: Evidence) -> bool:
    """Return whether the borescope found nothing in any cylinder that may stand high.

    Where one stands high and the capture does not tell which, it may be any.
    """
    may_be: Iterable[int | None] = evidence.compression.high
    if HIGH & evidence.patterns and not evidence.compression.high:
        may_be = evidence.engine.cylinders or (None,)
    return all(_newest(evidence, "borescope", c) == "good" for c in may_be)


def _is_barred_over(evidence: Evidence) -> bool:
    barred = _newest(evidence, "bind")
    return barred == "good" or (barred != "bad" and _newest(evidence, "cam_trace") == "good")


def _newest(evidence: Evidence, test: str, cylinder: int | None = None) -> str:
    """Return the newest outcome of a test, of a cylinder or the whole engine; empty for none."""
    of_test = [d for d in evidence.done if d.test == test and d.cylinder in {None, cylinder}]
    return of_test[-1].outcome if of_test else ""
