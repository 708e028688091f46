"""When a test is asked for at all, and what is noted before anything is moved."""

import re
from collections.abc import Callable, Mapping

from jobs.core.code_meaning import code_base
from jobs.core.patterns import Pattern
from jobs.core.plan.clues import names_a_cam, names_a_phaser
from jobs.core.plan.evidence import Evidence
from jobs.core.plan.focus import Focus, is_hardly_counted, misfiring_of
from jobs.core.plan.safety import doubts_timing, is_timing_in_doubt, may_hold_liquid
from jobs.core.plan.trims import trims_outcome

FAR_DOWN = 0.4
"""Relative compression under which no scatter makes a good cylinder look weak (by judgement)."""


def changes(evidence: Evidence) -> bool:
    """Return whether a cylinder is weak in some cycles of the cranking test only."""
    return bool({Pattern.COMES_AND_GOES, Pattern.LOW_AT_FIRST} & evidence.patterns)


def one_decides(evidence: Evidence) -> bool:
    """Return whether one capture names a cylinder: one figure should not decide money.

    A cylinder that hardly compresses and misfires by its counts as well is named twice.
    """
    test = evidence.compression
    is_far_down = bool(test.weak) and all(v < FAR_DOWN for v in test.weak.values())
    is_counted = bool(evidence.counts) and set(test.weak) <= misfiring_of(evidence)
    is_named = bool(test.weak) and test.result != "open" and test.captures < 2
    return is_named and not (is_far_down and is_counted)


_AIR_AT_IDLE = frozenset({"lean_idle", "lean_bank_idle"})
_MIXTURE = re.compile(r"P017[0-5]")


def _may_mixture_tell(evidence: Evidence, focus: Focus) -> bool:
    """Return whether trims may say something.

    A cylinder that misfires alone and all the time reads lean whatever its cause is, and what
    happens in the wet only is no matter of the mixture.
    """
    if any(_MIXTURE.fullmatch(code_base(code)) for code, _status in evidence.codes):
        return True
    is_dead = focus.spread == "one" and "always" in evidence.happens
    is_wet_only = "wet" in evidence.happens and evidence.happens <= {"wet", "sometimes"}
    return not is_dead and not is_wet_only


LACKING: Mapping[str, Callable[[Evidence, Focus], bool]] = {
    "counts": lambda evidence, _focus: not evidence.counts or is_unfelt(evidence),
    "frame": lambda evidence, _focus: (
        not evidence.has_frame and _is_stored(evidence) and is_unfelt(evidence)
    ),
    "focus": lambda evidence, focus: not focus.cylinders and not evidence.counts,
    "second_capture": lambda evidence, _focus: changes(evidence) or one_decides(evidence),
    "warm_capture": lambda evidence, _focus: evidence.is_untried_warm,
    "cold_capture": lambda evidence, _focus: evidence.is_untried_cold,
    "cranks_well": lambda evidence, _focus: evidence.cranks in {"slow", "no_crank"},
    "phaser_at_rest": lambda evidence, _focus: (
        names_a_phaser(evidence) and not doubts_timing(evidence)
    ),
    "settled": lambda evidence, focus: (
        evidence.compression.result == "open"
        or (one_decides(evidence) and not focus.misfiring & set(evidence.compression.weak))
    ),
    "single_coils": lambda evidence, _focus: evidence.ignition in {"", "single"},
    # one part hardly fails on a whole bank: what feeds them is measured
    "few_coils": lambda _evidence, focus: focus.spread != "bank",
    "mixture_told": _may_mixture_tell,
    # a sensor that is wrong is so at any speed
    "sensor_told": lambda evidence, _focus: trims_outcome(evidence) not in _AIR_AT_IDLE,
    "untouched": lambda evidence, _focus: (
        evidence.said.ignition_work or evidence.said.fuel_work or evidence.said.timing_work
    ),
    "own_injectors": lambda evidence, _focus: evidence.injection != "single_point",
    "cam_known_right": lambda evidence, _focus: (
        doubts_timing(evidence)
        or evidence.said.timing_work
        or names_a_cam(evidence)
        or _is_needle_low(evidence)
    ),
}
"""Whether it is lacking what a test is asked for, by the name in `outcomes.toml`."""


def _is_needle_low(evidence: Evidence) -> bool:
    return any(d.test == "vacuum" and d.figures.get("needle") == "low" for d in evidence.done)


def _is_stored(evidence: Evidence) -> bool:
    """Return whether a code has a freeze frame: it is stored, not pending only."""
    return any(status != "pending" for _code, status in evidence.codes)


def is_oily(evidence: Evidence, focus: Focus) -> bool:
    """Return whether oil on its plug explains the misfire: no part of the spark is moved then."""
    return any(
        d.test == "plugs"
        and d.figures.get("plug_look") == "oily"
        and (d.cylinder is None or d.cylinder in focus.cylinders)
        for d in evidence.done
    )


def is_away(evidence: Evidence) -> bool:
    """Return whether the misfire comes and goes uncounted: a swap then proves nothing."""
    comes_and_goes = bool({"sometimes", "wet"} & evidence.happens)
    return (comes_and_goes and not evidence.counts) or is_unfelt(evidence)


def is_unfelt(evidence: Evidence) -> bool:
    """Return whether nobody could feel it, and no counter that was read names anybody."""
    is_counted = bool(evidence.counts) and not is_hardly_counted(evidence)
    return evidence.verified == "no" and not is_counted


def to_compare_with(evidence: Evidence, focus: Focus) -> tuple[str, ...]:
    """Return what is noted before anything is moved, so that later tests compare with it."""
    if may_hold_liquid(evidence) or is_timing_in_doubt(evidence):
        return ()
    if one_decides(evidence) or changes(evidence):
        # nothing comes off for one figure of a misfire that nobody feels
        return ("repeat", "counts", "sync") if is_unfelt(evidence) else ("repeat",)
    if evidence.is_untried_cold:
        return ("repeat_cold",)
    if is_unfelt(evidence) and evidence.codes:
        # it is looked for where it was stored, and nothing is moved before it is there
        is_lacking = not evidence.has_frame and _is_stored(evidence)
        return ("frame", "counts") if is_lacking else ("counts",)
    # a counter that runs on a bad crank signal names anybody
    trusted = not any(code.startswith("P033") for code, _status in evidence.codes)
    return ("counts",) if trusted and is_to_be_counted(evidence, focus) else ()


def is_to_be_counted(evidence: Evidence, focus: Focus) -> bool:
    """Return whether it misfires by its codes, nothing was counted, and no cylinder is weak."""
    misfires = focus.spread != "none" and any(c.startswith("P03") for c, _status in evidence.codes)
    is_open = evidence.compression.result in {"open", "weak", "bank", "high"}
    return misfires and not evidence.counts and not is_open and not changes(evidence)
