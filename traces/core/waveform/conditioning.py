"""The clamp's channel as amps on a moderate, even grid."""

from dataclasses import dataclass, replace

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing
from numpy.typing import NDArray

from traces.core.setup import AnalysisSetup, SpanS
from traces.core.waveform.rest import find_rest
from traces.core.waveform.summaries import MEAN_BLOCK, Summary
from traces.core.waveform.waveform import Channel, Waveform

GRID_HZ = 500.0
"""Grid of the conditioned current: over eight samples a hump with 12 cylinders at 300 rpm."""

LEAST_CRANK_S = 1.0
"""So long at least a crank lasts, however long the rest beside it in the recording."""

CUT_OFF_HZ = 60.0
"""Low-pass: humps come at n x rpm / 120, 10 Hz for six cylinders at 200 rpm."""

_ENOUGH_HZ = 4000.0  # finer samples are averaged in blocks before filtering
_PART = 1 << 18
_ORDER = 4
_DESPIKE_SAMPLES = 5

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Conditioned:
    """Clamp current in amps, low-passed without delay, cranking positive.

    Parameters
    ----------
    t0_s, rate_hz
        The grid, in the file's own time.
    current_a
        Shape (samples,), read-only. The clamp's offset is still in it.
    inverted
        Whether the sign was turned.
    amps_known
        Whether volts and the clamp's scale were both known; else only the shape counts.
    cut_off_hz
        Of the zero-phase low-pass.
    noise_a
        Standard deviation of what the low-pass took away, by median absolute deviation.
    peak_a
        Largest current before the low-pass: the inrush where the file holds it.
    missing_share, longest_gap_s
        Samples the file does not have, and the longest hole.
    """

    t0_s: float
    rate_hz: float
    current_a: Floats
    inverted: bool
    amps_known: bool
    cut_off_hz: float
    noise_a: float
    peak_a: float
    missing_share: float = 0.0
    longest_gap_s: float = 0.0

    def __post_init__(self) -> None:
        self.current_a.setflags(write=False)

    @property
    def times_s(self) -> Floats:
        """Time of each sample, in the file's own time."""
        return self.t0_s + np.arange(self.current_a.size) / self.rate_hz

    @property
    def end_s(self) -> float:
        """Time of the last sample."""
        return self.t0_s + (self.current_a.size - 1) / self.rate_hz

    def index_of(self, time_s: float) -> int:
        """Return the sample nearest to `time_s`, inside the recording."""
        at = round((time_s - self.t0_s) * self.rate_hz)
        return min(max(at, 0), self.current_a.size - 1)


def amps_per_unit(channel: Channel, setup: AnalysisSetup) -> tuple[float, bool]:
    """Return the factor from the channel's values to amps, and whether it is known.

    10 mV/A makes 1 V = 100 A (common practice). A channel that is in amps already keeps its
    figures; one without a unit and without volts at full scale is read as volts.
    """
    unit = (channel.unit or "").casefold()
    if gives_amps(channel):
        return (1.0 if unit == "a" else 1e-3), True
    per_volt = 1000.0 / setup.mv_per_a
    if unit == "mv":
        return per_volt / 1000.0, True
    if unit == "v":
        return per_volt, True
    if setup.full_scale_v is not None:
        return per_volt * setup.full_scale_v, True
    return per_volt, False


def gives_amps(channel: Channel) -> bool:
    """Return whether the file itself says amps, so that no scale was entered for them."""
    return (channel.unit or "").casefold() in ("a", "ma")


