"""Source resistance from how voltage gives way to current: Ohm's law, robustly."""

from dataclasses import dataclass

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing

from traces.core.waveform import Floats

_POINTS = 180
_LEAST_CYCLES = 3
_PARTS = 8
_MEDIAN_ERROR = 1.2533  # standard error of a median over that of a mean, normal distribution
_LAG_SHARE = 0.005  # what a clamp's lag and polarisation do to the slope (simulated captures)
_LEAST_LIKENESS = 0.7


@dataclass(frozen=True, slots=True)
class Resistance:
    """Milliohms with standard error; `likeness` is how well voltage follows current, 0 to 1."""

    mohm: float
    error_mohm: float
    likeness: float

    @property
    def is_usable(self) -> bool:
        """Whether voltage falls as current rises, and hardly anything else moves it."""
        return self.mohm > 0 and self.likeness >= _LEAST_LIKENESS


def resistance_of_inrush(current_a: Floats, voltage_v: Floats) -> Resistance:
    """Return -dV/dI over the inrush as the median of all slopes between two samples.

    The Theil-Sen slope (`scipy.stats.theilslopes`) shrugs off a quarter of wild samples. Its
    error comes from leaving out one part of the inrush after the other (jackknife), because
    neighbouring samples after a low-pass are not independent.

    Parameters
    ----------
    current_a, voltage_v
        Shape (samples,), after the same low-pass.
    """
    slope = float(scipy.stats.theilslopes(voltage_v, current_a)[0])
    parts = np.array_split(np.arange(current_a.size), _PARTS)
    without = np.array(
        [
            scipy.stats.theilslopes(np.delete(voltage_v, part), np.delete(current_a, part))[0]
            for part in parts
        ]
    )
    spread = float(((without - without.mean()) ** 2).sum())
    error = np.sqrt((_PARTS - 1) / _PARTS * spread)
    return Resistance(-1e3 * slope, 1e3 * float(error), _likeness(current_a, voltage_v))


def resistance_of_ripple(
    count: Floats, edges: Floats, current_a: Floats, voltage_v: Floats
) -> Resistance | None:
    """Return -dV/dI over the compressions' ripple, the median over engine cycles.

    The mean current of the other cycles serves as instrument: it does not have the noise of
    the cycle itself, which would flatten a plain slope. Each cycle's own mean is taken out, so
    that the slow sag of the battery does not count.

    Parameters
    ----------
    count
        Engine cycles passed at each sample, shape (samples,).
    edges
        Borders of the whole cycles, shape (cycles + 1,).
    current_a, voltage_v
        Shape (samples,), after the same low-pass.
    """
    if edges.size - 1 < _LEAST_CYCLES:
        return None
    at = edges[:-1, None] + np.arange(_POINTS) / _POINTS
    amps, volts = (np.interp(at, count, v) for v in (current_a, voltage_v))
    amps, volts = (_level(v) for v in (amps, volts))
    instrument = amps.mean(axis=0)
    others = (amps.shape[0] * instrument - amps) / (amps.shape[0] - 1)
    slopes = (volts * others).sum(axis=1) / (amps * others).sum(axis=1)
    middle = float(np.median(slopes))
    error = _MEDIAN_ERROR * float(np.std(slopes, ddof=1)) / np.sqrt(slopes.size)
    error = np.hypot(error, _LAG_SHARE * middle)
    return Resistance(-1e3 * middle, 1e3 * error, _likeness(instrument, volts.mean(axis=0)))


def _level(cycles: Floats) -> Floats:
    """Take mean and slope out of each row: between cycles the level may drift."""
    x = np.linspace(-1.0, 1.0, cycles.shape[1])
    level = cycles - cycles.mean(axis=1, keepdims=True)
    slope = (level @ x) / float(x @ x)
    return np.asarray(level - slope[:, None] * x, dtype=np.float64)


def _likeness(current_a: Floats, voltage_v: Floats) -> float:
    """Return the correlation of falling voltage with rising current, 0 to 1."""
    if float(np.ptp(current_a)) == 0.0 or float(np.ptp(voltage_v)) == 0.0:
        return 0.0
    return max(0.0, -float(np.corrcoef(current_a, voltage_v)[0, 1]))
