"""Relative figures: what counts as sound, and how sure a figure is."""

import math
from dataclasses import dataclass, replace

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing
from numpy.typing import NDArray

from traces.core.report import Call
from traces.core.waveform import Floats

_ROUNDS = 8

# What a cylinder may be, before looking: sound and about as strong as the other sound ones
# (2 to 3 %, common practice, and the method's own errors), low by anything, or high, as liquid
# or carbon makes it. A reading right after a weak one may be lifted by what that one leaves in
# speed. Shares are common sense, not counted anywhere; the result hardly hangs on them.
_SOUND, _LOW, _HIGH, _LIFTED, _RAISED = 0.80, 0.18, 0.01, 0.05, 0.80
_APART = 0.05
_HIGHEST = 1.6
_RAISED_HIGHEST = 2.6
"""How far a cylinder stands above sound ones at most: by liquid or carbon, and where its hump holds
the gas of a companion as well, whose exhaust valve does not open."""
_ENOUGH = 4  # cylinders: of fewer, the others that agree are no majority
_HIGH_FROM = 1.12
_UNHEARD_OF = 1e-6
_MOST_APART = 4.0  # nothing makes a hump so many times as high as the others
_FEW_OF = 3  # at most one of so many stand above the others
_AS_LIKELY = 9.0
"""Log of how much likelier one level must be than another to be the only one. What is likely was
assumed, and many that are low alike have a common cause, which this does not know."""
_REACHES_SOUND = 0.01
"""An interval that ends so little below the limit of sound cylinders reaches them."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Below which relative compression a cylinder is called, and from where it is sound."""

    suspect_below: float
    watch_below: float

    def call(self, relative: float, high: float | None = None) -> Call:
        """Name a figure.

        Parameters
        ----------
        relative
            The figure.
        high
            Upper end of its interval, where it has one. A low figure that may as well belong
            to a sound cylinder accuses nobody: it is to watch.
        """
        if relative < self.suspect_below:
            return "watch" if high is not None and self.may_be_sound(high) else "suspect"
        return "watch" if relative < self.watch_below else "sound"

    def may_be_sound(self, high: float) -> bool:
        """Return whether an interval that ends at `high` reaches up to sound cylinders."""
        return high > max(self.suspect_below, self.watch_below - _REACHES_SOUND)


def sound_mean(
    strengths: Floats, limits: Limits, raised: NDArray[np.bool_] | None = None
) -> tuple[float, int]:
    """Return the mean of the sound cylinders and how many they are.

    Every level at which the sound ones may stand is weighed by how likely it makes all
    cylinders: most are alike, some are low, one may be high. So nine that agree outvote a
    tenth that stands above them, while two low ones of three do not outvote the third.

    Parameters
    ----------
    strengths
        Shape (cylinders,), in firing sequence, any unit; the largest must be positive.
    raised
        Shape (cylinders,): which are known to stand above what they would with the clearance
        of the others.
    """
    if raised is None:
        raised = np.zeros(strengths.size, dtype=np.bool_)
    levels = strengths[strengths > _UNHEARD_OF * strengths.max()]
    for _ in range(_ROUNDS):
        sound, _ = _weighed(strengths, levels, limits, raised)
        levels = sound @ strengths / sound.sum(axis=1)
    level = float(levels[int(np.argmax(_weighed(strengths, levels, limits, raised)[1]))])
    mean, count = level, 0
    for _ in range(_ROUNDS):
        inside = (strengths >= limits.watch_below * mean) & (strengths <= _HIGH_FROM * level)
        if int(inside.sum()) in (0, count):
            break
        mean, count = float(strengths[inside].mean()), int(inside.sum())
    return mean, max(count, 1)


