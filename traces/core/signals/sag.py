"""Battery voltage while cranking, made into what the judgement of a starter current takes.

The battery's source resistance turns the starter's current into sag: rest voltage - voltage =
resistance x current. So the sag is the current's mirror image in a unit that nobody knows, and
the resistance is only assumed, so that what is known of starters beforehand keeps its range. No
ampere leaves this package. Reading compressions from the battery's voltage: US 4,126,037 and
US 5,663,493.
"""

from dataclasses import dataclass, replace

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing

from traces.core.crank import find_crank, levelled
from traces.core.setup import AnalysisSetup
from traces.core.signals.bits import replaced
from traces.core.waveform import Channel, Floats, Waveform, condition

SOURCE_OHM = 0.0065
"""A warm battery has 4 to 8 milliohm (from memory), leads and grounds some over."""

REST_V = 12.4
"""Six cells of lead-acid about three quarters charged (from memory); 24 V systems have twice."""

_HIGHEST_12_V = 17.0
_REST_HIGHEST = 1.05
"""Of `REST_V`: charged, with some surface charge left. Above that a charger or the running
engine holds the voltage up, which is no rest."""

_FINE_HZ = 1000.0
_LEAST_SAMPLES = 8
_SMOOTH_S = 0.12
_LEAST_BEFORE_S = 0.05
_NOT_BEFORE_S = 0.3
_LOOK_BACK_S = 0.4
_LOOK_AHEAD_S = 0.1
_EDGE_S = 0.02
_RUN_UP_S = 0.8
_LEAST_RIPPLE_S = 0.5
_LEAST_STEP = 0.25  # of the sag before it
_AFTER_S = 0.15
_CHARGING_V = 0.25
_UNIT_V = {"v": 1.0, "mv": 1e-3, "kv": 1e3}


@dataclass(frozen=True, slots=True)
class Ripple:
    """Standard deviation of the cranking voltage about its slow course.

    `of_sag` is its share of the mean sag, `of_voltage` of the mean voltage.
    """

    of_sag: float
    of_voltage: float


@dataclass(frozen=True, slots=True, eq=False)
class Sag:
    """A recording whose battery channel was turned into sag.

    Parameters
    ----------
    waveform
        The channel holds the sag over an assumed source resistance, cranking upwards.
    channel
        Name of that channel.
    per_volt
        Values of the turned channel for each volt of sag.
    baseline_v
        Voltage that counts as no sag at each sample, shape (samples,).
    rest_seen
        Whether the recording holds the rest before the crank; else it was assumed.
    ripple
        How much the voltage rises and falls while cranking; None where no crank was found.
    """

    waveform: Waveform
    channel: str
    per_volt: float
    baseline_v: Floats
    rest_seen: bool
    ripple: Ripple | None

    def baseline_at(self, time_s: float) -> float:
        """Return the voltage that counts as no sag at a time of the file."""
        at = round((time_s - self.waveform.t0_s) * self.waveform.rate_hz)
        return float(self.baseline_v[min(max(at, 0), self.baseline_v.size - 1)])


def volts_of(channel: Channel, setup: AnalysisSetup) -> Floats:
    """Return a channel in volts, shape (samples,); without a unit it is read as volts."""
    return channel.values.astype(np.float64) * volts_factor(channel, setup)


def volts_factor(channel: Channel, setup: AnalysisSetup) -> float:
    """Return the factor from a channel's values to volts."""
    if channel.unit is None and setup.full_scale_v is not None:
        return setup.full_scale_v
    return _UNIT_V.get((channel.unit or "v").casefold(), 1.0)


def sag_of(waveform: Waveform, channel: Channel, setup: AnalysisSetup) -> Sag:
    """Turn the battery's channel into sag.

    The battery's own voltage falls in the crank, because charge goes: where the rests
    before and after are recorded, no sag runs from one to the other.

    Parameters
    ----------
    waveform
        Holds `channel`.
    channel
        Battery voltage; gaps stay gaps.
    """
    waveform, channel = _finer(waveform, channel)
    volts = volts_of(channel, setup)
    nominal_v = REST_V if _middle(volts) < _HIGHEST_12_V else 2 * REST_V
    # a 24 V system has half the current and four times the resistance for the same power
    per_volt = (REST_V / nominal_v) ** 2 / SOURCE_OHM
    highest_v = _highest(volts, waveform.rate_hz)
    level_v = float(np.clip(highest_v, nominal_v, _REST_HIGHEST * nominal_v))
    baseline_v, rest_seen, ripple = _baseline(waveform, channel, setup, volts, level_v)
    with np.errstate(over="ignore"):  # no voltage is as high as that: a gap
        values = ((baseline_v - volts) * per_volt).astype(np.float32)
    turned = replaced(waveform, channel, Channel(channel.name, "A", values))
    return Sag(turned, channel.name, per_volt, baseline_v, rest_seen, ripple)


def unscaled(setup: AnalysisSetup) -> AnalysisSetup:
    """Return the set-up for the turned channel: its sign is known and no scale applies."""
    return replace(setup, invert=False, full_scale_v=None)


