"""What tests that were made say, as outcomes that the plan knows."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from jobs.core.measured_tests.spread import spread_of
from jobs.core.patterns import Pattern
from jobs.core.plan.evidence import Evidence, Figure, TestDone
from jobs.core.plan.focus import Focus
from jobs.core.plan.held import bad_figures, limit_in_force, side_missed, value_of
from jobs.core.plan.knowledge import GOOD, TEST_WORDS, TESTS, PlanTest
from jobs.core.plan.trims import banks_unread, trims_outcome
from jobs.core.request import named
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

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


@dataclass(frozen=True, slots=True)
class Reading:
    """One outcome of a test that was made.

    Parameters
    ----------
    test, outcome
        By their names in `outcomes.toml`; `good` where nothing was found.
    cylinders
        Which it was found on; empty for the whole engine or a bank.
    """

    test: str
    outcome: str
    cylinders: tuple[int, ...] = ()

    @property
    def words(self) -> str:
        """The outcome in the reader's language."""
        name = _(TEST_WORDS[self.test].name)
        if TESTS[self.test].moves:
            said = _("stayed") if self.outcome == GOOD else _("followed")
        else:
            said = _("good") if self.outcome == GOOD else _(OUTCOME_WORDS[self.outcome])
        if not self.cylinders:
            return _("{test}: {outcome}").format(test=name, outcome=said)
        return _("{test} on {cylinders}: {outcome}").format(
            test=name, cylinders=named(self.cylinders), outcome=said
        )


OUTCOME_WORDS = {
    "bad": gettext_noop("bad"),
    "worn": gettext_noop("worn"),
    "cracked": gettext_noop("cracked"),
    "wet": gettext_noop("wet"),
    "oily": gettext_noop("oily"),
    "sooty": gettext_noop("sooty"),
    "white": gettext_noop("white"),
    "valve": gettext_noop("air at a valve"),
    "crankcase": gettext_noop("air at the oil filler"),
    "coolant": gettext_noop("air in the coolant"),
    "neighbour": gettext_noop("air at the neighbour"),
    "regular_flick": gettext_noop("regular flick"),
    "occasional_flick": gettext_noop("occasional flick"),
    "low": gettext_noop("low under load"),
    "falls": gettext_noop("falls at rest"),
    "lean_idle": gettext_noop("lean at idle"),
    "lean_load": gettext_noop("lean at speed"),
    "lean_all": gettext_noop("lean throughout"),
    "lean_bank": gettext_noop("one bank lean"),
    "rich": gettext_noop("rich"),
    "drops_less": gettext_noop("drops less than the others"),
    "drops_more": gettext_noop("drops more than the others"),
    "leaks_off": gettext_noop("leaks off or is corrected more than the others"),
    "rises": gettext_noop("rises with oil"),
    "smoke_runner": gettext_noop("smoke at a runner"),
    "smoke_common": gettext_noop("smoke where all cylinders draw"),
    "recirculation": gettext_noop("idle comes right with the recirculation closed off"),
    "electric": gettext_noop("resistance unlike the others"),
    "lift": gettext_noop("lift too small"),
    "clearance": gettext_noop("clearance out of its limit"),
    "drop": gettext_noop("voltage drop over the limit"),
    "drop_here": gettext_noop("voltage drop here, not at the others"),
}


def readings_in(evidence: Evidence, focus: Focus) -> tuple[Reading, ...]:
    """Return what the tests say about the focus, each test and outcome once.

    Bad counts wherever it was found. Good counts once it holds for every suspect, or for every
    cylinder where nobody is named: a part that is good on one says nothing of the next.
    """
    found: dict[tuple[str, str], set[int | None]] = {}
    for test, outcome, cylinder in (*_of_tests(evidence), *_of_swaps(evidence)):
        found.setdefault((test, outcome), set()).add(cylinder)
    suspects = frozenset(focus.cylinders or evidence.engine.cylinders)
    readings = []
    for (test, outcome), cylinders in found.items():
        on = frozenset(c for c in cylinders if c is not None)
        if None in cylinders:
            readings.append(Reading(test, outcome))
        elif outcome != GOOD:
            readings.append(Reading(test, outcome, tuple(sorted(on))))
        elif suspects and suspects <= on:
            readings.append(Reading(test, outcome, tuple(sorted(suspects))))
    return tuple(readings)


