"""Lists and ordinals in words."""

from collections.abc import Sequence
from functools import reduce
from typing import Literal

from shopdiag.people.core.words import Text, gettext_noop, say, say_count, stays

_STORED_BEFORE = (gettext_noop("Position {number}"), gettext_noop("position {number}"))
"""How stored results may name a place: kept so that they stay translated."""


def listed(items: Sequence[object], last: Literal["and", "or"] = "and") -> Text:
    """Return "1", "1 and 4" or "1, 2 and 4"."""
    if len(items) < 2:
        return _alone(*items)
    before = joined(items[:-1])
    if last == "or":
        return say("{before} or {item}", before=before, item=items[-1])
    return say("{before} and {item}", before=before, item=items[-1])


def chained(items: Sequence[object], word: Literal["and", "or"]) -> Text:
    """Return "1 and 2 and 4", where each stands by itself."""
    pair = say("{one} and {other}") if word == "and" else say("{one} or {other}")
    return reduce(
        lambda one, other: pair.filled(one=one, other=other), items[1:], _alone(*items[:1])
    )


def joined(items: Sequence[object]) -> Text:
    """Return "1, 2, 4"."""
    return reduce(_followed, items[1:], _alone(*items[:1]))


def _alone(item: object = "") -> Text:
    return item if isinstance(item, Text) else stays(item)


def _followed(before: Text, item: object) -> Text:
    return say("{before}, {item}", before=before, item=item)


def numbered(number: int) -> Text:
    """Return "1st" for 1, and so on."""
    if number % 100 not in {11, 12, 13}:
        if number % 10 == 1:
            return say("{number}st", number=number)
        if number % 10 == 2:
            return say("{number}nd", number=number)
        if number % 10 == 3:
            return say("{number}rd", number=number)
    return say("{number}th", number=number)


def place_letter(place: int) -> str:
    """Return "A" for place 1 of the firing sequence, and so on: no cylinder's number.

    A number here would be read as that of a cylinder.
    """
    return chr(ord("A") + place - 1)


def cylinders_words(cylinders: Sequence[int]) -> Text:
    """Return "cylinder 1" or "cylinders 1 and 4"."""
    return say_count(
        "cylinder {cylinders}",
        "cylinders {cylinders}",
        len(cylinders),
        cylinders=listed(cylinders),
    )


def place_words(cylinder: int | None, position: int, *, first: bool = False) -> Text:
    """Return "cylinder 3", or "place B" where its number is not known.

    `first` says that a sentence begins with it.
    """
    if cylinder is not None:
        return (
            say("Cylinder {number}", number=cylinder)
            if first
            else say("cylinder {number}", number=cylinder)
        )
    return (
        say("Place {number}", number=place_letter(position))
        if first
        else say("place {number}", number=place_letter(position))
    )
