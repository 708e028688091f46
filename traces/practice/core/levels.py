"""The levels of practice: which engines, faults, syncs and recordings each draws from."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from shopdiag.people.core.words import gettext_noop


class Fault(StrEnum):
    """What is hidden in a capture: a state of the engine, or what spoils the recording."""

    EVEN = "even"
    DEAD = "dead"
    ONE = "one"
    MILD = "mild"
    TWO = "two"
    COMPANIONS = "companions"
    BANK = "bank"
    TOO_SHORT = "too-short"
    CATCHES = "engine-catches"
    COLLAPSE = "battery-collapse"
    CLIPPED = "clipped-clamp"
    LOW_RATE = "low-rate"
    NO_SIGNAL = "no-signal"
    WRONG_CABLE = "wrong-cable"


FAULT_LABELS: Mapping[Fault, str] = MappingProxyType(
    {
        Fault.EVEN: gettext_noop("No fault: all cylinders even"),
        Fault.DEAD: gettext_noop("One dead cylinder"),
        Fault.ONE: gettext_noop("One weak cylinder"),
        Fault.MILD: gettext_noop("One cylinder with a mild loss"),
        Fault.TWO: gettext_noop("Two weak cylinders"),
        Fault.COMPANIONS: gettext_noop("Two weak cylinders, 360° apart"),
        Fault.BANK: gettext_noop("One bank late"),
        Fault.TOO_SHORT: gettext_noop("Cannot be judged: cranked too briefly"),
        Fault.CATCHES: gettext_noop("Cannot be judged: the engine starts"),
        Fault.COLLAPSE: gettext_noop("Cannot be judged: the battery gives out"),
        Fault.CLIPPED: gettext_noop("Cannot be judged: the clamp is over its range"),
        Fault.LOW_RATE: gettext_noop("Cannot be judged: sampled too slowly"),
        Fault.NO_SIGNAL: gettext_noop("Cannot be judged: no current recorded"),
        Fault.WRONG_CABLE: gettext_noop("Cannot be judged: clamp on another cable"),
    }
)


class Remedy(StrEnum):
    """What to do before the next recording, where this one cannot be judged."""

    LONGER = "longer"
    NO_START = "no-start"
    BATTERY = "battery"
    RANGE = "range"
    FASTER = "faster"
    CLAMP = "clamp"


REMEDY_LABELS: Mapping[Remedy, str] = MappingProxyType(
    {
        Remedy.LONGER: gettext_noop("Crank for longer"),
        Remedy.NO_START: gettext_noop("Keep the engine from starting: disable the fuel"),
        Remedy.BATTERY: gettext_noop("Charge or support the battery"),
        Remedy.RANGE: gettext_noop("Take a clamp or a range that reaches higher"),
        Remedy.FASTER: gettext_noop("Record with more samples per second"),
        Remedy.CLAMP: gettext_noop("Check the clamp: switched on, around the starter's cable"),
    }
)

REMEDY_OF: Mapping[Fault, Remedy] = MappingProxyType(
    {
        Fault.TOO_SHORT: Remedy.LONGER,
        Fault.CATCHES: Remedy.NO_START,
        Fault.COLLAPSE: Remedy.BATTERY,
        Fault.CLIPPED: Remedy.RANGE,
        Fault.LOW_RATE: Remedy.FASTER,
        Fault.NO_SIGNAL: Remedy.CLAMP,
        Fault.WRONG_CABLE: Remedy.CLAMP,
    }
)
"""What each spoilt recording asks for; only faults of the recording stand here."""

REMEDY_WHY: Mapping[Fault, str] = MappingProxyType(
    {
        Fault.TOO_SHORT: gettext_noop(
            "The crank ends after a cycle or so; each cylinder has to be seen several times."
        ),
        Fault.CATCHES: gettext_noop(
            "The engine starts by itself, and the current falls before enough cycles are seen."
        ),
        Fault.COLLAPSE: gettext_noop(
            "The battery gives out: current and speed fall all the way through the crank."
        ),
        Fault.CLIPPED: gettext_noop(
            "The tops of the humps are cut off flat, all at one height: the clamp is at its limit."
        ),
        Fault.LOW_RATE: gettext_noop(
            "There are too few samples for each hump, so heights come out by chance."
        ),
        Fault.NO_SIGNAL: gettext_noop("The clamp's channel shows no starter current at all."),
        Fault.WRONG_CABLE: gettext_noop(
            "The current is far too small for a starter: the clamp is around another cable."
        ),
    }
)


class Sync(StrEnum):
    """What the sync channel settles."""

    KNOWN = "known"
    """Ignition, once in 720 degrees: each hump has a cylinder."""
    PAIR = "pair"
    """A coil that fires every 360 degrees: two cylinders share each event."""
    UNKNOWN = "unknown"
    """An injector whose crank angle nobody knows: humps stay without numbers."""


SYNC_WORDS: Mapping[Sync, str] = MappingProxyType(
    {
        Sync.KNOWN: gettext_noop("Ignition of cylinder {cylinder}, once in 720°"),
        Sync.PAIR: gettext_noop("Coil of cylinder {cylinder}, which fires every 360°"),
        Sync.UNKNOWN: gettext_noop("Injector of cylinder {cylinder}, at an unknown crank angle"),
    }
)

ENGINES: Mapping[str, str] = MappingProxyType(
    {
        "I3": gettext_noop("Inline three"),
        "I4": gettext_noop("Inline four"),
        "I6": gettext_noop("Inline six"),
        "V6": gettext_noop("V6"),
        "V8": gettext_noop("V8"),
    }
)
"""Layouts that practice draws, by the simulator's names."""

