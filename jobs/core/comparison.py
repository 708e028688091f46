"""Relative compression before and after a repair, cylinder by cylinder."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from traces.core.comparison import points_words, told_apart

Change: TypeAlias = Literal["better", "worse", "same", "unclear"]


@dataclass(frozen=True, slots=True)
class Span:
    """A figure with its 95 % interval and its call."""

    relative: float
    low: float
    high: float
    call: str

    @property
    def half(self) -> float:
        """Half of the interval; its lower end may be cut at 0."""
        return max(self.high - self.relative, self.relative - self.low)


@dataclass(frozen=True, slots=True)
class ComparedCylinder:
    """One cylinder in two captures; None where a capture has no figure for it."""

    cylinder: int
    before: Span | None
    after: Span | None

    @property
    def change(self) -> float | None:
        """After minus before."""
        if self.before is None or self.after is None:
            return None
        return self.after.relative - self.before.relative

    @property
    def change_words(self) -> str:
        """The change in whole points; a dash where there is none to tell."""
        return "–" if self.change is None else points_words(self.change)

    @property
    def verdict(self) -> Change:
        """What the change amounts to, if it is more than both intervals together allow."""
        if self.before is None or self.after is None:
            return "unclear"
        relatives = (self.before.relative, self.after.relative)
        if not told_apart(relatives, (self.before.half, self.after.half)):
            return "same"
        return "better" if relatives[1] > relatives[0] else "worse"


def compared(before: Mapping[int, Span], after: Mapping[int, Span]) -> tuple[ComparedCylinder, ...]:
    """Pair two captures' figures by cylinder number.

    Parameters
    ----------
    before, after
        Figures by cylinder, 1.00 = like the sound ones of the same capture. Both are relative
        to their own sound cylinders, so a change common to all cylinders is invisible.
    """
    return tuple(
        ComparedCylinder(c, before.get(c), after.get(c)) for c in sorted(set(before) | set(after))
    )