def _baseline(
    waveform: Waveform, channel: Channel, setup: AnalysisSetup, volts: Floats, level_v: float
) -> tuple[Floats, bool, Ripple | None]:
    """Return voltage without starter current, whether a rest before shows it, and the ripple."""
    flat = np.full(volts.size, level_v)
    if np.isfinite(volts).sum() < 2:
        return flat, False, None
    sag = Channel(channel.name, "A", (level_v - volts).astype(np.float32))
    conditioned = condition(replaced(waveform, channel, sag), sag, unscaled(setup))
    span = find_crank(conditioned)
    if span is None:
        return flat, False, None
    times_s = waveform.t0_s + np.arange(volts.size) / waveform.rate_hz
    smooth_v = level_v - conditioned.current_a
    first = conditioned.index_of(span.from_s)
    before_v = None
    if span.start_seen and span.from_s - waveform.t0_s >= _LEAST_BEFORE_S:
        rest_s = span.from_s - _LEAST_BEFORE_S / 2
        before_v = float(np.median(smooth_v[: conditioned.index_of(rest_s) + 1]))
    rest_v = level_v if before_v is None else before_v
    released = _release(smooth_v, conditioned.rate_hz, first, rest_v)
    last = conditioned.index_of(span.to_s) if released is None else released
    run_up_s = _RUN_UP_S if span.start_seen else _EDGE_S
    part = slice(
        first + round(run_up_s * conditioned.rate_hz), last - round(_EDGE_S * conditioned.rate_hz)
    )
    ripple = _ripple(smooth_v[part], conditioned.rate_hz, rest_v)
    if released is None:
        return np.full(volts.size, rest_v), before_v is not None, ripple
    at_s = float(conditioned.times_s[released])
    after_v = float(np.median(smooth_v[released:][: round(_AFTER_S * conditioned.rate_hz)]))
    if after_v > rest_v + _CHARGING_V:
        # a charger or the running engine holds it up: that is no rest
        held_v = np.where(times_s < at_s, rest_v, np.fmax(rest_v, volts))
        return held_v, before_v is not None, ripple
    begin_v = after_v if before_v is None else before_v
    falling_v = np.interp(times_s, (span.from_s, at_s), (begin_v, after_v))
    # the battery recovers for seconds after: that is no current
    resting_v = np.where(np.isfinite(volts), volts, after_v)
    return np.where(times_s < at_s, falling_v, resting_v), before_v is not None, ripple


def _ripple(cranking_v: Floats, rate_hz: float, rest_v: float) -> Ripple | None:
    """Measure the ripple of cranking, inrush and run-up left out."""
    if cranking_v.size < _LEAST_RIPPLE_S * rate_hz:
        return None
    spread_v, mean_v = float(np.std(levelled(cranking_v, rate_hz))), float(cranking_v.mean())
    return Ripple(spread_v / max(rest_v - mean_v, 1e-6), spread_v / max(mean_v, 1e-6))


def _release(smooth_v: Floats, rate_hz: float, first: int, rest_v: float) -> int | None:
    """Return where the starter is let go of, or None where the recording ends before.

    The voltage then steps up and stays above all that it was while cranking, although it comes
    back to where it was before only much later.
    """
    back, ahead = round(_LOOK_BACK_S * rate_hz), round(_LOOK_AHEAD_S * rate_hz)
    edge = round(_EDGE_S * rate_hz)
    begin = first + round(_NOT_BEFORE_S * rate_hz)
    lowest_after = np.minimum.accumulate(smooth_v[::-1])[::-1]
    best: tuple[float, int] | None = None
    for at in range(begin + back, smooth_v.size - ahead):
        pre = smooth_v[at - back : at - edge]
        top = float(pre.max())
        least = lowest_after[at + edge] - top
        if least < 0:
            continue
        step = float(smooth_v[at + edge : at + ahead].mean() - pre.mean())
        if step > _LEAST_STEP * (rest_v - float(pre.mean())) and (best is None or least > best[0]):
            best = float(least), at
    return None if best is None else best[1] + edge


def _finer(waveform: Waveform, channel: Channel) -> tuple[Waveform, Channel]:
    """Return a slow log on a finer grid: shared filters take out what lasts a few samples only.

    The battery's voltage runs on smoothly between samples; all other channels are held, because
    they may be states.
    """
    factor = int(np.ceil(_FINE_HZ / waveform.rate_hz))
    if factor < 2 or waveform.samples < _LEAST_SAMPLES:
        return waveform, channel
    at = np.arange((waveform.samples - 1) * factor + 1) / factor
    held = at.astype(np.int64)
    finite = np.flatnonzero(np.isfinite(channel.values))
    if finite.size < _LEAST_SAMPLES:
        return waveform, channel
    curve = scipy.interpolate.PchipInterpolator(finite, channel.values[finite].astype(np.float64))
    inside = np.clip(at, finite[0], finite[-1])
    fine = np.where(np.isfinite(channel.values[held]), curve(inside), np.nan)
    finer = replace(channel, values=fine.astype(np.float32), summary=None)
    channels = tuple(
        finer if c is channel else replace(c, values=c.values[held], summary=None)
        for c in waveform.channels
    )
    return replace(waveform, rate_hz=waveform.rate_hz * factor, channels=channels), finer


def _middle(volts: Floats) -> float:
    finite = volts[np.isfinite(volts)]
    return float(np.median(finite)) if finite.size else 0.0


def _highest(volts: Floats, rate_hz: float) -> float:
    """Return the highest level that lasts longer than the gap between two compressions."""
    finite = volts[np.isfinite(volts)]
    window = max(1, round(_SMOOTH_S * rate_hz))
    if finite.size < window:
        return _middle(volts)
    level = scipy.ndimage.uniform_filter1d(finite, window, mode="nearest")
    return float(np.quantile(level, 0.995))
