"""Relative figures: what counts as sound, and how sure a figure is."""

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from traces.core.conditioning import Floats
from traces.core.results import Call

_ROUNDS = 8

# One cylinder may stand above all others: liquid or carbon makes its clearance small. Others
# that are about as alike as sound ones are (2 to 3 %, common practice, and the method's own
# errors) are then the sound ones; of three cylinders the pair must not lie too far below,
# because one gasket can make two low.
_HIGH_ABOVE = 1.12
_HIGHEST = 1.55
_PAIR_HIGHEST = 1.5
_APART = 0.05  # standard deviation of the others over their mean
_LEAST_TO_OUTVOTE = 4


@dataclass(frozen=True, slots=True)
class Limits:
    """Below which relative compression a cylinder is called, and from where it is sound."""

    suspect_below: float
    watch_below: float

    def call(self, relative: float) -> Call:
        """Name a figure."""
        if relative < self.suspect_below:
            return "suspect"
        return "watch" if relative < self.watch_below else "sound"


def sound_mean(strengths: Floats, limits: Limits) -> tuple[float, int]:
    """Return the mean of the sound cylinders and how many they are.

    Compression can be lost but hardly gained, so the search starts from the strongest
    quarter and takes in whatever lies no more than the watch limit below its mean. One that
    stands alone right after a weak one is outvoted where half of all agree on less: what a
    weak cylinder leaves in speed lifts the next reading.

    Parameters
    ----------
    strengths
        Shape (cylinders,), in firing sequence, any unit; the largest must be positive.
    """
    mean, count = _from_the_top(strengths, limits)
    if count == 1 and strengths.size >= _LEAST_TO_OUTVOTE:
        top = int(np.argmax(strengths))
        others, agreeing = _from_the_top(np.delete(strengths, top), limits)
        weak_before = strengths[top - 1] < limits.suspect_below * others
        if others > 0 and weak_before and agreeing >= strengths.size / 2:
            return others, agreeing
    return mean, count


def _from_the_top(strengths: Floats, limits: Limits) -> tuple[float, int]:
    ordered = np.sort(strengths)[::-1]
    if _one_is_high(ordered):
        return float(ordered[1:].mean()), int(ordered.size - 1)
    mean = float(ordered[: math.ceil(ordered.size / 4)].mean())
    count = 0
    for _ in range(_ROUNDS):
        sound = ordered[ordered >= limits.watch_below * mean]
        if sound.size in (0, count):
            break
        mean, count = float(sound.mean()), int(sound.size)
    return mean, count


def _one_is_high(ordered: Floats) -> bool:
    """Return whether the first stands clearly above the rest, and the rest are alike."""
    rest = ordered[1:]
    if rest.size < 2 or not rest[-1] > 0:
        return False
    mean = float(rest.mean())
    highest = _PAIR_HIGHEST if rest.size == 2 else _HIGHEST
    return float(rest.std()) <= _APART * mean and _HIGH_ABOVE < ordered[0] / mean < highest


def half_width(per_cycle: Floats, method_error: float) -> float:
    """Return half the 95 % interval of a figure from its cycles and the method's own error.

    Parameters
    ----------
    per_cycle
        Shape (cycles,): the figure in each cycle.
    method_error
        Standard deviation of what the method itself gets wrong, same unit.

    Notes
    -----
    Student's t for the mean of the cycles; both parts add as squares.
    """
    count = per_cycle.size
    if count < 2:
        return 1.96 * method_error
    spread = float(per_cycle.std(ddof=1))
    factor = float(special.stdtrit(count - 1, 0.975))
    return math.hypot(factor * spread / math.sqrt(count), 1.96 * method_error)
