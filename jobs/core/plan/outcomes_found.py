"""What a test that was made found, by its figures and the limits that were in force."""

from collections.abc import Callable, Mapping

from jobs.core.measured_tests.cams import CAMS, is_asked_to_move
from jobs.core.measured_tests.spread import spread_of
from jobs.core.patterns import Pattern
from jobs.core.plan.evidence import Evidence, Figure, TestDone
from jobs.core.plan.held import bad_figures, limit_in_force, side_missed, value_of
from jobs.core.plan.knowledge import GOOD, PlanTest
from jobs.core.plan.trims import banks_unread

_LOOKS = frozenset({"worn", "cracked", "wet", "oily", "sooty", "white"})
_AIR_AT = {
    "intake": "valve",
    "exhaust": "valve",
    "crankcase": "crankcase",
    "coolant": "coolant",
    "neighbour": "neighbour",
}
_SMOKE = {"runner": "smoke_runner", "common": "smoke_common"}
_NEEDLES = frozenset({"regular_flick", "occasional_flick"})
_DROPS = ("supply_drop_v", "ground_drop_v")
DROPS = frozenset({*_DROPS, "charging_v"})
"""What supply and ground are judged by, beside where leads sit, in one record."""
_REPEATS = frozenset({"new", "some_cycles"})
_RULES_OUT = {
    "air_meter": ("air_full_g_s",),
    "borescope": ("scope_chamber",),
    "cam_trace": ("cam_off_deg",),
    "exhaust": ("back_fast_kpa",),
    "fuel_press": ("load_kpa",),
    "phaser": ("intake_cam_error_deg", "exhaust_cam_error_deg"),
    "wiring": ("supply_drop_v", "ground_drop_v"),
    "vacuum": ("vacuum_idle_kpa", "needle", "smoke_at"),
    "valves": ("intake_lift_mm", "exhaust_lift_mm"),
}
"""One of these must have been measured for a good test to rule out what it clears."""
_SEEN = {
    "liquid": "liquid",
    "struck": "struck",
    "washed": "washed",
    "burnt": "burnt",
    "scored": "scored",
    "carbon": "carbon",
    "oily": "oily_stems",
    "deposits": "deposits",
    "fuel": "fuel",
}
"""Outcome by what a borescope shows, the one that goes first first."""


def outcome_of(done: TestDone, test: PlanTest, evidence: Evidence) -> str:
    """Return what a test that came out good or bad found; empty where the plan makes nothing of it.

    Parameters
    ----------
    test
        Which test of the plan it is.
    """
    if done.outcome == GOOD:
        if test.key == "repeat" and _is_vanished(done, evidence):
            return "vanished"
        return GOOD if _clears(done, test) else ""
    figures = done.figures
    special: Callable[[], str] | None = {
        "leak_down": lambda: _AIR_AT.get(str(figures.get("heard_at", "")), ""),
        "plugs": lambda: _among(figures.get("plug_look"), _LOOKS),
        "vacuum": lambda: _of_vacuum(figures),
        "fuel_press": lambda: _of_pressure(done),
        "wiring": lambda: _of_drops(done, evidence),
        "valves": lambda: _of_valves(done, evidence),
        "injector": lambda: _of_balance(done, evidence),
        "starter": lambda: _of_starter(done),
        "oxygen": lambda: _of_sensors(evidence),
        "air_meter": lambda: "alone" if _is_exhaust_free(evidence) else "",
        "phaser": lambda: _of_phaser(done),
        "cam_trace": lambda: _of_cams(done, evidence),
        "borescope": lambda: _of_scope(figures),
        "coolant": lambda: _of_coolant(done),
        "repeat": lambda: _among(figures.get("repeat_shows"), _REPEATS),
        "repeat_cold": lambda: _among(figures.get("repeat_shows"), _REPEATS),
    }.get(test.key)
    outcome = special() if special else ""
    outcome = outcome or "bad"
    return outcome if test.found(outcome) else ""