def condition(waveform: Waveform, channel: Channel, setup: AnalysisSetup) -> Conditioned:
    """Turn the clamp's channel into conditioned current.

    Parameters
    ----------
    waveform
        For the time base.
    channel
        The clamp's; needs at least two finite samples.
    setup
        For scale and sign.
    """
    factor, amps_known = amps_per_unit(channel, setup)
    track = _track(waveform, channel)
    raw, start_s, rate_hz = factor * track.values, track.t0_s, track.rate_hz
    cut_off_hz = min(CUT_OFF_HZ, 0.4 * rate_hz)
    smooth = _low_passed(raw, rate_hz, cut_off_hz)
    inverted = _is_inverted(raw, smooth, rate_hz) if setup.invert is None else setup.invert
    if inverted:
        raw, smooth = -raw, -smooth
    noise_a = float(1.4826 * np.median(np.abs(raw - smooth)))
    return Conditioned(
        t0_s=start_s,
        rate_hz=GRID_HZ,
        current_a=_on_grid(smooth, rate_hz),
        inverted=inverted,
        amps_known=amps_known,
        cut_off_hz=cut_off_hz,
        noise_a=noise_a,
        peak_a=float(raw.max()),
        missing_share=track.missing_share,
        longest_gap_s=track.longest_gap_s,
    )


def gaps_within(
    conditioned: Conditioned, waveform: Waveform, channel: Channel, span_s: SpanS
) -> Conditioned:
    """Return the same current with the gaps of one stretch alone, those over its ends in whole.

    What is missing elsewhere was bridged there, and no figure of the stretch is made of it.
    """
    first, last = (round((t - waveform.t0_s) * waveform.rate_hz) for t in span_s)
    gaps, known = _Gaps(), np.ones(1, dtype=np.bool_)
    gaps.add(known)
    for part in channel.blocks(first=max(first, 0), last=max(last + 1, 0)):
        gaps.add(np.isfinite(part))
    gaps.add(known)
    return replace(
        conditioned,
        missing_share=gaps.share,
        longest_gap_s=gaps.longest / waveform.rate_hz,
    )


def beside(conditioned: Conditioned, waveform: Waveform, channel: Channel) -> Floats:
    """Return another channel under the same low-pass and on the same grid as the current.

    Both are then delayed and blunted alike, so that one may be held against the other.

    Parameters
    ----------
    conditioned
        Of the same recording.
    channel
        Needs at least two finite samples.

    Returns
    -------
    Floats
        In the channel's own unit, shape of `conditioned.current_a`.
    """
    track = _track(waveform, channel)
    return _on_grid(_low_passed(track.values, track.rate_hz, conditioned.cut_off_hz), track.rate_hz)


def reversed_clamp(conditioned: Conditioned) -> bool:
    """Return whether the current, as the set-up signs it, runs the wrong way round."""
    current_a = conditioned.current_a
    return _is_inverted(current_a, current_a, conditioned.rate_hz)


def _is_inverted(current: Floats, smooth: Floats, rate_hz: float) -> bool:
    """Judge the sign by the side of the rest on which the crank lies.

    Where there is no rest, the bulk of the trace decides: cranking draws current for most of it.
    Where the crank is only a small part, it is the larger excursion from the resting level.
    """
    beside = find_rest(smooth, rate_hz)
    if beside is not None:
        return beside.is_inverted
    rest = float(np.median(current))
    # of a long recording, what lasts a second and more counts
    share = min(0.02, LEAST_CRANK_S * rate_hz / current.size)
    low, high = (float(v) for v in np.quantile(current, (share, 1 - share)))
    if abs(rest) > 0.25 * (high - low):
        return rest < 0
    return rest - low > high - rest


@dataclass(frozen=True, slots=True, eq=False)
class _Track:
    """A channel at a moderate rate, gaps bridged, single wild samples dropped."""

    values: Floats
    t0_s: float
    rate_hz: float
    missing_share: float
    longest_gap_s: float


