"""The inrush of the starter: its peak, when, and how sure the recorder saw it."""

from dataclasses import dataclass

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing

from shopdiag.people.core.words import NOTHING, Text, say
from traces.core.waveform import Channel, Floats, Waveform

INRUSH_S = 0.35
"""Inrush and first run-up from a cold stop; the inrush is over sooner."""

FAST_ENOUGH_HZ = 1000.0
"""The current rises with a time constant of 3 to 10 ms (from memory): some samples each."""

_BEFORE_S = 0.05
_ENOUGH_HZ = 4000.0
_DESPIKE_HZ = 2000.0
_SMOOTH_S = 0.001
_START_SHARE = 0.2
_BAND_SHARE = 0.01
_NOISE_TIMES = 6.0
_FLAT_RATIO = 5.0  # a parabola's top band holds 2.4 times as many samples as the next
_FLAT_S = 0.002
_FLAT_SAMPLES = 4


@dataclass(frozen=True, slots=True, eq=False)
class Slice:
    """A channel around the start, averaged over at most a quarter of a millisecond.

    Parameters
    ----------
    t0_s, rate_hz
        Its grid, in the file's own time.
    values
        Shape (samples,), in the channel's unit times the factor asked for; gaps bridged.
    flat_top
        Whether the largest native values lie on one level, as where a recorder cuts off.
    flat_bottom
        The same of the smallest.
    """

    t0_s: float
    rate_hz: float
    values: Floats
    flat_top: bool
    flat_bottom: bool

    @property
    def times_s(self) -> Floats:
        """Time of each value, in the file's own time."""
        return self.t0_s + np.arange(self.values.size) / self.rate_hz


def start_slice(
    waveform: Waveform, channel: Channel, factor: float, start_s: float
) -> Slice | None:
    """Cut out the inrush, with a little rest before it.

    Parameters
    ----------
    factor
        From the channel's values to amps or volts, with the sign that makes cranking positive.
    start_s
        When the crank begins, roughly.

    Returns
    -------
    Slice or None
        None where hardly a sample lies there.
    """
    rate_hz = waveform.rate_hz
    first = max(0, round((start_s - _BEFORE_S - waveform.t0_s) * rate_hz))
    last = min(waveform.samples, round((start_s + INRUSH_S - waveform.t0_s) * rate_hz) + 1)
    raw = channel.values[first:last].astype(np.float64) * factor
    good = np.flatnonzero(np.isfinite(raw))
    if good.size < 8:
        return None
    raw = np.interp(np.arange(raw.size), good, raw[good])
    flat_top, flat_bottom = (_is_flat(v, rate_hz) for v in (raw, -raw))
    t0_s = waveform.t0_s + first / rate_hz
    block = max(1, int(rate_hz // _ENOUGH_HZ))
    if block > 1:
        raw = raw[: raw.size // block * block].reshape(-1, block).mean(axis=1)
        t0_s += (block - 1) / 2 / rate_hz
        rate_hz /= block
    if rate_hz >= _DESPIKE_HZ:
        # one wild sample is no peak; at slower rates the peak itself may be one sample
        raw = scipy.ndimage.median_filter(raw, 3, mode="nearest")
    width = max(1, round(_SMOOTH_S * rate_hz))
    return Slice(t0_s, rate_hz, scipy.ndimage.uniform_filter1d(raw, width), flat_top, flat_bottom)


def why_lower(cut: Slice, rate_hz: float) -> Text:
    """Return why the true minimum of a voltage is lower than the one recorded; nothing else.

    Parameters
    ----------
    rate_hz
        Of the recording itself.
    """
    if cut.flat_bottom:
        return say("The true minimum is lower: the recording is cut off at it; use a larger range.")
    if rate_hz < FAST_ENOUGH_HZ:
        return say(
            "The true minimum is lower: {rate_hz} samples a second are too few for "
            "it; record at {fast_enough_hz} or more.",
            rate_hz=f"{rate_hz:.4g}",
            fast_enough_hz=f"{FAST_ENOUGH_HZ:.0f}",
        )
    return NOTHING


@dataclass(frozen=True, slots=True)
class Inrush:
    """Peak of the inrush in amps above rest, when it stands, and when the current begins."""

    peak_a: float
    at_s: float
    start_s: float
    cut_off: bool


def find_inrush(cut: Slice, zero_a: float) -> Inrush:
    """Find the inrush.

    Parameters
    ----------
    cut
        In amps, cranking positive.
    zero_a
        What the clamp reads at rest.
    """
    above = cut.values - zero_a
    top = int(np.argmax(above))
    peak_a = float(above[top])
    # back from the peak to where the current still stood near rest
    under = np.flatnonzero(above[: top + 1] < _START_SHARE * peak_a)
    begin = int(under[-1]) + 1 if under.size else 0
    times_s = cut.times_s
    return Inrush(peak_a, float(times_s[top]), float(times_s[begin]), cut.flat_top)


def _is_flat(values: Floats, rate_hz: float) -> bool:
    """Return whether the largest values lie on one level for longer than a round top does."""
    top = float(values.max())
    swing = top - float(np.median(values))
    if swing <= 0:
        return False
    levels = np.unique(values)
    step = float(np.diff(levels).min()) if levels.size > 1 else 0.0
    noise = 1.4826 / np.sqrt(2) * float(np.median(np.abs(np.diff(values))))
    band = max(_BAND_SHARE * swing, 1.01 * step, _NOISE_TIMES * noise)
    at_top = int(np.count_nonzero(values > top - band))
    next_level = int(np.count_nonzero((values <= top - band) & (values > top - 2 * band)))
    long = at_top >= max(_FLAT_SAMPLES, _FLAT_S * rate_hz)
    return long and at_top > _FLAT_RATIO * max(next_level, 1)
