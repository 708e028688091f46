"""Tooth edges in a crank sensor's waveform: a coil's growing swing, or a square wave."""

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing
from numpy.typing import NDArray

from traces.core.waveform import Channel, Floats, Waveform

_WINDOW_S = 0.12
"""Longest time between two teeth that still counts as turning: a tenth of a second."""

_HYSTERESIS = 0.25  # of half the swing around
_LEAST_SHARE = 0.1  # of the largest swing: below it is noise at rest
_NOISE_TIMES = 6.0
_FINE_S = 1e-3
_LEVEL_WITHIN = 1e-3  # of the swing
_LEAST_ON_LEVELS = 0.5  # of samples: the others are those around steps at exact times


def edge_times_s(waveform: Waveform, channel: Channel) -> tuple[Floats, Floats]:
    """Find when teeth pass.

    A crossing of the middle between the highs and lows around counts, once the swing around
    stands clear of the noise. Rising and falling ones are kept apart: one side of a coil's
    swing crosses at the tooth's middle, the other has nothing to hold it in the gap.

    Parameters
    ----------
    waveform
        For the time base.
    channel
        The crank sensor's, any unit; gaps count as rest.

    Returns
    -------
    tuple of Floats
        Rising and falling edges in the file's own time, each of shape (edges,) and in order;
        empty where nothing swings.
    """
    values = channel.values.astype(np.float64)
    finite = np.isfinite(values)
    if finite.sum() < 16:
        return np.empty(0), np.empty(0)
    if not finite.all():
        values = np.interp(np.arange(values.size), np.flatnonzero(finite), values[finite])
    middle, reach = _levels(values) or _around(values, waveform.rate_hz)
    noise = 1.4826 * float(np.median(np.abs(np.diff(values)))) / np.sqrt(2)
    least = max(_LEAST_SHARE * float(reach.max()), _NOISE_TIMES * _quiet(noise, reach), 1e-12)
    off = values - middle
    off[reach < least] = 0.0
    rising, falling = (
        waveform.t0_s + _crossings(side, _HYSTERESIS * reach) / waveform.rate_hz
        for side in (off, -off)
    )
    return rising, falling


def _levels(values: Floats) -> tuple[Floats, Floats] | None:
    """Return the same as `_around` for a signal of two levels, as logic has; else None.

    Its swing needs no neighbourhood: teeth may be as far apart as they like.
    """
    low, high = float(values.min()), float(values.max())
    if not high > low:
        return None
    within = _LEVEL_WITHIN * (high - low)
    if np.mean((values <= low + within) | (values >= high - within)) < _LEAST_ON_LEVELS:
        return None
    return np.full(values.size, (low + high) / 2), np.full(values.size, (high - low) / 2)


def _around(values: Floats, rate_hz: float) -> tuple[Floats, Floats]:
    """Return the middle between highs and lows around each sample, and half their distance."""
    block = min(max(1, int(rate_hz * _FINE_S)), values.size)
    whole = -(-values.size // block)
    padded = np.pad(values, (0, whole * block - values.size), mode="edge").reshape(whole, block)
    window = max(3, round(_WINDOW_S * rate_hz / block))
    high = scipy.ndimage.maximum_filter1d(padded.max(axis=1), window, mode="nearest")
    low = scipy.ndimage.minimum_filter1d(padded.min(axis=1), window, mode="nearest")
    at = np.arange(values.size) / block - 0.5
    blocks = np.arange(whole)
    return np.interp(at, blocks, (high + low) / 2), np.interp(at, blocks, (high - low) / 2)


def _quiet(noise: float, reach: Floats) -> float:
    """Return the noise, unless it is the teeth themselves that were taken for it."""
    return noise if noise < 0.1 * float(reach.max()) else 0.0


def _crossings(off: Floats, hysteresis: Floats) -> Floats:
    """Return where a signal rises through 0, having been low and going high, in samples."""
    state = np.zeros(off.size, dtype=np.int8)
    state[off > hysteresis] = 1
    state[off < -hysteresis] = -1
    told = np.flatnonzero(state)
    if told.size < 2:
        return np.empty(0)
    turned = np.flatnonzero((state[told[:-1]] == -1) & (state[told[1:]] == 1))
    found = [_zero_between(off, int(told[i]), int(told[i + 1])) for i in turned]
    return np.array(found, dtype=np.float64)


def _zero_between(off: Floats, first: int, last: int) -> float:
    """Return where a straight line through the samples between crosses 0."""
    part = off[first : last + 1]
    if part.size == 2:
        return first + float(part[0] / (part[0] - part[1]))
    above: NDArray[np.int64] = np.flatnonzero(part > 0)
    at = int(above[0])
    return first + at - 1 + float(part[at - 1] / (part[at - 1] - part[at]))