def _weighed(
    strengths: Floats, levels: Floats, limits: Limits, raised: NDArray[np.bool_]
) -> tuple[Floats, Floats]:
    """Return how likely each cylinder is a sound one at each level, and how likely all are.

    Returns
    -------
    tuple of Floats
        Shape (levels, cylinders), 0 to 1; and the log of the whole, shape (levels,).
    """
    relative = strengths / levels[:, None]
    off = (relative - 1) / _APART
    sound = _SOUND * np.exp(-off * off / 2) / (np.sqrt(2 * np.pi) * _APART)
    after_weak = np.roll(relative, 1, axis=1) < limits.suspect_below
    lifted = np.where(raised, _RAISED, np.where(after_weak, _LIFTED, _HIGH))
    far = raised & (strengths.size >= _ENOUGH)
    highest = np.where(far, _RAISED_HIGHEST, _HIGHEST)
    high = np.where(relative < highest, lifted / (highest - 1), _UNHEARD_OF)
    other = np.where(relative < 1, _LOW, high)
    return sound / (sound + other), np.log(sound + other).sum(axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """What figures are relative to.

    Parameters
    ----------
    mean, count
        As `sound_mean` returns them.
    rival
        Another mean of the sound ones that is about as likely; None where there is none.
    above
        Shape (cylinders,): with a rival, which stand above all others. They are sound and the
        others low, or they are high and the others the measure.
    """

    mean: float
    count: int
    rival: float | None
    above: NDArray[np.bool_]

    def widened(self, index: int, low: float, high: float) -> tuple[float, float]:
        """Return an interval that holds what the rival says of a cylinder too.

        Those that stand above keep theirs: what is in doubt is how the others compare with them.
        """
        if self.rival is None or self.above[index]:
            return low, high
        turned = self.mean / self.rival
        return min(low, low * turned), max(high, high * turned)


def find_reference(
    strengths: Floats,
    limits: Limits,
    raised: NDArray[np.bool_] | None = None,
    measure: NDArray[np.bool_] | None = None,
) -> Reference:
    """Return the mean of the sound cylinders, and a rival to it where there is one.

    Where few cylinders stand so far above all others that these are low beside them, either the
    few are high or the many are low. The figures tell which only where the many are more alike
    than weak ones would be by chance.

    Parameters
    ----------
    strengths, raised
        As for `sound_mean`.
    measure
        Shape (cylinders,): which the sound ones are, where that is known; else None.
    """
    if measure is not None:
        return Reference(float(strengths[measure].mean()), int(measure.sum()), None, measure)
    mean, count = sound_mean(strengths, limits, raised)
    above = strengths >= limits.watch_below * strengths.max()
    alone = Reference(mean, count, None, above)
    upper = float(strengths[above].mean())
    if strengths.size < _ENOUGH or _FEW_OF * int(above.sum()) > strengths.size:
        return alone
    strongest = float(strengths[~above].max())
    if not upper / _MOST_APART < strongest < limits.suspect_below * upper:
        return alone
    if int(above.sum()) > 1 and not (raised is not None and raised[above].all()):
        return alone
    levels = np.array([upper, sound_mean(strengths[~above], limits)[0]])
    likely = _weighed(strengths, levels, limits, above)[1]
    if abs(float(likely[0] - likely[1])) > _AS_LIKELY:
        return alone
    rival = float(levels[int(np.argmax(np.abs(np.log(levels / mean))))])
    return replace(alone, rival=rival)


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
    factor = float(scipy.special.stdtrit(count - 1, 0.975))
    return math.hypot(factor * spread / math.sqrt(count), 1.96 * method_error)


def recorded_half_width(per_cycle: Floats, method_error: float) -> float:
    """Return half the 95 % interval of a cylinder that is low in some of its cycles only.

    Its figure is the mean of the cycles recorded, so how much they differ is no error of it.
    What may be wrong is which cycles belong to the crank: one more or fewer at its ends. The
    errors of single cycles are seen in how much the low ones, and the others, differ among
    themselves.

    Parameters
    ----------
    per_cycle
        Shape (cycles,): the figure in each cycle.
    method_error
        Standard deviation of what the method itself gets wrong, same unit.
    """
    count = per_cycle.size
    if count < 3:
        return half_width(per_cycle, method_error)
    low = per_cycle <= (per_cycle.min() + per_cycle.max()) / 2
    if low.all():
        return half_width(per_cycle, method_error)
    apart = per_cycle - np.where(low, per_cycle[low].mean(), per_cycle[~low].mean())
    spread = math.sqrt(float(apart @ apart) / (count - 2))
    factor = float(scipy.special.stdtrit(count - 2, 0.975))
    one_cycle = float(np.ptp(per_cycle)) / count
    return math.hypot(factor * spread / math.sqrt(count), one_cycle, 1.96 * method_error)
