"""Engine cycles of a crank as a report holds them: which are used, and what is left out."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

from shopdiag.people.core.words import NOTHING, Text, say

Reason: TypeAlias = Literal[
    "before",
    "run-up",
    "cut",
    "level",
    "length",
    "shape",
    "apart",
    "started",
    "teeth",
    "hand",
    "after",
]

SHORT: dict[str, Text] = {
    "before": say("before the crank"),
    "run-up": say("run-up"),
    "cut": say("cut off"),
    "level": say("current"),
    "length": say("length"),
    "shape": say("shape"),
    "apart": say("apart"),
    "started": say("started"),
    "teeth": say("teeth"),
    "hand": say("by hand"),
    "after": say("after the crank"),
}
"""A word or two for each reason, where a picture has no room for the sentence."""


@dataclass(frozen=True, slots=True)
class CycleUse:
    """One engine cycle of the crank.

    Parameters
    ----------
    from_s, to_s
        In the file's own time.
    reason
        Why no figure is taken from it; None where it is used.
    words
        The same for a reader, with how far off it is.
    """

    from_s: float
    to_s: float
    reason: Reason | None = None
    words: Text = NOTHING

    @property
    def used(self) -> bool:
        """Whether figures are taken from it."""
        return self.reason is None


@dataclass(frozen=True, slots=True)
class Excluded:
    """A stretch of the recording that no figure is taken from, and why."""

    from_s: float
    to_s: float
    reason: Reason
    words: Text


@dataclass(frozen=True, slots=True)
class CycleUses:
    """All engine cycles of a crank, and the stretches that no figure is taken from.

    Parameters
    ----------
    cycles
        In time order, used or not; the last may be what is left of the crank after the last
        whole cycle.
    excluded
        In time order.
    """

    cycles: tuple[CycleUse, ...] = ()
    excluded: tuple[Excluded, ...] = ()