def test_of(recorded: str, fuel: str) -> PlanTest | None:
    """Return the test of the plan under which a finding is recorded on an engine of this fuel."""
    fitting = [t for t in TESTS.values() if t.recorded == recorded and fuel in t.only]
    return next(iter(fitting), None)


def _made_as(done: TestDone, evidence: Evidence) -> PlanTest | None:
    """Return which test of the plan one that was made is; None where it says nothing.

    Captures repeated warm and cold are recorded as one test. Only a warm one tells what an even
    cold one left open, and that an even capture is even again says nothing of a misread one.
    """
    if done.test != "repeat" or not evidence.is_even:
        return test_of(done.test, evidence.fuel)
    if done.is_warm:
        return TESTS["repeat_warm"]
    changes = {Pattern.COMES_AND_GOES, Pattern.LOW_AT_FIRST} & evidence.patterns
    return TESTS["repeat"] if changes or done.outcome != GOOD else None


test_of.__test__ = False  # type: ignore[attr-defined]  # pytest collects what is called so


_Found: TypeAlias = tuple[str, str, int | None]
"""A test, its outcome and the cylinder; None for the whole engine or a bank."""


def _of_tests(evidence: Evidence) -> Iterator[_Found]:
    for done in evidence.done:
        test = _made_as(done, evidence)
        if test is None or test.key == "trims" or done.outcome not in {"good", "bad"}:
            continue
        outcome = GOOD if done.outcome == "good" else _found(done, test, evidence)
        if outcome:
            yield test.key, outcome, done.cylinder
    trims = test_of("trims", evidence.fuel)
    outcome = trims_outcome(evidence) if trims else ""
    if outcome:
        yield "trims", outcome, None


def _found(done: TestDone, test: PlanTest, evidence: Evidence) -> str:
    """Return what a test that came out bad found; empty where the plan makes nothing of it."""
    figures = done.figures
    special = {
        "leak_down": lambda: _AIR_AT.get(str(figures.get("heard_at", "")), ""),
        "plugs": lambda: _among(figures.get("plug_look"), _LOOKS),
        "vacuum": lambda: _of_vacuum(figures),
        "fuel_press": lambda: _of_pressure(done),
        "wiring": lambda: _of_drops(done, evidence),
        "valves": lambda: _of_valves(done, evidence),
        "injector": lambda: _of_balance(done, evidence),
    }.get(test.key)
    outcome = special() if special else ""
    outcome = outcome or "bad"
    return outcome if test.found(outcome) else ""


def _among(value: Figure | None, known: frozenset[str]) -> str:
    return str(value) if value in known else ""


def _of_vacuum(figures: Mapping[str, Figure]) -> str:
    """Return what was seen, the surest first: where smoke comes out, what closing off did."""
    if (smoke := _SMOKE.get(str(figures.get("smoke_at", "")))) is not None:
        return smoke
    if figures.get("recirculation_closed") == "better":
        return "recirculation"
    return _among(figures.get("needle"), _NEEDLES)


def _of_pressure(done: TestDone) -> str:
    # under load the pressure itself may have a limit of the manufacturer's
    if side_missed(done, "load_fall_percent") == "high" or side_missed(done, "load_kpa") == "low":
        return "low"
    is_lost = side_missed(done, "held_fall_percent") == "high"
    return "falls" if is_lost or side_missed(done, "held_kpa") == "low" else ""