def is_nothing_counted(evidence: Evidence) -> bool:
    """Return whether a drive counted nothing on any cylinder of a code that nobody felt.

    Where it was stored is looked up first, or the drive may not have been the right one.
    """
    taken = {
        d.cylinder: d.figures.get("misfires")
        for d in evidence.done
        if d.test == "counts" and d.outcome != "not_done"
    }
    cylinders = evidence.engine.cylinders
    is_nothing = bool(cylinders) and all(taken.get(c) == 0 for c in cylinders)
    is_looked_up = evidence.has_frame or any(d.test == "frame" for d in evidence.done)
    return is_nothing and is_looked_up and evidence.verified == "no" and evidence.is_even


def _clears(done: TestDone, test: PlanTest) -> bool:
    """Return whether what was measured rules out what a good test clears; a person's word does.

    A pressure that holds at rest says nothing of the load, a clean crank trace nothing of a cam.
    """
    needed = _RULES_OUT.get(test.key)
    if not done.figures or needed is None:
        return True
    if test.key == "phaser":
        moved = {f"{cam}_error_deg" for cam in CAMS if is_asked_to_move(done.figures, cam)}
        needed = tuple(name for name in needed if name in moved)
    return any(
        value_of(done, name) is not None or done.figures.get(name) is not None for name in needed
    )


def _among(value: Figure | None, known: frozenset[str]) -> str:
    return str(value) if value in known else ""


def _of_vacuum(figures: Mapping[str, Figure]) -> str:
    """Return what was seen, the surest first: where smoke comes out, what closing off did."""
    if (smoke := _SMOKE.get(str(figures.get("smoke_at", "")))) is not None:
        return smoke
    if figures.get("recirculation_closed") == "better":
        return "recirculation"
    if figures.get("purge_closed") == "better":
        return "purge"
    if figures.get("charge_hoses") == "leak":
        return "charge"
    return _among(figures.get("needle"), _NEEDLES)


def _of_pressure(done: TestDone) -> str:
    # a limit of the manufacturer's for the pressure itself goes before what it may fall by
    has_own = limit_in_force(done, "load_kpa").least is not None
    own, fall = side_missed(done, "load_kpa"), side_missed(done, "load_fall_percent")
    if own == "low" or (fall == "high" and (own is None or not has_own)):
        return "low"
    is_lost = side_missed(done, "held_fall_percent") == "high"
    return "falls" if is_lost or side_missed(done, "held_kpa") == "low" else ""


def _of_drops(done: TestDone, evidence: Evidence) -> str:
    """Return whether a drop over the limit is what all share, or lies at one cylinder.

    Only the same side tells that the others have none: a ground that is right says nothing of a
    supply that nobody measured.
    """
    if side_missed(done, "charging_v") == "low":
        return "charging"
    over = [name for name in _DROPS if side_missed(done, name) == "high"]
    if not over:
        return ""
    if done.cylinder is None:
        return "drop"
    others = [
        side
        for one in evidence.done
        if one.test == "wiring" and one.cylinder != done.cylinder
        for name in over
        if (side := side_missed(one, name)) is not None
    ]
    if not others:
        return ""
    return "drop" if all(side == "high" for side in others) else "drop_here"


def _of_balance(done: TestDone, evidence: Evidence) -> str:
    bad = bad_figures(done, evidence.done)
    # a coil that is out corrects and leaks off otherwise too
    if "resistance_ohm" in bad:
        return "electric"
    # a cylinder that compresses badly is given more fuel whatever its injector does
    is_weak = done.cylinder in evidence.compression.weak
    if bad & ({"leak_off_ml"} if is_weak else {"leak_off_ml", "correction_mg"}):
        return "leaks_off"
    side = side_missed(done, "drop_kpa")
    if side is None:
        return ""
    side = side or _side_of_others(done, evidence)
    return {"low": "drops_less", "high": "drops_more"}.get(side, "")


def _of_valves(done: TestDone, evidence: Evidence) -> str:
    """Return whether valves stick, lift too little or close with too little clearance."""
    bad = bad_figures(done, evidence.done)
    if done.figures.get("valve_return") == "slow":
        # what hangs in its guide is seen, whatever else is measured
        return "sticks"
    kinds = {name.split("_")[1] for name in bad}
    wide = [n for n in bad if n.endswith("_clearance_mm") and side_missed(done, n) != "low"]
    return kinds.pop() if len(kinds) == 1 and not wide else ""


