"""How the cylinders that stand out stand to each other: the patterns of a cranking test."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from engines.core.firing import FiringOrder
from engines.core.positions import Place, neighbours_of
from shopdiag.people.core.words import gettext as _

FASTEST_USUAL_RPM = 330.0
"""Above usual cranking of a warm petrol engine; a sound four was recorded at 309 to 316 rpm."""
SHALLOW_SHARE = 0.20
"""Hump over mean current under which a crank is shallow; from simulated engines, direction only:
sound ones of 3 to 6 cylinders stood at 0.19 to 0.97, half of them over 0.4."""


class Pattern(StrEnum):
    """How cylinders stand out; OPEN where it is not settled which they are."""

    NONE = "none"
    ONE = "one"
    ADJACENT = "adjacent"
    COMPANIONS = "companions"
    BANK = "bank"
    SAME_BANK = "same_bank"
    BANK_UNEVEN = "bank_uneven"
    SEVERAL = "several"
    ALL = "all"
    OPEN = "open"
    HIGH = "high"
    HIGH_COMPANIONS = "high_companions"
    LOW_AT_FIRST = "low_at_first"
    COMES_AND_GOES = "comes_and_goes"
    FAST_EVEN = "fast_even"
    EVEN_MISFIRES = "even_misfires"
    WATCH = "watch"


HIGH = frozenset({Pattern.HIGH, Pattern.HIGH_COMPANIONS})
"""Patterns of cylinders that stand high."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What is known about an engine when its pattern is read.

    Parameters
    ----------
    low, high
        Cylinders that stand low, and those that stand high without a low one before them.
    high_unnumbered
        Whether something stands high and the capture does not say which cylinder.
    is_open
        Whether several sets of low cylinders fit and none is settled.
    sets
        Those sets, where they are known.
    watched
        Cylinders that came out lower than the others, but not clearly.
    weaker_bank
        Cylinders of a bank that is weaker as a whole; empty where the banks are even or unknown.
    at_first, now_and_then
        Cylinders low in the first cycles only, and low in some cycles or captures only.
    misfires
        Whether misfires were counted or a misfire code stands.
    unnumbered
        Patterns over time that a capture shows without telling which cylinder.
    fast_hints
        Why cranking may have been too easy on all cylinders, a sentence each.
    order
        Firing order; without it companions and "all" cannot be told.
    places
        Where the cylinders sit; without it neighbours and banks cannot be told.
    """

    low: frozenset[int] = frozenset()
    high: frozenset[int] = frozenset()
    high_unnumbered: bool = False
    is_open: bool = False
    sets: tuple[frozenset[int], ...] = ()
    watched: frozenset[int] = frozenset()
    weaker_bank: frozenset[int] = frozenset()
    at_first: frozenset[int] = frozenset()
    now_and_then: frozenset[int] = frozenset()
    unnumbered: frozenset[Pattern] = frozenset()
    misfires: bool = False
    fast_hints: tuple[str, ...] = ()
    order: FiringOrder | None = None
    places: Mapping[int, Place] | None = None


@dataclass(frozen=True, slots=True)
class Read:
    """One pattern that applies, and the cylinders it is about (empty: all, or none).

    `sets` holds them apart where one of several sets is meant.
    """

    pattern: Pattern
    cylinders: tuple[int, ...] = ()
    sets: tuple[tuple[int, ...], ...] = ()


def patterns_in(seen: Seen) -> tuple[Read, ...]:
    """Return every pattern that applies, in the order in which they are to be dealt with.

    What can do harm comes first, then how the low ones stand to each other, the likelier reading
    first, then what changes over time, then hints.
    """
    found: list[Read] = []
    if seen.high:
        found.append(Read(_of_high(seen.high, seen.order), tuple(sorted(seen.high))))
    elif seen.high_unnumbered:
        found.append(Read(Pattern.HIGH))
    found += _of_low(seen)
    if seen.weaker_bank and not any(read.pattern is Pattern.BANK for read in found):
        found.append(Read(Pattern.BANK_UNEVEN, tuple(sorted(seen.weaker_bank))))
    elif seen.watched and not (seen.low or seen.weaker_bank):
        found.append(Read(Pattern.WATCH, tuple(sorted(seen.watched))))
    over_time = (
        (Pattern.LOW_AT_FIRST, seen.at_first),
        (Pattern.COMES_AND_GOES, seen.now_and_then),
    )
    changing = [
        Read(pattern, tuple(sorted(cylinders)))
        for pattern, cylinders in over_time
        if cylinders or pattern in seen.unnumbered
    ]
    found += changing
    if not seen.low:
        if seen.fast_hints:
            found.append(Read(Pattern.FAST_EVEN))
        if seen.misfires and not changing:
            found.append(Read(Pattern.EVEN_MISFIRES))
    return tuple(found) or (Read(Pattern.NONE),)


def _of_high(high: frozenset[int], order: FiringOrder | None) -> Pattern:
    if order is not None and _are_companions(sorted(high), order):
        return Pattern.HIGH_COMPANIONS
    return Pattern.HIGH


def _of_low(seen: Seen) -> list[Read]:
    low = tuple(sorted(seen.low))
    if not low:
        return []
    if seen.is_open:
        return _of_open(seen, low)
    main = pattern_of(low, seen.order, seen.places)
    found = [Read(main, low)]
    places = seen.places or {}
    pairs = neighbouring_pairs(low, places)
    if main is Pattern.ADJACENT and seen.order is not None and _are_companions(low, seen.order):
        found.append(Read(Pattern.COMPANIONS, low))
    if main in {Pattern.ADJACENT, Pattern.COMPANIONS} and _is_a_bank(set(low), places):
        found.append(Read(Pattern.BANK, low))
    elif main is Pattern.COMPANIONS and _is_on_one_bank(set(low), places):
        found.append(Read(Pattern.SAME_BANK, low))
    if main in {Pattern.SEVERAL, Pattern.SAME_BANK} and pairs:
        found.append(Read(Pattern.ADJACENT, tuple(sorted({c for pair in pairs for c in pair}))))
    return found


def _of_open(seen: Seen, low: tuple[int, ...]) -> list[Read]:
    """Return that it is open, and the gasket where every set that fits is two neighbours."""
    sets = tuple(tuple(sorted(one)) for one in seen.sets)
    found = [Read(Pattern.OPEN, low, sets)]
    if sets and all(len(s) == 2 and neighbouring_pairs(s, seen.places or {}) for s in sets):
        found.append(Read(Pattern.ADJACENT, low, sets))
    return found


def neighbouring_pairs(
    low: Collection[int], places: Mapping[int, Place]
) -> tuple[tuple[int, int], ...]:
    """Return the pairs of low cylinders that sit side by side on a bank."""
    return tuple(
        (one, other)
        for one in sorted(low)
        if one in places
        for other in neighbours_of(places, one)
        if one < other and other in low
    )


def _are_companions(pair: Sequence[int], order: FiringOrder) -> bool:
    return len(pair) == 2 and order.companion_of(min(pair)) == max(pair)


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
    Two cylinders that are both neighbours and 360 degrees apart count as neighbours: a sync on
    the wrong turn maps such a pair onto itself, so that it cannot have made the pattern.
    """
    chosen = set(low)
    if not chosen:
        return Pattern.NONE
    if len(chosen) == 1:
        return Pattern.ONE
    if order is not None and chosen >= set(order.sequence):
        return Pattern.ALL
    if len(chosen) == 2 and neighbouring_pairs(chosen, places or {}):
        return Pattern.ADJACENT
    if order is not None and _are_companions(sorted(chosen), order):
        return Pattern.COMPANIONS
    return _shared_bank(chosen, places)


