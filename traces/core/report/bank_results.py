"""Banks of an engine against each other, as a report holds them."""

from dataclasses import dataclass, replace
from typing import Annotated, Literal, TypeAlias

from traces.core.plain_json import Decimals, PlainJson

BankCall: TypeAlias = Literal["even", "uneven"]
Share: TypeAlias = Annotated[float, Decimals(4)]
Points: TypeAlias = Annotated[float, Decimals(2)]


@dataclass(frozen=True, slots=True)
class BankMean(PlainJson):
    """Relative compression of one bank.

    Parameters
    ----------
    cylinders
        All cylinders of the bank, as the set-up names them.
    mean
        Mean of the bank's cylinders without those that stand out among their bank's; 1.00 is
        like the sound cylinders of the engine.
    low, high
        95 % interval of `mean`.
    """

    cylinders: tuple[int, ...]
    mean: Share
    low: Share
    high: Share


@dataclass(frozen=True, slots=True)
class BankDifference(PlainJson):
    """The weaker bank against the rest of the engine.

    Parameters
    ----------
    points
        Mean of the other bank, or of all others together, less that of the weaker one, in per
        cent of a sound cylinder; never negative.
    low, high
        95 % interval of `points`; it may reach below 0.
    weaker
        Cylinders of the weaker bank. It may be the good one: a cam that is early raises the other.
    call
        `uneven` where the whole bank is lower, not a single cylinder of it.
    """

    points: Points
    low: Points
    high: Points
    weaker: tuple[int, ...]
    call: BankCall


@dataclass(frozen=True, slots=True)
class BankBalance:
    """All banks and how they differ.

    `left_out` are cylinders that stand out among those of their bank; `is_doubtful` says that the
    trace does not tell whether banks are even.
    """

    banks: tuple[BankMean, ...]
    difference: BankDifference
    left_out: tuple[int, ...] = ()
    is_doubtful: bool = False

    def relative_to(self, level: float) -> "BankBalance":
        """Return the same by another measure, which stands at `level` of this one."""
        at = self.difference
        return replace(
            self,
            banks=tuple(
                replace(b, mean=b.mean / level, low=b.low / level, high=b.high / level)
                for b in self.banks
            ),
            difference=replace(
                at, points=at.points / level, low=at.low / level, high=at.high / level
            ),
        )
