"""How an engine sits in its vehicle: which way its front end points and where bank A lies.

Directions are those of the vehicle, seen from the driver's seat. Where bank A lies follows from
no numbering, so a person has to say it.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal, TypeAlias

from engines.core.positions import Place
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop


class Direction(StrEnum):
    """Which way the front end of the engine points; the front end is opposite the flywheel."""

    AHEAD = "ahead"
    RIGHT = "right"
    LEFT = "left"


class Side(StrEnum):
    """A face of the engine, as the vehicle has it."""

    LEFT = "left"
    RIGHT = "right"
    RADIATOR = "radiator"
    BULKHEAD = "bulkhead"


DIRECTION_WORDS: dict[Direction, str] = {
    Direction.AHEAD: gettext_noop("Lengthways, front end towards the radiator"),
    Direction.RIGHT: gettext_noop("Crossways, front end on the right, seen from the driver's seat"),
    Direction.LEFT: gettext_noop("Crossways, front end on the left, seen from the driver's seat"),
}
SIDE_WORDS: dict[Side, str] = {
    Side.LEFT: gettext_noop("left side, seen from the driver's seat"),
    Side.RIGHT: gettext_noop("right side, seen from the driver's seat"),
    Side.RADIATOR: gettext_noop("radiator side"),
    Side.BULKHEAD: gettext_noop("bulkhead side"),
}

Arrow: TypeAlias = Literal["left", "up", "down"]

# The plan shows the front end on the left and its upper row on one face of the engine.
_SIDES: dict[Direction, tuple[Side, Side]] = {
    Direction.AHEAD: (Side.RIGHT, Side.LEFT),
    Direction.RIGHT: (Side.BULKHEAD, Side.RADIATOR),
    Direction.LEFT: (Side.RADIATOR, Side.BULKHEAD),
}
_TRAVEL: dict[Direction, Arrow] = {
    Direction.AHEAD: "left",
    Direction.RIGHT: "down",
    Direction.LEFT: "up",
}
_END_WORDS: dict[Direction, str] = {
    Direction.AHEAD: gettext_noop("the front end points towards the radiator"),
    Direction.RIGHT: gettext_noop("the front end is on the right, seen from the driver's seat"),
    Direction.LEFT: gettext_noop("the front end is on the left, seen from the driver's seat"),
}


class MountingError(ValueError):
    """Direction and side contradict each other; the text says why."""


@dataclass(frozen=True, slots=True)
class Mounting:
    """An engine in its vehicle.

    Parameters
    ----------
    direction
        Where the front end points.
    bank_a_side
        The face that bank A lies on; None for a single row, or where nobody said it.

    Raises
    ------
    MountingError
        If a lengthways engine has its bank at radiator or bulkhead, or a crossways one left or
        right.
    """

    direction: Direction
    bank_a_side: Side | None = None

    def __post_init__(self) -> None:
        if self.bank_a_side is not None and self.bank_a_side not in _SIDES[self.direction]:
            raise MountingError(
                _("A lengthways engine has its banks on the left and on the right.")
                if self.direction is Direction.AHEAD
                else _("A crossways engine has its banks at the radiator and at the bulkhead.")
            )

    @property
    def travel(self) -> Arrow:
        """Direction of travel on the plan, whose front end is on the left."""
        return _TRAVEL[self.direction]

    @property
    def bank_b_above(self) -> bool:
        """Whether the plan has to show bank B in its upper row."""
        return self.bank_a_side is not None and self.bank_a_side is not _SIDES[self.direction][0]

    def side_of(self, bank: str) -> Side | None:
        """Return the face that a bank lies on; None where it is not known."""
        if self.bank_a_side is None or bank not in ("A", "B"):
            return None
        if bank == "A":
            return self.bank_a_side
        return next(s for s in _SIDES[self.direction] if s is not self.bank_a_side)

    def words_of(self, place: Place) -> str:
        """Return where to look for a place in the vehicle, such as 'bulkhead side; …'."""
        side = self.side_of(place.bank)
        parts = [_(SIDE_WORDS[side])] if side else []
        parts += [] if place.places == 1 else [_(_END_WORDS[self.direction])]
        return "; ".join(parts)
