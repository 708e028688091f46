"""What the set of low cylinders usually means, and what to test because of it."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum

from engines.core.firing import FiringOrder
from engines.core.positions import Place, neighbours_of

HIGH_FROM = 1.20
"""Relative compression from which one cylinder counts as high: 20 % off is a fault by the
1970 disclosure (IBM Technical Disclosure Bulletin, December 1970), seen from above."""


class Pattern(StrEnum):
    """How the low cylinders stand to each other; OPEN where it is not settled which they are."""

    NONE = "none"
    ONE = "one"
    ADJACENT = "adjacent"
    COMPANIONS = "companions"
    BANK = "bank"
    SEVERAL = "several"
    ALL = "all"
    OPEN = "open"
    HIGH = "high"


@dataclass(frozen=True, slots=True)
class Meaning:
    """The usual reading of a pattern, in words, with where it comes from."""

    name: str
    reading: str
    source: str


_COMMON = "common practice"
MEANINGS: dict[Pattern, Meaning] = {
    Pattern.NONE: Meaning(
        "No low cylinder",
        "Even cranking with a misfire points at ignition, fuel or breathing (a worn cam lobe); "
        "a running test follows.",
        "a trade text on running compression",
    ),
    Pattern.ONE: Meaning(
        "One low cylinder",
        "Valve, rings, valve lifter or piston.",
        _COMMON,
    ),
    Pattern.ADJACENT: Meaning(
        "Two neighbours on one bank",
        "Usually the head gasket between them.",
        "vehicle makers' service texts, as an example",
    ),
    Pattern.COMPANIONS: Meaning(
        "Two cylinders 360 degrees apart",
        "Check the sync again first: a bind once in every turn (starter, ring gear) or a sync "
        "event on the wrong turn looks the same.",
        _COMMON,
    ),
    Pattern.BANK: Meaning(
        "A whole bank",
        "Usually that bank's cam timing or its phaser.",
        _COMMON,
    ),
    Pattern.SEVERAL: Meaning(
        "Several cylinders",
        "Wear, valves held open or fuel-washed bores; compare all cylinders on the gauge.",
        _COMMON,
    ),
    Pattern.ALL: Meaning(
        "All cylinders low",
        "Fast, even cranking: belt or chain timing, fuel-washed bores or wear. A relative "
        "test cannot see it; only an absolute gauge can.",
        _COMMON,
    ),
    Pattern.OPEN: Meaning(
        "Not settled which cylinder",
        "The sync leaves more than one set of cylinders open; the gauge on all of them says "
        "which one it is.",
        _COMMON,
    ),
    Pattern.HIGH: Meaning(
        "One cylinder high",
        "Liquid in the cylinder or heavy carbon. Stop: cranking on can bend a rod.",
        _COMMON,
    ),
}


def pattern_of(
    low: Collection[int],
    order: FiringOrder | None,
    places: Mapping[int, Place] | None,
) -> Pattern:
    """Name the pattern of the low cylinders.

    Parameters
    ----------
    low
        Low cylinders by number.
    order
        Firing order; without it companions and "all" cannot be told.
    places
        Where the cylinders sit; without it neighbours and banks cannot be told.

    Notes
    -----
    Two cylinders that are both neighbours and companions count as companions: whether the
    sync is right has to be settled before the engine is opened.
    """
    chosen = set(low)
    if not chosen:
        return Pattern.NONE
    if len(chosen) == 1:
        return Pattern.ONE
    if order is not None and chosen >= set(order.sequence):
        return Pattern.ALL
    if len(chosen) == 2:
        return _pair(min(chosen), max(chosen), order, places)
    return Pattern.BANK if _is_a_bank(chosen, places) else Pattern.SEVERAL


def _pair(
    one: int, other: int, order: FiringOrder | None, places: Mapping[int, Place] | None
) -> Pattern:
    if order is not None and order.companion_of(one) == other:
        return Pattern.COMPANIONS
    if places and one in places and other in neighbours_of(places, one):
        return Pattern.ADJACENT
    return Pattern.BANK if _is_a_bank({one, other}, places) else Pattern.SEVERAL


def _is_a_bank(chosen: set[int], places: Mapping[int, Place] | None) -> bool:
    if not places:
        return False
    banks: dict[str, set[int]] = {}
    for cylinder, place in places.items():
        banks.setdefault(place.bank, set()).add(cylinder)
    return len(banks) > 1 and chosen in banks.values()


def high_cylinders(relative: Mapping[int, float], order: FiringOrder) -> tuple[int, ...]:
    """Return cylinders that stand high without a low one before them in firing sequence.

    After a low cylinder the crank arrives faster and the next hump stands higher by itself;
    that one is no sign of liquid.

    Parameters
    ----------
    relative
        Relative compression by cylinder, 1.00 = like the sound ones.
    order
        Firing order of the engine.
    """
    before = dict(zip(order.sequence, order.sequence[-1:] + order.sequence[:-1], strict=True))
    return tuple(
        sorted(
            c
            for c, value in relative.items()
            if value >= HIGH_FROM and c in before and relative.get(before[c], 0.0) >= 0.9
        )
    )
