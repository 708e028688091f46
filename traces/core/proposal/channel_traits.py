"""What one channel looks like by its samples alone: no name, no unit and no place is trusted."""

from dataclasses import dataclass, replace

import numpy as np

from engines.core.firing import FiringOrder
from traces.core.crank import CrankSpan, find_crank, levelled
from traces.core.setup import AnalysisSetup
from traces.core.sync import Pulses, find_pulses
from traces.core.waveform import Channel, Conditioned, Floats, Waveform, condition

_PLAIN = AnalysisSetup(
    firing_order=FiringOrder.even((1, 3, 4, 2)), current_channel="1", mv_per_a=1000.0
)
"""1 V/A, so that a channel keeps its volts; the engine plays no part before the rhythm."""

_LEAST_SAMPLES = 64
_LEAST_CRANK_S = 0.6
_RUN_UP_S = 0.15  # after inrush and run-up, before humps are counted
_HUMPS_HZ = (2.0, 60.0)
"""One cylinder at 120 rpm to twelve at 300 rpm, and slack."""

_SPECTRUM_POINTS = 8192
_RISES_WITHIN_S = 0.0015
_ENOUGH_SAMPLES = 20_000


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """The slow course of a channel, as far as it shows a crank.

    Parameters
    ----------
    conditioned, span
        In volts (amperes where the file says so); the crank's side is up.
    swing
        From the 5th to the 95th percentile of the settled part.
    hump_hz
        How often it rises and falls there most clearly.
    tone
        Share of what happens at that line and its multiples, 0 to 1.
    """

    conditioned: Conditioned
    span: CrankSpan
    swing: float
    hump_hz: float
    tone: float

    @property
    def rest(self) -> float | None:
        """The level at rest in the channel's own sign."""
        rest = self.span.rest_a
        if rest is None:
            return None
        return -rest if self.conditioned.inverted else rest

    @property
    def level(self) -> float:
        """Median of the crank in the channel's own sign, from zero."""
        level = self.span.level_a + (self.span.rest_a or 0.0)
        return -level if self.conditioned.inverted else level


def course_of(waveform: Waveform, channel: Channel) -> Course | None:
    """Return a channel's course over a crank; None where it shows nothing like one."""
    if not channel.holds(_LEAST_SAMPLES) or channel.is_flat():
        return None
    setup = replace(_PLAIN, full_scale_v=1.0)
    conditioned = condition(waveform, channel, setup)
    if conditioned.current_a.size < _LEAST_SAMPLES:
        return None
    span = find_crank(conditioned)
    if span is None or span.to_s - span.from_s < _LEAST_CRANK_S:
        return None
    first = conditioned.index_of(span.settled_from_s + _RUN_UP_S)
    last = conditioned.index_of(span.to_s)
    part = conditioned.current_a[first : last + 1]
    if part.size < _LEAST_SAMPLES:
        return None
    low, high = (float(v) for v in np.quantile(part, (0.05, 0.95)))
    hump_hz, tone = _tone(part, conditioned.rate_hz)
    return Course(conditioned, span, high - low, hump_hz, tone)


def _tone(part: Floats, rate_hz: float) -> tuple[float, float]:
    """Return the clearest line of a stretch, and its share of all power with its multiples."""
    level = levelled(part, rate_hz)
    power = np.abs(np.fft.rfft(level * np.hanning(level.size), _SPECTRUM_POINTS)) ** 2
    often_hz = np.fft.rfftfreq(_SPECTRUM_POINTS, 1 / rate_hz)
    band = (often_hz >= _HUMPS_HZ[0]) & (often_hz <= _HUMPS_HZ[1])
    if not power[band].any():
        return 0.0, 0.0
    best_hz = float(often_hz[band][int(np.argmax(power[band]))])
    # a window's width of the stretch: lines are no sharper than that
    width_hz = 2.5 * rate_hz / part.size + 0.04 * best_hz
    near = np.abs(often_hz / best_hz - np.maximum(np.rint(often_hz / best_hz), 1)) * best_hz
    return best_hz, float(power[band & (near < width_hz)].sum() / power[band].sum())


