"""Which tests to ask a mechanic for, in a sensible order, and why."""

from collections.abc import Collection, Sequence
from dataclasses import asdict, dataclass, replace

from jobs.core.candidate_ranking import MARK, Ranking
from jobs.core.patterns import Pattern

COMMON = "common practice"
MAKERS = "vehicle makers' service texts, as an example"


WHOLE_ENGINE = frozenset({"sync", "bind", "timing", "repeat", "wash"})
"""Tests of a finding that are about the engine and not about one cylinder."""
_RECORDED_AS = {
    "stop": "borescope",
    "neighbour": "leak_down",
    "repeat_at_once": "repeat",
    "bank_gauge": "gauge_dry",
    "exhaust_lift": "other",
}


def recorded_as(key: str) -> str:
    """Return the test under which a finding on a wanted test is recorded."""
    return _RECORDED_AS.get(key, key)


@dataclass(frozen=True, slots=True)
class WantedTest:
    """One test asked for.

    Parameters
    ----------
    key
        Short name; `recorded_as` gives the test of the finding on it.
    words
        What to do and what to write down.
    why
        What the outcome decides.
    source
        Where the advice comes from.
    """

    key: str
    words: str
    why: str
    source: str

    def to_json(self) -> dict[str, str]:
        """Return plain JSON values."""
        return asdict(self)


STOP_HIGH = WantedTest(
    "stop",
    "Do not crank again. Take the plug (diesel: glow plug or injector, the maker's way) out of "
    "the high cylinder and look for liquid.",
    "Liquid does not compress: cranking on can bend a rod.",
    COMMON,
)
EXHAUST_LIFT = WantedTest(
    "exhaust_lift",
    "If the high cylinder is dry and clean: rocker cover off, compare the lift of the exhaust "
    "valves of the cylinder 360 degrees away with another's.",
    "An exhaust valve that stays shut compresses the gas again, a turn later, on top of the high "
    "cylinder's own compression.",
    COMMON,
)
RESYNC = WantedTest(
    "sync",
    "Check the sync first: repeat the capture with a second sync source, or open one easy "
    "cylinder and see which hump vanishes.",
    "Until the sync is proved, more than one set of cylinders fits: one turn off, and two "
    "cylinders 360° apart trade places.",
    COMMON,
)
TURN_BIND = WantedTest(
    "bind",
    "Turn the engine by hand through two turns: does it bind once in every turn (starter, "
    "ring gear, accessory)?",
    "A bind once a turn weighs on two cylinders 360° apart and looks like two low ones.",
    COMMON,
)
TIMING = WantedTest(
    "timing",
    "Check cam timing of {where} against the maker's marks before anything is taken apart.",
    "Late or early valves lower a whole row at once.",
    COMMON,
)
BANK_GAUGE = WantedTest(
    "bank_gauge",
    "Gauge, dry, on one easy cylinder of each bank: throttle open, charged battery, 4 to 6 "
    "strokes; hold both against the manufacturer's figure.",
    "Tells whether the weaker bank is late or the other one early; the capture compares only.",
    COMMON,
)
DRY = WantedTest(
    "gauge_dry",
    "Gauge, dry, on every cylinder: all plugs out, throttle open, charged battery, 4 to 6 "
    "strokes; note first and last puff.",
    "Turns relative into a pressure; the maker's limit decides.",
    MAKERS,
)
WET = WantedTest(
    "gauge_wet",
    "Gauge, wet, on the low ones and their neighbours: about 15 ml of oil, note before and after.",
    "Rises: rings or bore. No change: valves or gasket. Two neighbours unchanged: gasket "
    "between them.",
    MAKERS,
)
LEAK = WantedTest(
    "leak_down",
    "Leak-down at top dead centre of the low ones: supply pressure, per cent, warm or cold, and "
    "where air is heard.",
    "Intake, exhaust, oil filler, coolant or the next cylinder names the leak.",
    "FAA AC 43.13-1B ch. 8 for the method (aircraft); limits for cars are common practice",
)
LISTEN = WantedTest(
    "neighbour",
    "During leak-down listen at the neighbour's open plug hole and watch the coolant.",
    "Air in the neighbour is the gasket between the two.",
    MAKERS,
)
SCOPE = WantedTest(
    "borescope",
    "Borescope through the plug hole: valves, seats, crown and bore, the same views on a sound "
    "cylinder; number each picture.",
    "A picture shows what a figure only hints at, before the head comes off.",
    COMMON,
)
WASH = WantedTest(
    "wash",
    "Smell and look for fuel-washed bores; if washed, oil each bore lightly and repeat the gauge.",
    "Washed bores lose compression everywhere and recover with oil.",
    COMMON,
)
RUNNING = WantedTest(
    "running",
    "Running compression on the misfiring cylinder, idle and snap, beside a sound one.",
    "A worn lobe or a blocked port cranks evenly and breathes badly.",
    "a trade text on running compression",
)

REPEAT = WantedTest(
    "repeat",
    "Repeat the capture cold and hot with the same throttle, and look at the single cycles; write "
    "down the temperature.",
    "A sticking valve or a weak spring shows in some cycles only; a mean hides it.",
    "a trade article on intermittent misfires",
)
REPEAT_AT_ONCE = WantedTest(
    "repeat_at_once",
    "Repeat the capture after a rest of some hours, and again at once.",
    "Low at first only after the rest: a lifter that bleeds down, carbon, or a dry bore.",
    COMMON,
)

