"""What the time to reach a plug changes in the order of tests, and by whom to compare."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from engines.core.content import translated
from jobs.core.wanted_test_texts import DRY, LEAK, STOP_HIGH, WantedTest
from shopdiag.people.core.words import gettext as _

LONG_MINUTES = 45
"""From here on reaching a plug costs more than the tests that need none (common practice: cam
trace, cranking vacuum and back pressure take 15 to 30 minutes each)."""

_NEEDS_PLUG_OUT = frozenset(
    {
        *("leak_down", "neighbour", "borescope", "seats", "gauge_dry", "gauge_wet"),
        *("bank_gauge", "running", "wash"),
    }
)


@dataclass(frozen=True, slots=True)
class PlugAccess:
    """How long the plugs take to reach on this engine, and which cylinders the tests are about.

    Parameters
    ----------
    minutes
        By cylinder; those nobody timed are left out.
    suspects, high
        Cylinders that stand low, and those that stand high: none of them is one to compare with.
    beside
        Neighbours of the suspects, which a gasket between them would spoil as one to compare with.
    """

    minutes: Mapping[int, int] = field(default_factory=dict)
    suspects: frozenset[int] = frozenset()
    high: frozenset[int] = frozenset()
    beside: frozenset[int] = frozenset()

    @property
    def easiest_good(self) -> int | None:
        """The cylinder to compare with: good, soonest reached, no neighbour of a low one."""
        good = set(self.minutes) - self.suspects - self.high
        return min(good, key=lambda c: (self.minutes[c], c in self.beside, c), default=None)

    @property
    def needed_minutes(self) -> int | None:
        """Minutes to the suspect that takes longest, or to all where none is named."""
        asked = [m for c, m in self.minutes.items() if not self.suspects or c in self.suspects]
        return max(asked, default=None)

    @property
    def in_turn(self) -> tuple[int, ...]:
        """The suspects, the soonest reached first; empty where it makes no difference."""
        if not self.suspects <= set(self.minutes):
            return ()
        turn = sorted(self.suspects, key=lambda c: (self.minutes[c], c))
        differs = len({self.minutes[c] for c in turn}) > 1
        return tuple(turn) if differs else ()


def by_access(tests: Sequence[WantedTest], access: PlugAccess) -> tuple[WantedTest, ...]:
    """Return tests as this engine's access orders and words them.

    Where reaching the plugs takes long, what needs no plug out comes first. Where liquid is looked
    for, nothing moves: that plug comes out before all else.
    """
    found = [_worded(test, access) for test in tests]
    takes_long = (access.needed_minutes or 0) >= LONG_MINUTES
    if takes_long and all(t.key != STOP_HIGH.key for t in found):
        found.sort(key=lambda t: t.key in _NEEDS_PLUG_OUT)
    return tuple(found)


def begin_words(cylinders: Collection[int]) -> str:
    """Return 'cylinder 4, then 1, then 2'."""
    first, *others = cylinders
    turn = _("cylinder {number}").format(number=first)
    for number in others:
        turn = _("{turn}, then {number}").format(turn=turn, number=number)
    return turn


def _worded(test: WantedTest, access: PlugAccess) -> WantedTest:
    said, good = translated(test), access.easiest_good
    if test.key == LEAK.key:
        beside = _("an easy good one")
        if good is not None:
            beside = _("good cylinder {number} ({minutes} min)").format(
                number=good, minutes=access.minutes[good]
            )
        return replace(said, words=said.words.format(good=beside))
    if test.key == DRY.key and access.in_turn:
        words = _("{test} Begin with {turn} (soonest reached).").format(
            test=said.words, turn=begin_words(access.in_turn)
        )
        return replace(said, words=words)
    return said
