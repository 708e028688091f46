"""When practice goes on to the next level."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from traces.practice.core.levels import LEVELS

WINDOW = 5
NEEDED = 4
"""So many of the last five at a level have to be right; five of five would punish one slip."""


@dataclass(frozen=True, slots=True)
class Tried:
    """One exercise that was answered."""

    level: int
    is_right: bool


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a person stands.

    Parameters
    ----------
    level
        The level they practise at.
    recent
        Outcomes of the last ones at that level since they came to it, oldest first.
    tried, right
        At all levels.
    """

    level: int
    recent: tuple[bool, ...]
    tried: int
    right: int

    @property
    def is_last(self) -> bool:
        """Whether there is no level above."""
        return self.level == len(LEVELS)

    @property
    def missing(self) -> int:
        """How many more right ones lead on at least, as the last ones stand."""
        kept = self.recent[-(WINDOW - 1) :]
        for more in range(WINDOW + 1):
            window = (kept + (True,) * more)[-WINDOW:]
            if more and sum(window) >= NEEDED:
                return more
        return NEEDED


def progress(answered: Iterable[Tried]) -> Progress:
    """Return where a person stands after the exercises they answered, in their order.

    Only exercises of the level somebody is at lead on; others, set by an instructor or chosen
    from below, count as tried alone.
    """
    level, tried, right = 1, 0, 0
    recent: list[bool] = []
    for one in answered:
        tried += 1
        right += one.is_right
        if one.level != level:
            continue
        recent.append(one.is_right)
        if _leads_on(recent) and level < len(LEVELS):
            level += 1
            recent = []
    return Progress(level, tuple(recent[-WINDOW:]), tried, right)


def _leads_on(recent: Sequence[bool]) -> bool:
    return sum(recent[-WINDOW:]) >= NEEDED
