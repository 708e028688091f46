"""How far evidence speaks for each cause: naive Bayes over likelihood ratios that are stated.

Clues multiply a cause's prior by their ratio, tests by how likely their outcome is with it. What
people said and where it misfires are no independent witnesses: together they count for less than
their product
(`SOFT_TOGETHER`): the shares rank causes and choose tests, and
are no probabilities that anybody measured. A cause is shown or ruled out by tests alone.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from jobs.core.plan.clues import Clue
from jobs.core.plan.knowledge import GOOD, PRIORS, TESTS, ratio
from jobs.core.plan.readings import Reading

SOFT_TOGETHER = 0.75
"""Exponent of all soft clues together: they overlap and are no independent witnesses."""
SPEAKS_FOR = 1.25
SPEAKS_AGAINST = 0.8
"""Ratios from which a clue is named beside a cause."""


@dataclass(frozen=True, slots=True)
class Argument:
    """A clue or reading beside a cause, and how strongly it moves it against the average."""

    words: str
    ratio: float


@dataclass(frozen=True, slots=True)
class Score:
    """Where the causes stand.

    Parameters
    ----------
    shares
        Of every cause that is not ruled out; they sum to 1.
    shown, ruled_out
        Causes that tests show and rule out, with the words of the test.
    disputed
        Causes that one test shows and another rules out: neither counts.
    """

    shares: Mapping[str, float]
    shown: Mapping[str, str]
    ruled_out: Mapping[str, str]
    disputed: frozenset[str]


def possible_causes(fuel: str) -> tuple[str, ...]:
    """Return the causes that an engine of this fuel can have."""
    return tuple(cause for cause, prior in PRIORS.items() if fuel in prior.only)


def score(fuel: str, clues: Sequence[Clue], readings: Sequence[Reading]) -> Score:
    """Return how far clues and readings speak for each cause."""
    causes = possible_causes(fuel)
    cleared = {c: w for c, w in _cleared(readings).items() if c in causes}
    shown = _shown(readings, frozenset(causes), frozenset(cleared))
    disputed = frozenset(cleared) & frozenset(shown)
    ruled_out = {c: w for c, w in cleared.items() if c not in disputed}
    logs = {c: _log(c, clues, readings) for c in causes if c not in ruled_out}
    return Score(
        shares=_normalised(logs),
        shown={c: w for c, w in shown.items() if c not in disputed},
        ruled_out=ruled_out,
        disputed=disputed,
    )


def arguments(
    cause: str, clues: Sequence[Clue], readings: Sequence[Reading], shares: Mapping[str, float]
) -> tuple[tuple[Argument, ...], tuple[Argument, ...]]:
    """Return what speaks for a cause and what against it, the strongest first."""
    found = [(clue.words, ratio(clue.key, cause)) for clue in clues]
    for reading in readings:
        test = TESTS[reading.test]
        own = test.chance(reading.outcome, cause)
        others = sum(
            share * test.chance(reading.outcome, c) for c, share in shares.items() if c != cause
        )
        rest = 1.0 - shares.get(cause, 0.0)
        usual = others / rest if rest > 1e-6 else own
        found.append((reading.words, own / max(usual, 1e-3)))
    for_it = sorted((Argument(w, r) for w, r in found if r >= SPEAKS_FOR), key=lambda a: -a.ratio)
    against = sorted(
        (Argument(w, r) for w, r in found if r <= SPEAKS_AGAINST), key=lambda a: a.ratio
    )
    return tuple(for_it), tuple(against)


def _log(cause: str, clues: Sequence[Clue], readings: Sequence[Reading]) -> float:
    value = math.log(PRIORS[cause].jobs)
    for clue in clues:
        value += (SOFT_TOGETHER if clue.is_soft else 1.0) * math.log(ratio(clue.key, cause))
    return value + sum(
        math.log(max(TESTS[r.test].chance(r.outcome, cause), 1e-4)) for r in readings
    )


def _normalised(logs: Mapping[str, float]) -> dict[str, float]:
    top = max(logs.values(), default=0.0)
    likely = {cause: math.exp(value - top) for cause, value in logs.items()}
    total = sum(likely.values())
    return {cause: value / total for cause, value in likely.items()}


def _cleared(readings: Sequence[Reading]) -> dict[str, str]:
    found: dict[str, str] = {}
    for reading in readings:
        if reading.outcome == GOOD:
            for cause in TESTS[reading.test].clears:
                found.setdefault(cause, reading.words)
    return found


def _shown(
    readings: Sequence[Reading], possible: frozenset[str], cleared: frozenset[str]
) -> dict[str, str]:
    """Return what is shown: where an outcome shows one of several, once the others are out.

    Others are out by a test that clears them, or by one that makes sure of a single one of them.
    """
    sure_of = [
        outcome.proves
        for reading in readings
        if (outcome := TESTS[reading.test].found(reading.outcome)) and outcome.proves
    ]
    found: dict[str, str] = {}
    for reading in readings:
        outcome = TESTS[reading.test].found(reading.outcome)
        one_of = (outcome.shows & possible) if outcome else frozenset()
        left = one_of if len(one_of) == 1 else one_of - cleared
        if len(left) > 1:
            narrowed = [left & some for some in sure_of if len(left & some) == 1]
            left = narrowed[0] if len(set(narrowed)) == 1 else left
        if len(left) == 1:
            found.setdefault(next(iter(left)), reading.words)
    return found
