"""The plain reading: what each compression does to speed or voltage, without a fitted engine.

Where the fitted method does not follow a steady recording, the recording may still show plainly
whether the compressions are alike. A compressed charge pushes the piston down again: the crank's
kinetic energy, which is as its speed squared, rises after each top dead centre by what the charge
gives back (energy balance; reading compressions from it: US 6,055,852), and the load on the
starter, which the battery's sag follows, falls. A weak cylinder gives back less. How the starter
answers is left out, so figures of weak cylinders come out too low, and only clear patterns count.
"""

from dataclasses import dataclass

import numpy as np

from engines.core.firing import CYCLE_DEG, FiringOrder
from traces.core.crank import Cranking
from traces.core.humps import Limits, half_width, sound_mean
from traces.core.preparation import Measured
from traces.core.report import Pattern
from traces.core.signals.speed_profile import slowness_of
from traces.core.signals.teeth_method import ToothCycles
from traces.core.waveform import Floats

STEP_DEG = 2.0
LEAST_CYCLES = 3
LEAST_TO_TELL = 2

_AT_A_LEVEL, _MOSTLY_AT_LEVELS = 0.1, 0.7
"""A sine spends 41 % of its time within a tenth of its swing from either end."""

_FEWEST, _MOST_BY_TEETH, _MOST_BY_SAG = 3, 6, 5
"""Cylinders of which each compression stands by itself, on simulated engines that fire evenly;
with more, or uneven intervals, neighbours cover each other and sound ones read from 20 % on."""

_CLEARLY_LOW = 0.50
_CLEARLY_SOUND = 0.85
_HIGHEST = 1.15
_HIGHEST_BESIDE_LOW = 1.30
_MOST_SPREAD = 0.12
"""Half of an interval over cycles: figures that change more are no steady pattern."""

_SOUND_ERROR, _LOW_ERROR = 0.05, 0.12
"""Standard deviation of a sound cylinder's figure, and how much it grows to an empty one's, on
simulated engines of two families."""


@dataclass(frozen=True, slots=True, eq=False)
class PlainReading:
    """Swing after each compression, by position in the firing sequence.

    Parameters
    ----------
    per_cycle
        Shape (cycles, n): the rise of speed squared over the cycle's mean speed squared, or the
        height of the sag over the valleys beside it, in its own unit.
    other
        Shape (n,): the same read in another way, which an even pattern must bear out.
    """

    per_cycle: Floats
    other: Floats

    @property
    def strengths(self) -> Floats:
        """Mean swing of each compression, not under 0, shape (n,)."""
        return np.asarray(np.maximum(self.per_cycle.mean(axis=0), 0.0), dtype=np.float64)

    def relative(self, limits: Limits) -> Floats:
        """Return the swings over those of the sound cylinders, shape (n,)."""
        return _over_sound(self.strengths, limits)

    def pattern(self, limits: Limits) -> Pattern:
        """Say whether compressions are plainly alike, plainly not, or neither."""
        relative = self.relative(limits)
        cycles = self.per_cycle.shape[0]
        if cycles < LEAST_CYCLES or self.spread(limits) > _MOST_SPREAD:
            return "unclear"
        least = max(limits.watch_below, _CLEARLY_SOUND)
        other = _over_sound(self.other, limits)
        if min(relative.min(), other.min()) >= least and relative.max() <= _HIGHEST:
            return "even"
        low = relative <= _CLEARLY_LOW
        clear = bool((low | (relative >= _CLEARLY_SOUND)).all())
        few = 2 * np.count_nonzero(low) <= relative.size
        if clear and low.any() and few and relative.max() <= _HIGHEST_BESIDE_LOW:
            return "uneven"
        return "unclear"

    def spread(self, limits: Limits) -> float:
        """Return the widest half of an interval over cycles."""
        sound = sound_mean(self.strengths, limits)[0] if self.strengths.max() > 0 else 1.0
        return max(half_width(column / sound, 0.0) for column in self.per_cycle.T)


def read_teeth(cycles: ToothCycles, order: FiringOrder, offset_deg: float) -> PlainReading | None:
    """Read how much each compression speeds the crank up.

    Parameters
    ----------
    cycles
        Tooth times of steady cycles.
    order
        Counted from the first position.
    offset_deg
        Where the slowest point stands from each top dead centre.

    Returns
    -------
    PlainReading or None
        None where the engine's compressions cover each other, or too few cycles are steady.
    """
    if not _stand_apart(order, _MOST_BY_TEETH) or cycles.steady.shape[0] < LEAST_TO_TELL:
        return None
    grid_deg = np.arange(0.0, CYCLE_DEG, STEP_DEG)
    middle_deg = np.cumsum(cycles.widths_deg) - cycles.widths_deg / 2 + cycles.late_deg
    # least speed stands where the sag of a voltage is highest
    braked = [
        -np.interp(grid_deg, middle_deg, row**-2.0, period=CYCLE_DEG)
        for row in slowness_of(cycles.steady, cycles.widths_deg)
    ]
    after = _falls(np.reshape(braked, (-1, grid_deg.size)), order, offset_deg)
    return PlainReading(after, np.median(after, axis=0))