@dataclass(frozen=True, slots=True, eq=False)
class Train:
    """Pulses of a channel while the engine cranks.

    Parameters
    ----------
    pulses
        All that stand out.
    strong_s
        Times of those that are no neighbours heard from afar.
    apart_s
        Median time between strong ones.
    steadiness
        Median deviation of those times from their median, as a share of it.
    share
        Of the crank's time: how long the channel is away from rest.
    sharp
        How much of a pulse's height is reached within 1.5 ms or one sample.
    lasts_s
        How long a strong pulse lasts, median.
    """

    pulses: Pulses
    strong_s: Floats
    apart_s: float
    steadiness: float
    share: float
    sharp: float
    lasts_s: float


_STRONG = 0.45
"""Of a usual height: neighbours leak in at 10 to 30 % (from the trial's recordings)."""

_HIGHEST = 4


def train_of(waveform: Waveform, channel: Channel, from_s: float, to_s: float) -> Train | None:
    """Return the pulses of a channel in a stretch; None where there are fewer than three."""
    if not channel.holds(_LEAST_SAMPLES) or channel.is_flat():
        return None
    pulses = find_pulses(waveform, channel, from_s, to_s)
    if pulses.times_s.size < 3:
        return None
    # a noisy channel shows hundreds of low ones; a few of the highest say how high a pulse is
    usual = float(np.sort(pulses.heights)[-_HIGHEST:][0])
    strong_s = pulses.times_s[pulses.heights > _STRONG * usual]
    if strong_s.size < 3:
        return None
    gaps_s = np.diff(strong_s)
    apart_s = float(np.median(gaps_s))
    first = max(0, int((from_s - waveform.t0_s) * waveform.rate_hz))
    last = min(waveform.samples, int((to_s - waveform.t0_s) * waveform.rate_hz) + 1)
    some = channel.sampled(_ENOUGH_SAMPLES, first=first, last=last).astype(np.float64)
    some = some[np.isfinite(some)]
    rest = _rest(some, pulses)
    away = float(np.mean(np.abs(some - rest) > 0.5 * usual))
    sharp, lasts_s = _shape(waveform, channel, strong_s, rest, usual)
    return Train(
        pulses,
        strong_s,
        apart_s,
        float(np.median(np.abs(gaps_s - apart_s))) / apart_s,
        away,
        sharp,
        lasts_s,
    )


def _rest(some: Floats, pulses: Pulses) -> float:
    if pulses.high_share is not None:
        low, high = (float(v) for v in np.quantile(some, (0.02, 0.98)))
        return high if pulses.high_share > 0.65 else low
    return float(np.median(some))


def _shape(
    waveform: Waveform, channel: Channel, strong_s: Floats, rest: float, usual: float
) -> tuple[float, float]:
    """Return how steeply strong pulses rise, and how long they last."""
    rate_hz = waveform.rate_hz
    lag = max(1, round(_RISES_WITHIN_S * rate_hz))
    look = max(2 * lag, round(0.003 * rate_hz))
    most = round(0.25 * rate_hz)
    steep, lasts = [], []
    for at_s in strong_s[:24]:
        at = round((at_s - waveform.t0_s) * rate_hz)
        begin = max(0, at - look)
        values = np.asarray(channel.values[begin : at + most], dtype=np.float64)
        swing = np.abs(np.nan_to_num(values - rest))
        head = swing[: 2 * look + lag]
        if head.size > lag:
            steep.append(float(np.max(np.abs(head[lag:] - head[:-lag]))) / usual)
        on = np.flatnonzero(swing[at - begin :] > 0.3 * usual)
        if on.size:
            breaks = np.flatnonzero(np.diff(on) > max(1.0, 0.004 * rate_hz))
            end = on[breaks[0]] if breaks.size else on[-1]
            lasts.append((int(end) + 1) / rate_hz)
    if not steep or not lasts:
        return 0.0, 0.0
    return float(np.median(steep)), float(np.median(lasts))