def _side_of_others(done: TestDone, evidence: Evidence) -> str:
    """Return on which side a pressure drop lies too far from the mean of all; '' on none."""
    apart = limit_in_force(done, "drop_kpa").apart
    own = value_of(done, "drop_kpa")
    if apart is None or own is None:
        return ""
    drops = {
        one.cylinder: drop
        for one in evidence.done
        if one.test == "injector" and (drop := value_of(one, "drop_kpa")) is not None
    }
    spread = spread_of(drops, apart)
    if done.cylinder not in spread.odd:
        return ""
    return "high" if own > spread.middle else "low"


def _of_starter(done: TestDone) -> str:
    """Return why it cranks slowly; empty where the figures leave it open."""
    if side_missed(done, "starter_drop_v") == "high":
        return "drop"
    if side_missed(done, "starter_battery_v") == "low":
        return "battery"
    known = side_missed(done, "starter_drop_v"), side_missed(done, "starter_battery_v")
    return "drags" if side_missed(done, "starter_rpm") == "low" and known == ("", "") else ""


def _of_sensors(evidence: Evidence) -> str:
    """Return `both` where the sensor of every bank is bad, which is not the fault of one."""
    rows = [d for d in evidence.done if d.test == "oxygen"]
    bad = {d.bank for d in rows if d.outcome == "bad"} - {None}
    return "both" if len(bad) > 1 and not banks_unread(bad, evidence.engine) else ""


def _of_phaser(done: TestDone) -> str:
    """Return whether a cam stays behind with oil and supply right; '' where that is open."""
    feed = done.figures.get("cam_feed")
    if feed == "supply":
        return "supply"
    # oil that is low is put right before the phaser is judged
    is_fed = feed == "right"
    return "stays" if is_fed and any(_stays(done, cam) for cam in CAMS) else ""


def _stays(done: TestDone, cam: str) -> bool:
    """Return whether a cam that was asked to move far enough stays off its command."""
    is_off = side_missed(done, f"{cam}_error_deg") == "high"
    return is_off and is_asked_to_move(done.figures, cam)


def _of_cams(done: TestDone, evidence: Evidence) -> str:
    """Return whether one bank's cam is out, all are, or the crank's signal; '' where open."""
    if done.figures.get("crank_trace") == "gaps":
        return "crank"
    rows = [d for d in evidence.done if d.test == "cam_trace" and d.outcome in {GOOD, "bad"}]
    off = {d.bank: _cam_off(d) for d in rows}
    is_untold = None in off.values() or banks_unread(off, evidence.engine)
    if is_untold or True not in off.values():
        return ""
    return "all" if all(off.values()) else "one_bank"


def _cam_off(done: TestDone) -> bool | None:
    """Return whether a bank's cam is off; None without a figure, or by a crank with gaps."""
    side = side_missed(done, "cam_off_deg")
    return None if side is None or done.figures.get("crank_trace") == "gaps" else bool(side)


def _of_coolant(done: TestDone) -> str:
    """Return whether pressure was lost and nothing says into a cylinder."""
    is_lost = side_missed(done, "cap_fall_kpa") == "high"
    return "leaks" if is_lost and done.figures.get("gas") != "changed" else ""


def _is_exhaust_free(evidence: Evidence) -> bool:
    return any(d.test == "exhaust" and d.outcome == GOOD for d in evidence.done)


def _of_scope(figures: Mapping[str, Figure]) -> str:
    """Return what was seen, what can do harm first."""
    seen = {figures.get("scope_valves"), figures.get("scope_chamber")}
    return next((outcome for answer, outcome in _SEEN.items() if answer in seen), "")


def _is_vanished(done: TestDone, evidence: Evidence) -> bool:
    """Return whether a weak cylinder is good in a second capture whose sync was proved."""
    changes = {Pattern.COMES_AND_GOES, Pattern.LOW_AT_FIRST} & evidence.patterns
    is_even = done.figures.get("repeat_shows") == "even"
    is_proved = done.figures.get("repeat_sync") == "proved"
    is_again = is_even and is_proved and not changes
    return (
        bool(evidence.compression.weak) and is_again and not _is_of_another_warmth(done, evidence)
    )


def _is_of_another_warmth(done: TestDone, evidence: Evidence) -> bool:
    """Return whether a capture was repeated at a warmth that the first was not known to have."""
    if done.is_warm is None:
        return False
    return evidence.compression.temperature not in ({"warm", "hot"} if done.is_warm else {"cold"})
