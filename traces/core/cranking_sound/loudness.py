"""How loud a recording is over time, in the band where a starter under load is heard."""

from dataclasses import dataclass

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing
from numpy.typing import NDArray

from traces.core.waveform import Floats

LOUDNESS_HZ = 200.0
"""Loudness is told so often: fifteen times a compression at the fastest crank."""

LEAST_RATE_HZ = 4000.0
_BAND_HZ = 300.0, 6000.0
"""Under it is hum and handling noise; over it telephones cut off."""
_SLOW_HZ = 0.4
_FLOOR = 0.2


@dataclass(frozen=True, slots=True)
class Loudness:
    """Loudness of a sound over time.

    Parameters
    ----------
    values
        Effective value of the band in each step of 1 / `LOUDNESS_HZ` seconds, in the file's unit.
    from_s
        When it begins, seconds from the start of the recording.
    """

    values: Floats
    from_s: float = 0.0

    @property
    def duration_s(self) -> float:
        """How long it lasts."""
        return self.values.size / LOUDNESS_HZ

    def part(self, first: int, last: int) -> "Loudness":
        """Return the steps from `first` up to `last`."""
        return Loudness(self.values[first:last], self.from_s + first / LOUDNESS_HZ)

    def swing(self) -> Floats:
        """Return how far each step is above or below the level around it, as a share of that.

        A telephone that turns its own level down, and a starter that is heard further away, change
        the level over seconds; compressions change it several times a second.
        """
        low_pass = scipy.signal.butter(2, _SLOW_HZ, fs=LOUDNESS_HZ, output="sos")
        reach = min(self.values.size - 1, round(4 * LOUDNESS_HZ))
        level = scipy.signal.sosfiltfilt(low_pass, self.values, padlen=reach)
        least = _FLOOR * float(self.values.mean())
        return np.asarray(self.values / np.maximum(level, least) - 1.0)


def loudness_of(samples: NDArray[np.floating], rate_hz: float) -> Loudness:
    """Return the loudness of a sound.

    Parameters
    ----------
    samples
        Sound pressure in any unit, one value a sample; samples that are no number count as silence.
    rate_hz
        Samples a second, `LEAST_RATE_HZ` at least.
    """
    steps = int(len(samples) / rate_hz * LOUDNESS_HZ)
    if not steps:
        return Loudness(np.zeros(0))
    sound = np.nan_to_num(np.asarray(samples, dtype=np.float64), posinf=0.0, neginf=0.0)
    upper_hz = min(_BAND_HZ[1], 0.45 * rate_hz)
    band = scipy.signal.butter(4, (_BAND_HZ[0], upper_hz), "bandpass", fs=rate_hz, output="sos")
    power = np.concatenate([[0.0], np.cumsum(scipy.signal.sosfilt(band, sound) ** 2)])
    edges = np.round(np.arange(steps + 1) * rate_hz / LOUDNESS_HZ).astype(np.int64)
    return Loudness(np.sqrt(np.maximum(np.diff(power[edges]), 0.0) / np.diff(edges)))