def _has_drop(done: TestDone) -> bool | None:
    """Return whether a voltage drop misses its limit; None where none was measured."""
    sides = [side_missed(done, name) for name in ("supply_drop_v", "ground_drop_v")]
    return None if sides == [None, None] else "high" in sides


def _of_drops(done: TestDone, evidence: Evidence) -> str:
    """Return whether a drop over the limit is what all share, or lies at one cylinder."""
    if not _has_drop(done):
        return ""
    rows = [one for one in evidence.done if one.test == "wiring"]
    measured = [found for one in rows if (found := _has_drop(one)) is not None]
    if done.cylinder is None or (len(measured) > 1 and all(measured)):
        return "drop"
    return "drop_here" if len(measured) > 1 else ""


def _of_balance(done: TestDone, evidence: Evidence) -> str:
    bad = bad_figures(done, evidence.done)
    # a coil that is out corrects and leaks off otherwise too
    if "resistance_ohm" in bad:
        return "electric"
    if bad & {"leak_off_ml", "correction_mg"}:
        return "leaks_off"
    side = side_missed(done, "drop_kpa")
    if side is None:
        return ""
    side = side or _side_of_others(done, evidence)
    return {"low": "drops_less", "high": "drops_more"}.get(side, "")


def _of_valves(done: TestDone, evidence: Evidence) -> str:
    """Return whether valves lift too little or have the wrong clearance; '' where both or open."""
    bad = bad_figures(done, evidence.done)
    kinds = {name.split("_")[1] for name in bad}
    return kinds.pop() if len(kinds) == 1 else ""


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


def _of_swaps(evidence: Evidence) -> Iterator[_Found]:
    for swap in evidence.swaps:
        outcome = {"yes": "yes", "no": GOOD}.get(swap.followed)
        if outcome:
            yield f"swap_{swap.part}", outcome, swap.from_cylinder


def is_done(test: PlanTest, evidence: Evidence, focus: Focus) -> bool:
    """Return whether a test was made on all that it would be asked for."""
    if banks_left(test, evidence):
        return False
    made = _made_on(test, evidence)
    if None in made or not focus.cylinders:
        return bool(made)
    return made >= set(_asked_on(test, evidence, focus))


def cylinders_left(test: PlanTest, evidence: Evidence, focus: Focus) -> tuple[int, ...]:
    """Return the cylinders that a test is asked for on and was not made on yet."""
    made = _made_on(test, evidence)
    return tuple(c for c in _asked_on(test, evidence, focus) if c not in made)


def banks_left(test: PlanTest, evidence: Evidence) -> tuple[int, ...]:
    """Return the banks that a test was not made on yet, where it was made on one of them.

    One that is recorded as not done was asked for and is not left.
    """
    rows = [d for d in evidence.done if d.test == test.recorded and d.cylinder is None]
    made = {d.bank for d in rows if d.outcome in {"good", "bad"}}
    if not made - {None}:
        return ()
    passed = {d.bank for d in rows if d.outcome == "not_done"} - {None}
    return banks_unread(made | passed, evidence.engine)


def _asked_on(test: PlanTest, evidence: Evidence, focus: Focus) -> tuple[int, ...]:
    """Return the suspects; a cylinder that stands high is looked into whoever is suspected."""
    high = evidence.compression.high if test.key == "borescope" else frozenset()
    return tuple(sorted({*focus.cylinders, *high}))


def _made_on(test: PlanTest, evidence: Evidence) -> set[int | None]:
    """Return the cylinders that a test was made on; None among them for the whole engine."""
    if test.moves:
        return {s.from_cylinder for s in evidence.swaps if s.part == test.moves}
    made = {
        d.cylinder
        for d in evidence.done
        if d.test == test.recorded
        and d.outcome in {"good", "bad"}
        and (d.is_warm or test.key != "repeat_warm")
    }
    if test.key == "plugs":
        # a plug that was moved was looked at
        made |= {s.from_cylinder for s in evidence.swaps if s.part == "plug"}
    return made
