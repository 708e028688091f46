"""Banks of an engine against each other, as a report holds them."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

BankCall: TypeAlias = Literal["even", "uneven"]


@dataclass(frozen=True, slots=True)
class BankMean:
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
    mean: float
    low: float
    high: float

    def to_json(self) -> dict[str, Any]:
        """Return plain JSON values."""
        return {
            "cylinders": list(self.cylinders),
            "mean": round(self.mean, 4),
            "low": round(self.low, 4),
            "high": round(self.high, 4),
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "BankMean":
        """Read what `to_json` wrote."""
        return cls(tuple(data["cylinders"]), data["mean"], data["low"], data["high"])


@dataclass(frozen=True, slots=True)
class BankDifference:
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

    points: float
    low: float
    high: float
    weaker: tuple[int, ...]
    call: BankCall

    def to_json(self) -> dict[str, Any]:
        """Return plain JSON values."""
        return {
            "points": round(self.points, 2),
            "low": round(self.low, 2),
            "high": round(self.high, 2),
            "weaker": list(self.weaker),
            "call": self.call,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "BankDifference":
        """Read what `to_json` wrote."""
        return cls(data["points"], data["low"], data["high"], tuple(data["weaker"]), data["call"])


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