_BY_PATTERN: dict[Pattern, tuple[WantedTest, ...]] = {
    Pattern.NONE: (DRY, RUNNING),
    Pattern.EVEN_MISFIRES: (DRY, RUNNING),
    Pattern.FAST_EVEN: (TIMING, DRY, WASH),
    Pattern.COMES_AND_GOES: (REPEAT, DRY, RUNNING, SCOPE),
    Pattern.LOW_AT_FIRST: (REPEAT_AT_ONCE, DRY, WET, SCOPE),
    Pattern.ONE: (DRY, WET, LEAK, SCOPE),
    Pattern.ADJACENT: (DRY, WET, LEAK, LISTEN, SCOPE),
    Pattern.COMPANIONS: (RESYNC, TURN_BIND, DRY, LEAK, SCOPE),
    Pattern.BANK: (TIMING, DRY, LEAK, SCOPE),
    Pattern.BANK_UNEVEN: (BANK_GAUGE, TIMING),
    Pattern.SEVERAL: (DRY, WET, LEAK, SCOPE),
    Pattern.ALL: (TIMING, DRY, WASH, LEAK),
    Pattern.OPEN: (RESYNC, DRY, LEAK, SCOPE),
    Pattern.HIGH: (STOP_HIGH, SCOPE, DRY, EXHAUST_LIFT),
    Pattern.HIGH_COMPANIONS: (TURN_BIND, STOP_HIGH, SCOPE, DRY),
}
# Easiest and most telling first, where several patterns ask for different tests.
_TURN = (
    *(STOP_HIGH, RESYNC, TURN_BIND, REPEAT, REPEAT_AT_ONCE, BANK_GAUGE, TIMING),
    *(DRY, WASH, WET, LEAK, LISTEN, EXHAUST_LIFT, RUNNING, SCOPE),
)
_WHERE = {Pattern.BANK: "that bank", Pattern.BANK_UNEVEN: "both banks"}
_NO_OIL = (
    "Gauge, wet: only if the maker of this diesel allows oil in the cylinder; else go on to "
    "leak-down."
)
_NO_OIL_WHY = (
    "One maker forbids it: too much oil can lock a diesel. Rises: rings; no change: valves or "
    "gasket."
)
_DRY_DIESEL = (
    "Gauge, dry, on every cylinder through the glow plug or injector hole, injection disabled "
    "the maker's way; charged battery, 4 to 6 strokes; note first and last puff."
)


def wanted_tests(
    pattern: Pattern,
    fuel: str = "petrol",
    done: Collection[str] = (),
    *,
    any_high: bool = False,
) -> tuple[WantedTest, ...]:
    """Return the tests for a pattern, easiest and most telling first.

    Parameters
    ----------
    pattern
        How the low cylinders stand to each other.
    fuel
        `petrol` or `diesel`; a diesel's gauge and wet test differ.
    done
        Keys of tests that were done already and are left out.
    any_high
        Whether a cylinder also stands high; looking for liquid then comes first.
    """
    tests = _BY_PATTERN[pattern]
    if any_high and STOP_HIGH not in tests:
        tests = (STOP_HIGH, *tests)
    return tuple(_fitted(t, pattern, fuel) for t in tests if t.key not in done)


def all_wanted(
    patterns: Sequence[Pattern], fuel: str = "petrol", done: Collection[str] = ()
) -> tuple[WantedTest, ...]:
    """Return the tests of all patterns that apply, each once, in one sensible order.

    Parameters
    ----------
    patterns
        In the order in which they are to be dealt with.
    fuel, done
        As in `wanted_tests`.
    """
    found: dict[str, WantedTest] = {}
    for pattern in patterns:
        for test in wanted_tests(pattern, fuel, done):
            found.setdefault(test.key, test)
    if len(patterns) < 2:
        return tuple(found.values())
    turn = [t.key for t in _TURN]
    if Pattern.HIGH in patterns:
        # the plug is out to look for liquid: look into the cylinder before anything is cranked
        turn.insert(1, turn.pop(turn.index(SCOPE.key)))
    if Pattern.HIGH_COMPANIONS in patterns:
        # a bind once a turn is likelier than liquid in two cylinders
        turn.insert(0, turn.pop(turn.index(TURN_BIND.key)))
    return tuple(sorted(found.values(), key=lambda t: turn.index(t.key)))


def beginning_with(
    ranking: Ranking | None, cylinders: Collection[int], tests: Sequence[WantedTest]
) -> tuple[WantedTest, ...]:
    """Return the tests, the dry gauge told which cylinder to begin with.

    Parameters
    ----------
    ranking
        Which of the sets that fit the misfires point at; None or undecided changes nothing.
    cylinders
        Those the order names; only they are put in order.
    tests
        As `wanted_tests` gives them.
    """
    first = [c for c in ranking.order if c in cylinders] if ranking else []
    if ranking is None or ranking.strength == "open" or len(first) < 2:
        return tuple(tests)
    turn = f"cylinder {first[0]}, then {', then '.join(map(str, first[1:]))}"
    return tuple(
        replace(t, words=f"{t.words} Begin with {turn} (by the misfires: {MARK.lower()}).")
        if t.key == DRY.key
        else t
        for t in tests
    )


def _fitted(test: WantedTest, pattern: Pattern, fuel: str) -> WantedTest:
    if fuel == "diesel" and test is WET:
        return WantedTest(test.key, _NO_OIL, _NO_OIL_WHY, test.source)
    if fuel == "diesel" and test is DRY:
        return WantedTest(test.key, _DRY_DIESEL, test.why, test.source)
    if test is TIMING:
        where = _WHERE.get(pattern, "the engine")
        return WantedTest(test.key, test.words.format(where=where), test.why, test.source)
    return test