def read_sag(cranking: Cranking, layout: Measured, order: FiringOrder) -> PlainReading | None:
    """Read how high the battery's sag stands at each compression, and how far it falls after.

    Tops and valleys are looked for in the sag over time, so that nothing hangs on where a cycle
    is cut or which cylinder the sync marks.

    Parameters
    ----------
    cranking
        For the sag.
    layout
        Its `humps` are read.
    order
        Counted from the first position.
    """
    if not _stand_apart(order, _MOST_BY_SAG) or len(layout.humps) < LEAST_TO_TELL * len(order):
        return None
    conditioned, rest = cranking.conditioned, cranking.span.rest_a or 0.0
    if _is_switched(conditioned.current_a[cranking.steady]):
        return None
    at = [conditioned.index_of(hump.at_s) for hump in layout.humps]
    spacing = max(1, round(float(np.median(np.diff(at)))))
    ends = [*at[1:], at[-1] + spacing]
    sag = conditioned.current_a
    heights: list[list[float]] = [[] for _ in order.sequence]
    falls: list[list[float]] = [[] for _ in order.sequence]
    for hump, top, end in zip(layout.humps, at, ends, strict=True):
        valley = float(sag[top : min(end, top + 2 * spacing) + 1].min())
        heights[hump.position - 1].append(hump.height_a)
        falls[hump.position - 1].append(hump.current_a + rest - valley)
    cycles = min(len(column) for column in heights)
    if cycles < LEAST_TO_TELL:
        return None
    per_cycle = np.array([column[:cycles] for column in heights]).T
    return PlainReading(per_cycle, np.array([float(np.mean(column)) for column in falls]))


def _is_switched(sag: Floats) -> bool:
    """Return whether a signal jumps between two levels, as no battery does."""
    low, high = float(sag.min()), float(sag.max())
    margin = _AT_A_LEVEL * (high - low)
    at_levels = np.count_nonzero((sag < low + margin) | (sag > high - margin))
    return bool(at_levels > _MOSTLY_AT_LEVELS * sag.size)


def plain_measured(reading: PlainReading, layout: Measured, level: float) -> Measured:
    """Return a reading as a method hands its figures to the judgement.

    Parameters
    ----------
    layout
        Names, humps and offset of the positions.
    level
        Mean of the signal that was judged, so that swings can be told from nothing at all.
    """
    strengths = reading.strengths
    scale = level / max(float(strengths.max()), 1e-12)
    weakness = 1.0 - np.clip(strengths / max(float(strengths.max()), 1e-12), 0.0, 1.0)
    usual = reading.per_cycle.mean(axis=0)
    off = reading.per_cycle - usual
    return Measured(
        strengths=strengths * scale,
        per_cycle=np.maximum(reading.per_cycle, 0.0) * scale,
        method_errors=_SOUND_ERROR + _LOW_ERROR * weakness,
        hump_strengths=layout.hump_strengths,
        labelings=layout.labelings,
        humps=layout.humps,
        offset_deg=layout.offset_deg,
        # of the swings, what all cycles have in common
        explained=1.0 - float(np.mean(off**2)) / max(float(np.mean(usual**2)), 1e-12),
    )


def _stand_apart(order: FiringOrder, most: int) -> bool:
    return order.is_even and _FEWEST <= len(order) <= most


def _over_sound(swings: Floats, limits: Limits) -> Floats:
    if not swings.max() > 0:
        return np.zeros_like(swings)
    return np.asarray(swings / sound_mean(swings, limits)[0], dtype=np.float64)


def _falls(cycles: Floats, order: FiringOrder, offset_deg: float) -> Floats:
    """Return how far each hump falls after its top, shape (cycles, n).

    Parameters
    ----------
    cycles
        Rising with the load, on an even grid of crank angle, shape (cycles, points).
    """
    interval = round(CYCLE_DEG / len(order) / STEP_DEG)
    falls = []
    for tdc_deg in order.tdc_angles_deg:
        centre = round((tdc_deg + offset_deg) / STEP_DEG)
        first = centre - interval // 2
        around = cycles[:, np.arange(first, first + interval) % cycles.shape[1]]
        top = int(np.argmax(around.mean(axis=0)))
        beyond = np.arange(first + top, centre + interval + 1) % cycles.shape[1]
        falls.append(around[:, top] - cycles[:, beyond].min(axis=1))
    return np.stack(falls, axis=1)