def _shared_bank(chosen: set[int], places: Mapping[int, Place] | None) -> Pattern:
    if _is_a_bank(chosen, places):
        return Pattern.BANK
    return Pattern.SAME_BANK if _is_on_one_bank(chosen, places) else Pattern.SEVERAL


def _is_on_one_bank(chosen: set[int], places: Mapping[int, Place] | None) -> bool:
    """Return whether all of them sit on one bank of an engine that has more than one."""
    if not places or not chosen <= set(places):
        return False
    banks = {place.bank for place in places.values()}
    return len(banks) > 1 and len({places[c].bank for c in chosen}) == 1


def _is_a_bank(chosen: set[int], places: Mapping[int, Place] | None) -> bool:
    if not places:
        return False
    banks: dict[str, set[int]] = {}
    for cylinder, place in places.items():
        banks.setdefault(place.bank, set()).add(cylinder)
    return len(banks) > 1 and chosen in banks.values()


def fast_hints(
    cranks: str, cranking_rpm: float | None, hump_share: float | None, cylinders: int
) -> tuple[str, ...]:
    """Say why an even crank may have been too easy on all cylinders; hints, not measurements.

    Parameters
    ----------
    cranks
        How it cranks by ear; `fast` is a hint.
    cranking_rpm
        Mean speed of the capture; None where there is none.
    hump_share
        Height of a compression's hump over the mean current.
    cylinders
        Of the engine. From seven on, compressions overlap so much that their humps are shallow
        in good engines too.
    """
    found = []
    if cranks == "fast":
        found.append(_("The cranking sounds fast."))
    if cranking_rpm is not None and cranking_rpm > FASTEST_USUAL_RPM:
        found.append(
            _(
                "It cranked at {cranking_rpm:.0f} rpm. Warm petrol engines usually reach "
                "180 to {fastest_usual_rpm:.0f} rpm (typical; the manufacturer's figure "
                "wins)."
            ).format(cranking_rpm=cranking_rpm, fastest_usual_rpm=FASTEST_USUAL_RPM)
        )
    if hump_share is not None and cylinders <= 6 and hump_share < SHALLOW_SHARE:
        found.append(
            _(
                "A compression lifts the current by {hump_share:.0f} % only; in good "
                "engines of up to six cylinders it is mostly {shallow_share:.0f} % and "
                "more (simulated)."
            ).format(hump_share=100 * hump_share, shallow_share=100 * SHALLOW_SHARE)
        )
    return tuple(found)
