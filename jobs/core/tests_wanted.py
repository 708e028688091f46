"""Which tests to ask a mechanic for, in the order of what they tell for what they cost."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace

from jobs.core.candidate_ranking import MARK, Ranking
from jobs.core.code_meaning import code_base, is_coolant_code
from jobs.core.patterns import HIGH, Pattern
from jobs.core.plug_access import PlugAccess, begin_words, by_access
from jobs.core.request import named
from jobs.core.wanted_test_texts import (
    BACK_PRESSURE,
    BACK_PRESSURE_DIESEL,
    BANK_GAUGE,
    BANK_GAUGE_DIESEL,
    BAR_FOR_DRAG,
    BAR_FOR_TIMING,
    CAM_TRACE,
    COOLANT,
    DRY,
    DRY_DIESEL,
    EXHAUST_LIFT,
    LEAK,
    LEAK_DIESEL,
    LISTEN,
    REPEAT,
    REPEAT_AT_ONCE,
    REPEAT_ONCE,
    RESYNC,
    RUNNING,
    SCOPE,
    SEATS,
    STOP_HIGH,
    STOP_HIGH_ANY,
    SWAP,
    SWAP_DIESEL,
    TIMING,
    VACUUM,
    VALVES,
    WASH,
    WASH_LOOK_ONLY,
    WET,
    WantedTest,
)
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

WHOLE_ENGINE = frozenset(
    {
        *("sync", "bind", "timing", "cam_trace", "repeat", "wash", "coolant", "vacuum", "exhaust"),
        *("counts", "trims", "fuel_press", "cut_out"),
        *("frame", "air_meter", "phaser", "oxygen", "starter"),
    }
)
"""Tests of a finding that are about the engine and not about one cylinder."""
EITHER_WAY = frozenset({"counts", "cut_out"})
"""Of these, those that are also recorded cylinder by cylinder."""
CRANKS_THE_ENGINE = frozenset(
    {
        *("repeat_once", "repeat", "repeat_at_once", "sync", "cam_trace", "bank_gauge"),
        *("vacuum", "gauge_dry", "gauge_wet", "running", "exhaust", "swap"),
    }
)
"""Wanted tests in which the starter or the engine turns the crank."""
_RECORDED_AS = {
    "stop": "borescope",
    "neighbour": "leak_down",
    "repeat_once": "repeat",
    "repeat_at_once": "repeat",
    "bank_gauge": "gauge_dry",
    "exhaust_lift": "valves",
    "valve_lift": "valves",
    "back_pressure": "exhaust",
    "fuel_pressure": "fuel_press",
    "repaired_bar": "bind",
    "repaired_leak": "leak_down",
    "repaired_capture": "repeat",
    "repaired_gauge": "gauge_dry",
    "repaired_counts": "counts",
    "repaired_idle": "repeat",
}
_ENGINE_POSITION_CODES = frozenset({"P0008", "P0009", "P0016", "P0017", "P0018", "P0019"})
"""Crank and cam do not agree (SAE J2012): these put the valve timing in doubt."""
_CAM_POSITION_CODES = _ENGINE_POSITION_CODES | {
    *("P0010", "P0011", "P0012", "P0013", "P0014", "P0015"),
    *("P0020", "P0021", "P0022", "P0023", "P0024", "P0025"),
}
"""Also the phasers' own codes (SAE J2012), most of which are oil or wiring."""


