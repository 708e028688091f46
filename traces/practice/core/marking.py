"""What a person says about a capture, what is true about it, and how the two compare."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from traces.practice.core.levels import Sync


class Call(StrEnum):
    """The verdict of a whole capture."""

    WEAK = "weak"
    EVEN = "even"
    UNCLEAR = "unclear"


WEAK_BELOW = 0.88
"""Relative compression under which a cylinder counts as weak; the shop's “watch below”."""
GREY = (0.845, 0.93)
"""No capture is set in which a cylinder lies in here: nobody should learn to toss a coin."""


@dataclass(frozen=True, slots=True)
class Truth:
    """What is true about a capture.

    Parameters
    ----------
    cylinders
        Numbers in the order of the letters: hump A is the first one's.
    weak
        Numbers of the weak cylinders; empty for even and unclear.
    relative
        Relative compression by number, from 1.
    remedy
        What the recording asks for, where it cannot be judged.
    """

    call: Call
    cylinders: tuple[int, ...]
    weak: tuple[int, ...]
    relative: tuple[float, ...]
    sync: Sync
    fault: str
    remedy: str = ""

    def to_json(self) -> dict[str, Any]:
        """Return it as it is stored."""
        return {
            "call": self.call.value,
            "cylinders": list(self.cylinders),
            "weak": list(self.weak),
            "relative": [round(v, 3) for v in self.relative],
            "sync": self.sync.value,
            "fault": self.fault,
            "remedy": self.remedy,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Truth":
        """Read what `to_json` wrote."""
        return cls(
            call=Call(data["call"]),
            cylinders=tuple(data["cylinders"]),
            weak=tuple(data["weak"]),
            relative=tuple(data["relative"]),
            sync=Sync(data["sync"]),
            fault=data["fault"],
            remedy=data["remedy"],
        )


@dataclass(frozen=True, slots=True)
class Answer:
    """What a person marked.

    Parameters
    ----------
    weak
        Places of the humps marked weak, from 0 for A.
    numbers
        Cylinder numbers by place; None where none was given.
    numbers_open
        Whether the person says that the sync does not settle the numbers.
    """

    call: Call
    weak: tuple[int, ...] = ()
    numbers: tuple[int | None, ...] = ()
    numbers_open: bool = False
    remedy: str = ""

    def to_json(self) -> dict[str, Any]:
        """Return it as it is stored."""
        return {
            "call": self.call.value,
            "weak": list(self.weak),
            "numbers": list(self.numbers),
            "numbers_open": self.numbers_open,
            "remedy": self.remedy,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Answer":
        """Read what `to_json` wrote."""
        return cls(
            call=Call(data["call"]),
            weak=tuple(data["weak"]),
            numbers=tuple(data["numbers"]),
            numbers_open=data["numbers_open"],
            remedy=data["remedy"],
        )


@dataclass(frozen=True, slots=True)
class Score:
    """How an answer fared, part by part; None where a part was not asked."""

    call: bool
    humps: bool | None = None
    numbers: bool | None = None
    remedy: bool | None = None

    @property
    def parts(self) -> tuple[bool, ...]:
        """The parts that count."""
        asked = (self.call, self.humps, self.numbers, self.remedy)
        return tuple(part for part in asked if part is not None)

    @property
    def points(self) -> int:
        """Parts that are right."""
        return sum(self.parts)

    @property
    def most(self) -> int:
        """Parts there are."""
        return len(self.parts)

    @property
    def is_right(self) -> bool:
        """Whether nothing is wrong."""
        return all(self.parts)


def letters(count: int) -> tuple[str, ...]:
    """Return the names of the humps of one cycle."""
    return tuple("ABCDEFGHIJKLMNOP"[:count])


def numbers_filled(
    numbers: Sequence[int | None], order: Sequence[int]
) -> tuple[int | None, ...] | None:
    """Return all numbers, those left out in firing order from those given.

    Parameters
    ----------
    order
        The firing order, from any cylinder.

    Returns
    -------
    tuple | None
        As given where nothing was given; None where the given ones contradict the order.
    """
    given = [(place, number) for place, number in enumerate(numbers) if number is not None]
    if not given:
        return tuple(numbers)
    first, number = given[0]
    if number not in order:
        return None
    shift = list(order).index(number) - first
    count = len(order)
    filled = tuple(order[(place + shift) % count] for place in range(count))
    return filled if all(filled[place] == n for place, n in given) else None


def allowed_numbers(truth: Truth) -> tuple[tuple[int, ...], ...]:
    """Return the numberings that the sync leaves open; the true one first."""
    count = len(truth.cylinders)
    match truth.sync:
        case Sync.KNOWN:
            shifts: tuple[int, ...] = (0,)
        case Sync.PAIR:
            # One crank turn is half a cycle, on engines that fire evenly half of the order.
            shifts = (0, count // 2)
        case Sync.UNKNOWN:
            shifts = tuple(range(count))
    return tuple(truth.cylinders[s:] + truth.cylinders[:s] for s in shifts)


def score(truth: Truth, answer: Answer) -> Score:
    """Compare an answer with the truth."""
    right_call = answer.call is truth.call
    if truth.call is Call.UNCLEAR:
        return Score(right_call, remedy=right_call and answer.remedy == truth.remedy)
    numbers = _numbers_right(truth, answer)
    if truth.call is Call.EVEN:
        return Score(right_call, numbers=numbers)
    weak = {place for place, number in enumerate(truth.cylinders) if number in truth.weak}
    return Score(right_call, humps=right_call and set(answer.weak) == weak, numbers=numbers)


def _numbers_right(truth: Truth, answer: Answer) -> bool:
    """Return whether numbers are right: none claimed that the sync does not settle.

    A person who says that numbers are open may still name some, as far as they are possible.
    """
    if answer.call is Call.UNCLEAR:
        return False
    if answer.numbers_open != (truth.sync is not Sync.KNOWN) and not _is_set_settled(truth):
        return False
    filled = numbers_filled(answer.numbers, truth.cylinders)
    if filled is None:
        return False
    if all(number is None for number in filled):
        return answer.numbers_open
    return filled in allowed_numbers(truth)


def _is_set_settled(truth: Truth) -> bool:
    """Return whether open numbers still name one set: two weak ones that share a coil do."""
    if truth.sync is Sync.KNOWN or not truth.weak:
        return False
    weak = [place for place, number in enumerate(truth.cylinders) if number in truth.weak]
    return len({frozenset(order[p] for p in weak) for order in allowed_numbers(truth)}) == 1
