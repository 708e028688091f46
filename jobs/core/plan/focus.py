"""Where an engine misfires: on which cylinders, and how they stand to each other."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from jobs.core.code_meaning import code_base, cylinder_named
from jobs.core.plan.evidence import EngineFacts, Evidence

Spread: TypeAlias = Literal["one", "shared_coil", "neighbours", "bank", "random", "none"]

LEAST_COUNTS = 10
"""Under so many misfires counts name nobody (chosen by judgement)."""
_LOUD_TIMES_MEAN = 1.5
_LOUD_SHARE = 0.15
_ALL_TIMES_MEAN = 0.5
"""All misfire where each was counted so often at least (chosen by judgement)."""


@dataclass(frozen=True, slots=True)
class Focus:
    """What the tests are about.

    Parameters
    ----------
    cylinders
        The cylinders to test; empty where none is named.
    misfiring
        Those that misfire, by counts or else by codes.
    spread
        How the misfiring ones stand to each other.
    """

    cylinders: tuple[int, ...]
    misfiring: frozenset[int]
    spread: Spread


def focus_of(evidence: Evidence) -> Focus:
    """Return which cylinders the tests are about.

    A person's word goes first, then cylinders that stand out in the cranking test, then counts,
    then codes.
    """
    misfiring = misfiring_of(evidence) or evidence.named
    test = evidence.compression
    standing_out = set(test.high) or set(test.weak)
    chosen = evidence.named or frozenset(standing_out) or misfiring
    known = set(evidence.engine.cylinders)
    return Focus(
        cylinders=tuple(sorted(c for c in chosen if not known or c in known)),
        misfiring=misfiring,
        spread=_spread(evidence, misfiring),
    )


def misfiring_of(evidence: Evidence) -> frozenset[int]:
    """Return the cylinders that misfire; empty where none is named or all do alike.

    Where neither counts nor codes name one, those that add less at idle and compress.
    """
    counts = evidence.counts
    if sum(counts.values()) >= LEAST_COUNTS:
        # that one counts more than others names nobody where all of them misfire
        return frozenset() if do_all_count(evidence) else _loud(counts)
    named = {cylinder_named(code) for code, _status in evidence.codes}
    idle = evidence.idle
    at_idle = frozenset() if idle.rests_on_flywheel else idle.burns_badly
    return frozenset(c for c in named if c is not None) or at_idle


def is_hardly_counted(evidence: Evidence) -> bool:
    """Return whether misfires were counted, and so few that they name nobody."""
    return bool(evidence.counts) and sum(evidence.counts.values()) < LEAST_COUNTS


def do_all_misfire(evidence: Evidence) -> bool:
    """Return whether every cylinder of the engine misfires, by counts or else by what is named."""
    if sum(evidence.counts.values()) >= LEAST_COUNTS:
        return do_all_count(evidence)
    cylinders = set(evidence.engine.cylinders or evidence.counts)
    return bool(cylinders) and cylinders <= (misfiring_of(evidence) or evidence.named)


def do_all_count(evidence: Evidence) -> bool:
    """Return whether misfires are counted on every cylinder, on none of them only a few."""
    cylinders = evidence.engine.cylinders or tuple(evidence.counts)
    counts = [evidence.counts.get(c, 0) for c in cylinders]
    total = sum(counts)
    return total >= LEAST_COUNTS and min(counts) >= _ALL_TIMES_MEAN * total / len(counts)


def _loud(counts: Mapping[int, int]) -> frozenset[int]:
    total = sum(counts.values())
    least = max(_LOUD_TIMES_MEAN * total / len(counts), _LOUD_SHARE * total)
    return frozenset(c for c, count in counts.items() if count >= least)


def _spread(evidence: Evidence, misfiring: Collection[int]) -> Spread:
    if not misfiring:
        counted = sum(evidence.counts.values()) >= LEAST_COUNTS
        at_random = any(code_base(code) == "P0300" for code, _status in evidence.codes)
        return "random" if counted or at_random else "none"
    if len(misfiring) == 1:
        return "one"
    return _spread_of(evidence.engine, tuple(sorted(misfiring)), evidence.ignition)


def _spread_of(engine: EngineFacts, several: tuple[int, ...], ignition: str) -> Spread:
    one, other = several[0], several[1]
    is_pair = len(several) == 2
    are_companions = is_pair and engine.companions.get(one) == other
    if are_companions and ignition == "pairs":
        return "shared_coil"
    if is_pair and other in engine.neighbours.get(one, ()):
        return "neighbours"
    if are_companions and not ignition:
        return "shared_coil"
    banks = {engine.banks.get(c) for c in several}
    return "bank" if len(banks) == 1 and None not in banks else "random"