def recorded_as(key: str) -> str:
    """Return the test under which a finding on a wanted test is recorded."""
    return _RECORDED_AS.get(key, key)


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What is known about an engine and its job beside the pattern.

    Parameters
    ----------
    fuel
        `petrol`, `gas` or `diesel`; a diesel gets no oil into its cylinders.
    cylinders
        How many there are; 0 where it is not known.
    is_flat
        Whether the cylinders lie, so that oil does not reach the whole ring.
    loses_coolant
        Whether the job says that coolant is lost.
    high_unnumbered
        Whether something stands high and the capture does not say which cylinder.
    companions_of_high
        The 360 degree companions of the cylinders that stand high, as far as they are known.
    has_companions
        Whether cylinders fire 360 degrees apart, as they do not on threes and fives.
    is_refused_for_timing
        Whether the newest capture was refused for what wrong valve timing does as well.
    codes
        Fault codes read on the visit, with or without their failure type.
    captures
        Captures that were judged in this state; with one only it is asked for once more.
    access
        How long the plugs take to reach on this engine.
    injection
        As the vehicle or the engine has it noted; empty where nobody did.
    """

    fuel: str = "petrol"
    cylinders: int = 0
    is_flat: bool = False
    loses_coolant: bool = False
    high_unnumbered: bool = False
    companions_of_high: frozenset[int] = frozenset()
    has_companions: bool = True
    is_refused_for_timing: bool = False
    codes: frozenset[str] = frozenset()
    captures: int = 0
    access: PlugAccess = field(default_factory=PlugAccess)
    injection: str = ""

    @property
    def base_codes(self) -> frozenset[str]:
        """The codes without their failure types."""
        return frozenset(code_base(code) for code in self.codes)

    @property
    def doubts_timing(self) -> bool:
        """Whether a code or a refused capture puts the valve timing in doubt."""
        return self.is_refused_for_timing or not _ENGINE_POSITION_CODES.isdisjoint(self.base_codes)

    @property
    def coolant_first(self) -> bool:
        """Whether the cooling system is tested first: coolant lost, or a code of its heat."""
        return self.loses_coolant or any(is_coolant_code(code) for code in self.codes)

    @property
    def takes_oil(self) -> bool:
        """Whether a wet test says something and does no harm."""
        return self.fuel != "diesel" and not self.is_flat


UNKNOWN = Circumstances()

_IN_DOUBT = frozenset(
    {Pattern.FAST_EVEN, Pattern.ALL, Pattern.BANK, Pattern.SAME_BANK, Pattern.BANK_UNEVEN}
)
"""Patterns that put the valve timing in doubt."""
_OF_MANY = _IN_DOUBT - {Pattern.SAME_BANK}
_BY_PATTERN: dict[Pattern, tuple[WantedTest, ...]] = {
    Pattern.NONE: (DRY, RUNNING),
    Pattern.WATCH: (REPEAT_ONCE, DRY, LEAK, VALVES),
    Pattern.EVEN_MISFIRES: (SWAP, RUNNING, BACK_PRESSURE, DRY, VALVES),
    Pattern.FAST_EVEN: (TIMING, BAR_FOR_TIMING, CAM_TRACE, VACUUM, DRY, WASH),
    Pattern.COMES_AND_GOES: (REPEAT, DRY, RUNNING, SCOPE, VALVES),
    Pattern.LOW_AT_FIRST: (REPEAT_AT_ONCE, LEAK, SCOPE, DRY, WET),
    Pattern.ONE: (REPEAT_ONCE, LEAK, SCOPE, SEATS, DRY, WET, VALVES),
    Pattern.ADJACENT: (REPEAT_ONCE, LEAK, LISTEN, SCOPE, DRY, WET),
    Pattern.COMPANIONS: (REPEAT_ONCE, BAR_FOR_DRAG, LEAK, SCOPE, DRY, WET),
    Pattern.BANK: (TIMING, BAR_FOR_TIMING, CAM_TRACE, BANK_GAUGE, LEAK, SCOPE, VALVES),
    Pattern.SAME_BANK: (TIMING, BAR_FOR_TIMING, LEAK, SCOPE, CAM_TRACE, VALVES, DRY, WET, WASH),
    Pattern.BANK_UNEVEN: (TIMING, BAR_FOR_TIMING, CAM_TRACE, BANK_GAUGE, VACUUM),
    Pattern.SEVERAL: (REPEAT_ONCE, TIMING, LEAK, SCOPE, DRY, WET, WASH),
    Pattern.ALL: (TIMING, BAR_FOR_TIMING, CAM_TRACE, VACUUM, DRY, WASH, LEAK),
    Pattern.OPEN: (RESYNC, DRY, LEAK, SCOPE),
    Pattern.HIGH: (STOP_HIGH, SCOPE, DRY, EXHAUST_LIFT),
    Pattern.HIGH_COMPANIONS: (BAR_FOR_DRAG, STOP_HIGH, SCOPE, DRY),
}
# What tells most for least work first, where several patterns ask for different tests; how long
# a plug takes to reach on this engine moves them after that (`by_access`).
_BY_COST = (
    *(STOP_HIGH, COOLANT, TIMING, BAR_FOR_TIMING, RESYNC, REPEAT, REPEAT_AT_ONCE, REPEAT_ONCE),
    *(SWAP, LEAK, LISTEN, SCOPE, SEATS, CAM_TRACE, BANK_GAUGE, VACUUM, RUNNING, BACK_PRESSURE),
    *(DRY, WET, WASH, EXHAUST_LIFT, VALVES),
)
_REPEATS = frozenset({RESYNC.key, REPEAT.key, REPEAT_AT_ONCE.key})
_WHERE = {
    Pattern.BANK: gettext_noop("that bank"),
    Pattern.SAME_BANK: gettext_noop("that bank"),
    Pattern.BANK_UNEVEN: gettext_noop("both banks"),
}


def timing_in_doubt(patterns: Collection[Pattern], on: Circumstances = UNKNOWN) -> bool:
    """Return whether the engine must not be cranked before it was barred over by hand."""
    return not _IN_DOUBT.isdisjoint(patterns) or on.doubts_timing


def wanted_tests(
    pattern: Pattern,
    on: Circumstances = UNKNOWN,
    done: Collection[str] = (),
    *,
    any_high: bool = False,
) -> tuple[WantedTest, ...]:
    """Return the tests for a pattern, those that tell most for least work first.

    Parameters
    ----------
    pattern
        How the low cylinders stand to each other.
    on
        What is known about the engine and its job; it takes tests out and puts others in.
    done
        Keys of tests that were done already and are left out.
    any_high
        Whether a cylinder also stands high; looking for liquid then comes first.
    """
    patterns = (Pattern.HIGH, pattern) if any_high and not _is_high(pattern) else (pattern,)
    return all_wanted(patterns, on, done)


def all_wanted(
    patterns: Sequence[Pattern], on: Circumstances = UNKNOWN, done: Collection[str] = ()
) -> tuple[WantedTest, ...]:
    """Return the tests of all patterns that apply, each once, in one order.

    Parameters
    ----------
    patterns
        In the order in which they are to be dealt with.
    on, done
        As in `wanted_tests`.
    """
    doubted = timing_in_doubt(patterns, on)
    found: dict[str, WantedTest] = {}
    for pattern in patterns:
        for test in _BY_PATTERN[pattern]:
            fitted = as_done_on(test, pattern, on)
            if fitted is not None:
                found.setdefault(fitted.key, fitted)
    added = [t for t in _added(on) if t.key not in found]
    found |= {t.key: t for t in added}
    if doubted:
        found[BAR_FOR_TIMING.key] = BAR_FOR_TIMING
    may_lock = on.coolant_first or STOP_HIGH.key in found
    if doubted or may_lock or _REPEATS & set(found) or on.captures != 1:
        found.pop(REPEAT_ONCE.key, None)
    tests = list(found.values())
    if len(patterns) > 1 or added:
        turn = _turn(patterns, on, doubted=doubted)
        tests.sort(key=lambda t: turn.index(t.key))
    return by_access([t for t in tests if t.key not in done], on.access)


def _is_high(pattern: Pattern) -> bool:
    return pattern in HIGH


def _added(on: Circumstances) -> list[WantedTest]:
    """Return the tests that the job asks for whatever the pattern."""
    found = [COOLANT] if on.coolant_first else []
    if on.doubts_timing or not _CAM_POSITION_CODES.isdisjoint(on.base_codes):
        found += [_of(t, "") for t in (TIMING, CAM_TRACE)]
    return found


def _turn(patterns: Sequence[Pattern], on: Circumstances, *, doubted: bool) -> list[str]:
    """Return the keys of all tests in the order these patterns ask for them."""
    turn = [t.key for t in _BY_COST]
    if Pattern.HIGH in patterns:
        # the plug is out to look for liquid: look into the cylinder before anything is cranked
        _move(turn, SCOPE.key, after=COOLANT.key)
    if Pattern.HIGH_COMPANIONS in patterns and not on.coolant_first:
        # a bind once a turn is likelier than liquid in two cylinders, unless coolant went there
        turn.insert(0, turn.pop(turn.index(BAR_FOR_DRAG.key)))
    elif Pattern.ADJACENT in patterns and not doubted:
        # neighbours: the gasket between them is likelier than a drag
        _move(turn, BAR_FOR_DRAG.key, after=LISTEN.key)
    is_of_many = not _OF_MANY.isdisjoint(patterns) and Pattern.ADJACENT not in patterns
    if is_of_many or on.doubts_timing:
        # what lowers many at once is settled before single cylinders are looked into
        for test in (VACUUM, BANK_GAUGE, CAM_TRACE):
            _move(turn, test.key, after=BAR_FOR_TIMING.key)
    return turn


def _move(turn: list[str], key: str, *, after: str) -> None:
    turn.remove(key)
    turn.insert(turn.index(after) + 1, key)


def beginning_with(
    ranking: Ranking | None, cylinders: Collection[int], tests: Sequence[WantedTest]
) -> tuple[WantedTest, ...]:
    """Return the tests, the dry compression test told which cylinder to begin with.

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
    turn = begin_words(first)
    plain = tuple(_(test.words) for test in (DRY, DRY_DIESEL))
    return tuple(
        replace(
            t,
            words=_("{test} Begin with {turn} (by the misfires: {mark}).").format(
                test=next((words for words in plain if t.words.startswith(words)), t.words),
                turn=turn,
                mark=_(MARK).lower(),
            ),
        )
        if t.key == DRY.key
        else t
        for t in tests
    )