_BANKED = frozenset({"V6", "V8"})
_SPOILT = tuple(REMEDY_OF)


@dataclass(frozen=True, slots=True)
class Level:
    """One level: everything an exercise of it is drawn from.

    Parameters
    ----------
    name, about
        Heading, and what is new here; neither tells what one capture hides.
    engines
        Keys of `ENGINES`.
    faults
        With how often each is drawn, relative to the others.
    noisy
        Whether the clamp's noise is raised.
    """

    number: int
    name: str
    about: str
    engines: tuple[str, ...]
    faults: Mapping[Fault, float]
    syncs: tuple[Sync, ...] = (Sync.KNOWN,)
    noisy: bool = False


LEVELS: tuple[Level, ...] = (
    Level(
        1,
        gettext_noop("Clear losses, inline four"),
        gettext_noop("At most one cylinder is weak, and then it is dead."),
        ("I4",),
        {Fault.DEAD: 4, Fault.EVEN: 1},
    ),
    Level(
        2,
        gettext_noop("Mild losses"),
        gettext_noop("One cylinder may have lost only a part of its compression."),
        ("I4", "I3"),
        {Fault.MILD: 3, Fault.ONE: 2, Fault.EVEN: 2},
    ),
    Level(
        3,
        gettext_noop("More than one"),
        gettext_noop("Two cylinders may be weak. A weak one also changes the hump after it."),
        ("I4",),
        {Fault.TWO: 3, Fault.COMPANIONS: 2, Fault.ONE: 1, Fault.EVEN: 1},
    ),
    Level(
        4,
        gettext_noop("Six and eight cylinders"),
        gettext_noop("Humps overlap, and the firing order jumps between banks."),
        ("I6", "V6", "V8"),
        {Fault.ONE: 3, Fault.TWO: 3, Fault.EVEN: 1},
    ),
    Level(
        5,
        gettext_noop("Banks"),
        gettext_noop("A whole bank may be low where its camshafts are late."),
        ("V6", "V8"),
        {Fault.BANK: 3, Fault.ONE: 1, Fault.EVEN: 2},
    ),
    Level(
        6,
        gettext_noop("Noisy recordings"),
        gettext_noop("Compare several cycles; noise differs from cycle to cycle."),
        ("I4", "V6"),
        {Fault.ONE: 3, Fault.TWO: 2, Fault.EVEN: 2},
        noisy=True,
    ),
    Level(
        7,
        gettext_noop("Coil at 360°"),
        gettext_noop("Decide which numbers the sync settles, and which it does not."),
        ("I4", "V6"),
        {Fault.ONE: 3, Fault.MILD: 1, Fault.EVEN: 1},
        syncs=(Sync.PAIR, Sync.PAIR, Sync.KNOWN),
    ),
    Level(
        8,
        gettext_noop("Sync of unknown angle"),
        gettext_noop("An injector opens at an angle that nobody has measured on this engine."),
        ("I4", "I6"),
        {Fault.ONE: 3, Fault.TWO: 1, Fault.EVEN: 1},
        syncs=(Sync.UNKNOWN, Sync.UNKNOWN, Sync.KNOWN),
    ),
    Level(
        9,
        gettext_noop("Judge it or record it anew"),
        gettext_noop("Some recordings cannot be judged. Say so, and what to do before the next."),
        ("I4", "V6", "V8"),
        {
            **dict.fromkeys(_SPOILT, 1.0),
            Fault.ONE: 2,
            Fault.TWO: 1,
            Fault.EVEN: 2,
            Fault.MILD: 1,
        },
    ),
)


def level_of(number: int) -> Level:
    """Return a level; the nearest where there is none of that number."""
    return LEVELS[min(max(number, 1), len(LEVELS)) - 1]


def can_have(engine: str, fault: Fault) -> bool:
    """Return whether an engine can have a fault: only a V has a bank that can be late.

    Firing 360 degrees apart takes an even number of cylinders; two weak ones of three leave
    nothing to measure them by.
    """
    if fault is Fault.BANK:
        return engine in _BANKED
    if fault in {Fault.COMPANIONS, Fault.TWO}:
        return engine != "I3"
    return True
