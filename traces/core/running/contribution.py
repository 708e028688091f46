"""Each cylinder's contribution: what its firings give, over those of the sound ones."""

from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np

from traces.core.running.coasting import WorkLevel
from traces.core.running.step_fit import FiringSteps
from traces.core.waveform import Floats

Grade: TypeAlias = Literal["even", "weak", "dead", "comes-and-goes"]

_DEAD_BELOW = 0.30
_NO_FIRE = 0.45
_COMES_BACK = 0.70
_LEAST_MISSED, _MOST_MISSED = 0.08, 0.85
_FEWEST_MISSED = 3
_CLEAR_OF_SCATTER, _MOST_SCATTER = 3.5, 0.25
_SURE = 1.96
_LIKE_EACH_OTHER = 1.5
"""A firing's neighbours are not free of it: over the error of as many free ones."""

_REST = 0.02


@dataclass(frozen=True, slots=True)
class Contribution:
    """One cylinder.

    Parameters
    ----------
    share
        Over the mean of the sound ones; with its 95 % interval.
    grade
        What that is called.
    missed
        Share of its firings that gave next to nothing.
    per_cycle
        Firing by firing.
    """

    share: float
    low: float
    high: float
    grade: Grade
    missed: float
    per_cycle: tuple[float, ...]


def contributions(
    steps: FiringSteps, level: WorkLevel, *, suspect_below: float
) -> tuple[Contribution, ...]:
    """Return what each cylinder gives, in firing sequence from the first.

    Parameters
    ----------
    suspect_below
        From where on a cylinder is weak.
    """
    each = steps.steps - steps.steps.mean()
    mean = each.mean(axis=0)
    # nobody gives less than nothing
    usual = max(level.share, -float(mean.min()))
    given = usual + mean
    sound = _sound_level(given, suspect_below)
    share = given / sound
    noise = _LIKE_EACH_OTHER * each.std(axis=0, ddof=1) / np.sqrt(each.shape[0])
    astray = np.hypot(noise, steps.wheel_error) / sound
    single = share + (each - mean) / sound
    scatter = float(np.median(single.std(axis=0, ddof=1)))
    half = _SURE * np.sqrt(astray**2 + ((1 - share) * level.spread) ** 2 + _REST**2)
    return tuple(
        _graded(
            Contribution(
                share=float(share[j]),
                low=float(max(0.0, share[j] - half[j])),
                high=float(share[j] + half[j]),
                grade="even",
                missed=_missed(single[:, j], scatter),
                per_cycle=tuple(float(v) for v in single[:, j]),
            ),
            suspect_below,
        )
        for j in range(each.shape[1])
    )


def _sound_level(given: Floats, suspect_below: float) -> float:
    """Return the mean of those that are not weak beside it."""
    level = float(np.median(given))
    for _ in range(4):
        level = float(given[given >= suspect_below * level].mean())
    return max(level, 1e-6)


def _missed(single: Floats, scatter: float) -> float:
    """Return the share of firings that gave next to nothing, where the others gave their part.

    Parameters
    ----------
    scatter
        Of a usual cylinder's firings.
    """
    gave = single >= _NO_FIRE
    missed = float(np.mean(~gave))
    few = np.count_nonzero(~gave) < _FEWEST_MISSED
    if few or scatter > _MOST_SCATTER or not _LEAST_MISSED <= missed <= _MOST_MISSED:
        return 0.0
    usual, other = float(np.median(single[gave])), float(np.median(single[~gave]))
    # one crowd cut in two lies two or three times its halves' spread apart
    spread = float(np.sqrt(np.mean([single[gave].var(), single[~gave].var()])))
    return missed if usual >= _COMES_BACK and usual - other > _CLEAR_OF_SCATTER * spread else 0.0


def _graded(found: Contribution, suspect_below: float) -> Contribution:
    if found.missed:
        return replace(found, grade="comes-and-goes")
    if found.share < _DEAD_BELOW:
        return replace(found, grade="dead")
    return replace(found, grade="weak" if found.share < suspect_below else "even")