def _of(test: WantedTest, where: str) -> WantedTest:
    """Return a test of the valve timing of a part of the engine; of all of it where none is."""
    part = _(where) if where else _("the engine")
    return replace(test, words=_(test.words).format(where=part))


def _lift_of(companions: frozenset[int]) -> WantedTest:
    """Return the test of the exhaust valves whose gas may stand on top of a high cylinder's."""
    whose = named(companions) if companions else _("its 360° companion")
    return replace(EXHAUST_LIFT, words=_(EXHAUST_LIFT.words).format(companion=whose))


def as_done_on(test: WantedTest, pattern: Pattern, on: Circumstances) -> WantedTest | None:
    """Return the test as it is done on this engine; None where it is not done on it."""
    if test in {TIMING, CAM_TRACE}:
        return _of(test, _WHERE.get(pattern, ""))
    # a drag raises its own pair: it makes another pair look low on a four only
    no_drag = pattern is Pattern.COMPANIONS and on.cylinders not in {0, 4}
    instead = {
        WET.key: WET if on.takes_oil else None,
        WASH.key: WASH if on.takes_oil else WASH_LOOK_ONLY,
        STOP_HIGH.key: STOP_HIGH_ANY if on.high_unnumbered else STOP_HIGH,
        EXHAUST_LIFT.key: _lift_of(on.companions_of_high) if on.has_companions else None,
        BAR_FOR_DRAG.key: None if test is BAR_FOR_DRAG and no_drag else test,
    }
    if on.fuel == "diesel":
        instead |= {
            LEAK.key: LEAK_DIESEL,
            DRY.key: DRY_DIESEL,
            BANK_GAUGE.key: BANK_GAUGE_DIESEL,
            BACK_PRESSURE.key: BACK_PRESSURE_DIESEL,
            SWAP.key: SWAP_DIESEL,
            # no throttle to close or to snap, and no coil to ground
            VACUUM.key: None,
            RUNNING.key: None,
        }
    return instead.get(test.key, test)
