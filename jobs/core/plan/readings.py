"""What tests that were made say, as outcomes that the plan knows."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

from jobs.core.patterns import Pattern
from jobs.core.plan.evidence import Evidence, TestDone
from jobs.core.plan.focus import Focus
from jobs.core.plan.knowledge import GOOD, TEST_WORDS, TESTS, PlanTest
from jobs.core.plan.outcomes_found import DROPS, is_nothing_counted, outcome_of
from jobs.core.plan.trims import banks_unread, trims_outcome
from jobs.core.request import named
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop


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
    "lean_bank_idle": gettext_noop("one bank lean, at idle only"),
    "rich": gettext_noop("rich"),
    "rich_bank": gettext_noop("one bank rich"),
    "rich_idle": gettext_noop("rich at idle only"),
    "both": gettext_noop("the sensors of both banks"),
    "purge": gettext_noop("idle comes right with the tank vent closed off"),
    "charge": gettext_noop("charge air leaks out"),
    "charging": gettext_noop("voltage too low while it runs"),
    "crossed": gettext_noop("sits on the wrong cylinder"),
    "drops_less": gettext_noop("drops less than the others"),
    "drops_more": gettext_noop("drops more than the others"),
    "leaks_off": gettext_noop("leaks off or is corrected more than the others"),
    "leaks": gettext_noop("loses pressure"),
    "rises": gettext_noop("rises with oil"),
    "smoke_runner": gettext_noop("smoke at a runner"),
    "smoke_common": gettext_noop("smoke where all cylinders draw"),
    "recirculation": gettext_noop("idle comes right with the recirculation closed off"),
    "electric": gettext_noop("resistance unlike the others"),
    "lift": gettext_noop("lift too small"),
    "clearance": gettext_noop("clearance out of its limit"),
    "drop": gettext_noop("voltage drop over the limit"),
    "drop_here": gettext_noop("voltage drop here, not at the others"),
    "sticks": gettext_noop("a valve closes slowly"),
    "battery": gettext_noop("battery low while cranking"),
    "drags": gettext_noop("slow with full voltage"),
    "one_bank": gettext_noop("the cam of one bank is out"),
    "all": gettext_noop("the cams are out"),
    "crank": gettext_noop("gaps in the crank's trace"),
    "stays": gettext_noop("a cam stays off its command"),
    "supply": gettext_noop("its valve has no supply"),
    "liquid": gettext_noop("liquid stands in it"),
    "struck": gettext_noop("a valve was struck"),
    "washed": gettext_noop("washed clean by coolant"),
    "burnt": gettext_noop("a valve is burnt"),
    "scored": gettext_noop("the bore is scored"),
    "carbon": gettext_noop("heavy carbon"),
    "oily_stems": gettext_noop("oil on valve stems"),
    "deposits": gettext_noop("deposits on intake valves"),
    "fuel": gettext_noop("the bore is wet with fuel"),
    "new": gettext_noop("another cylinder is weak"),
    "some_cycles": gettext_noop("weak in single cycles only"),
    "alone": gettext_noop("too little, and the exhaust is free"),
    "none": gettext_noop("no misfire, and nobody felt one"),
    "vanished": gettext_noop("no weak cylinder, sync proved"),
    "other": gettext_noop("it is another cylinder"),
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
    if done.is_warm is False and evidence.was_first_warm:
        return TESTS["repeat_cold"]
    changes = {Pattern.COMES_AND_GOES, Pattern.LOW_AT_FIRST} & evidence.patterns
    return TESTS["repeat"] if changes or done.outcome != GOOD else None


test_of.__test__ = False  # type: ignore[attr-defined]  # pytest collects what is called so


def _are_banks_good(done: TestDone, evidence: Evidence) -> bool:
    """Return whether a test is good on every bank that can be read; one tells of itself alone."""
    rows = [d for d in evidence.done if d.test == done.test and d.bank is not None]
    made = {d.outcome for d in rows} - {"not_done"}
    return made == {GOOD} and not banks_unread({d.bank for d in rows}, evidence.engine)


_Found: TypeAlias = tuple[str, str, int | None]
"""A test, its outcome and the cylinder; None for the whole engine or a bank."""


def _of_tests(evidence: Evidence) -> Iterator[_Found]:
    for done in evidence.done:
        test = _made_as(done, evidence)
        if test is None or test.key == "trims" or done.outcome not in {"good", "bad"}:
            continue
        if done.outcome == GOOD and done.bank is not None and not _are_banks_good(done, evidence):
            continue
        if done.figures.get("connected_to"):
            is_own = done.figures["connected_to"] == "own"
            yield "leads", GOOD if is_own else "crossed", done.cylinder
            if not DROPS & done.figures.keys():
                continue
        if test.key == "counts" and is_nothing_counted(evidence):
            yield "counts", "none", None
            continue
        outcome = outcome_of(done, test, evidence)
        if outcome:
            yield test.key, outcome, done.cylinder
    trims = test_of("trims", evidence.fuel)
    outcome = trims_outcome(evidence) if trims else ""
    if outcome:
        yield "trims", outcome, None


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


def _made_of_wiring(test: PlanTest, evidence: Evidence) -> set[int | None]:
    """Return where leads were followed, or drops measured: one record holds both."""
    rows = (d for d in evidence.done if d.test == "wiring" and d.outcome in {"good", "bad"})
    is_followed = test.key == "leads"
    return {d.cylinder for d in rows if _is_of_leads(d) == is_followed or _is_of_both(d)}


def _is_of_leads(done: TestDone) -> bool:
    return "connected_to" in done.figures


def _is_of_both(done: TestDone) -> bool:
    return _is_of_leads(done) and bool(DROPS & done.figures.keys())


def _made_on(test: PlanTest, evidence: Evidence) -> set[int | None]:
    """Return the cylinders that a test was made on; None among them for the whole engine."""
    if test.moves:
        return {s.from_cylinder for s in evidence.swaps if s.part == test.moves}
    made = {
        d.cylinder
        for d in evidence.done
        if d.test == test.recorded
        and (d.outcome in {"good", "bad"} or (d.test == "frame" and d.outcome == "ambiguous"))
        and (d.is_warm or test.key != "repeat_warm")
        and (d.is_warm is False or test.key != "repeat_cold")
    }
    if test.key in {"leads", "wiring"}:
        return _made_of_wiring(test, evidence)
    if test.key == "plugs":
        # a plug that was moved was looked at
        made |= {s.from_cylinder for s in evidence.swaps if s.part == "plug"}
    return made
