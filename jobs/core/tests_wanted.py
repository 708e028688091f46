"""Which tests to ask a mechanic for, in a sensible order, and why."""

from collections.abc import Collection
from dataclasses import asdict, dataclass

from jobs.core.patterns import Pattern

COMMON = "common practice"
MAKERS = "vehicle makers' service texts, as an example"


@dataclass(frozen=True, slots=True)
class WantedTest:
    """One test asked for.

    Parameters
    ----------
    key
        Short name; equals the test of a finding where one is recorded.
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

_BY_PATTERN: dict[Pattern, tuple[WantedTest, ...]] = {
    Pattern.NONE: (DRY, RUNNING),
    Pattern.ONE: (DRY, WET, LEAK, SCOPE),
    Pattern.ADJACENT: (DRY, WET, LEAK, LISTEN, SCOPE),
    Pattern.COMPANIONS: (RESYNC, TURN_BIND, DRY, LEAK, SCOPE),
    Pattern.BANK: (TIMING, DRY, LEAK, SCOPE),
    Pattern.SEVERAL: (DRY, WET, LEAK, SCOPE),
    Pattern.ALL: (TIMING, DRY, WASH, LEAK),
    Pattern.OPEN: (RESYNC, DRY, LEAK, SCOPE),
    Pattern.HIGH: (STOP_HIGH, SCOPE, DRY),
}
_WHERE = {Pattern.BANK: "that bank", Pattern.ALL: "the engine"}
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


def _fitted(test: WantedTest, pattern: Pattern, fuel: str) -> WantedTest:
    if fuel == "diesel" and test is WET:
        return WantedTest(test.key, _NO_OIL, _NO_OIL_WHY, test.source)
    if fuel == "diesel" and test is DRY:
        return WantedTest(test.key, _DRY_DIESEL, test.why, test.source)
    if test is TIMING:
        where = _WHERE.get(pattern, "the engine")
        return WantedTest(test.key, test.words.format(where=where), test.why, test.source)
    return test