def _track(waveform: Waveform, channel: Channel) -> _Track:
    """Average fine samples in blocks, from the track made while reading where that will do."""
    block = max(1, int(waveform.rate_hz // _ENOUGH_HZ))
    if block >= MEAN_BLOCK:
        block -= block % MEAN_BLOCK
    if channel.values.size < 2 * block:
        block = 1
    gaps = _Gaps()
    summary = channel.summary
    if summary is not None and block >= MEAN_BLOCK and _is_track(summary):
        many = block // MEAN_BLOCK
        whole = summary.means[: summary.means.size // many * many].reshape(-1, many)
        values = whole.mean(axis=1, dtype=np.float64)
    else:
        values = _means(channel, block, gaps)
    missing = np.isnan(values)
    if missing.any():
        good = np.flatnonzero(~missing)
        values = np.interp(np.arange(values.size), good, values[good])
    return _Track(
        values=scipy.ndimage.median_filter(values, _DESPIKE_SAMPLES, mode="mirror"),
        t0_s=waveform.t0_s + (block - 1) / 2 / waveform.rate_hz,
        rate_hz=waveform.rate_hz / block,
        missing_share=gaps.share,
        longest_gap_s=gaps.longest / waveform.rate_hz,
    )


def _is_track(summary: Summary) -> bool:
    """Return whether means tell all: no gaps, and no sum of 64 too large for its 32 bits."""
    return not summary.missing and bool(np.isfinite(summary.means).all())


def _means(channel: Channel, block: int, gaps: "_Gaps") -> Floats:
    """Average all samples, in one pass that needs memory for the averages alone."""
    means = []
    for part in channel.blocks(block * max(1, _PART // block)):
        raw = part[: part.size // block * block].astype(np.float64).reshape(-1, block)
        if gaps.add(np.isfinite(part)):
            known = np.isfinite(raw)
            count = known.sum(axis=1)
            total = np.where(known, raw, 0.0).sum(axis=1)
            means.append(np.divide(total, count, out=np.full(count.size, np.nan), where=count > 0))
        else:
            means.append(raw.mean(axis=1))
    return np.concatenate(means)


class _Gaps:
    """How much is missing between the first sample and the last, and the longest hole."""

    def __init__(self) -> None:
        self.longest = 0
        self._missing = 0
        self._at = self._first = self._next = 0  # samples so far; first known; after the last
        self._known = False

    def add(self, known: NDArray[np.bool_]) -> bool:
        """Take which of the next samples are known; return whether some are not."""
        some_missing = not known.all()
        at = np.flatnonzero(known) if some_missing else np.array([0, known.size - 1])
        if at.size:
            before = self._at + int(at[0]) - self._next if self._known else 0
            holes = np.diff(at) - 1 if some_missing else np.zeros(0, dtype=np.int64)
            self._missing += before + int(holes.sum())
            self.longest = max(self.longest, before, int(holes.max(initial=0)))
            self._first = self._first if self._known else self._at + int(at[0])
            self._next = self._at + int(at[-1]) + 1
            self._known = True
        self._at += known.size
        return some_missing

    @property
    def share(self) -> float:
        """Missing over all, from the first known sample to the last."""
        return self._missing / max(1, self._next - self._first)


def _low_passed(raw: Floats, rate_hz: float, cut_off_hz: float) -> Floats:
    # shorter than one period of the cut-off there is nothing to part, and no filter to be made
    if raw.size <= 6 * _ORDER or raw.size * cut_off_hz < rate_hz:
        return raw
    sections = scipy.signal.butter(_ORDER, cut_off_hz, fs=rate_hz, output="sos")
    # even mirroring: an odd one would swing far out where the capture starts in mid-crank
    return np.asarray(scipy.signal.sosfiltfilt(sections, raw, padtype="even"), dtype=np.float64)


def _on_grid(smooth: Floats, rate_hz: float) -> Floats:
    if smooth.size < 4:
        return smooth
    times_s = np.arange(smooth.size) / rate_hz
    grid_s = np.arange(int(times_s[-1] * GRID_HZ) + 1) / GRID_HZ
    curve = scipy.interpolate.make_interp_spline(times_s, smooth, k=3)
    return np.asarray(curve(grid_s), dtype=np.float64)
