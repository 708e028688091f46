"""The clamp's channel as amps on a moderate, even grid."""

from dataclasses import dataclass

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing
from numpy.typing import NDArray

from traces.core.setup import AnalysisSetup
from traces.core.waveform import Channel, Waveform

GRID_HZ = 500.0
"""Grid of the conditioned current: over eight samples a hump with 12 cylinders at 300 rpm."""

CUT_OFF_HZ = 60.0
"""Low-pass: humps come at n x rpm / 120, 10 Hz for six cylinders at 200 rpm."""

_ENOUGH_HZ = 4000.0  # finer samples are averaged in blocks before filtering
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
    if unit in ("a", "ma"):
        return (1.0 if unit == "a" else 1e-3), True
    per_volt = 1000.0 / setup.mv_per_a
    if unit == "mv":
        return per_volt / 1000.0, True
    if unit == "v":
        return per_volt, True
    if setup.full_scale_v is not None:
        return per_volt * setup.full_scale_v, True
    return per_volt, False


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
    raw, missing_share, longest_gap_s = _filled(channel.values, waveform.rate_hz)
    raw, start_s, rate_hz = _in_blocks(raw * factor, waveform)
    inverted = _is_inverted(raw) if setup.invert is None else setup.invert
    if inverted:
        raw = -raw
    cut_off_hz = min(CUT_OFF_HZ, 0.4 * rate_hz)
    smooth = _low_passed(raw, rate_hz, cut_off_hz)
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
        missing_share=missing_share,
        longest_gap_s=longest_gap_s,
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
    raw, _, rate_hz = _in_blocks(_filled(channel.values, waveform.rate_hz)[0], waveform)
    return _on_grid(_low_passed(raw, rate_hz, conditioned.cut_off_hz), rate_hz)


def reversed_clamp(conditioned: Conditioned) -> bool:
    """Return whether the current, as the set-up signs it, runs the wrong way round."""
    return _is_inverted(conditioned.current_a)


def _is_inverted(current: Floats) -> bool:
    """Judge the sign by the bulk of the trace: cranking draws current for most of it.

    Where the crank is only a small part, the larger excursion from the resting level decides.
    """
    rest = float(np.median(current))
    low, high = (float(v) for v in np.quantile(current, (0.02, 0.98)))
    if abs(rest) > 0.25 * (high - low):
        return rest < 0
    return rest - low > high - rest


def _filled(values: NDArray[np.float32], rate_hz: float) -> tuple[Floats, float, float]:
    """Bridge gaps with straight lines; return share of samples missing and longest gap."""
    raw = values.astype(np.float64)
    missing = ~np.isfinite(raw)
    if not missing.any():
        return raw, 0.0, 0.0
    good = np.flatnonzero(~missing)
    inside = missing[good[0] : good[-1] + 1]
    edges = np.flatnonzero(np.diff(np.concatenate(([0], inside.view(np.int8), [0]))))
    longest = int((edges[1::2] - edges[::2]).max()) if edges.size else 0
    filled = np.interp(np.arange(raw.size), good, raw[good])
    return filled, float(inside.mean()), longest / rate_hz


def _in_blocks(raw: Floats, waveform: Waveform) -> tuple[Floats, float, float]:
    """Average fine samples in blocks and drop single wild ones; return start and rate too."""
    start_s, rate_hz = waveform.t0_s, waveform.rate_hz
    block = max(1, int(rate_hz // _ENOUGH_HZ))
    if block > 1 and raw.size >= 2 * block:
        whole = raw.size // block * block
        raw = raw[:whole].reshape(-1, block).mean(axis=1)
        start_s += (block - 1) / 2 / rate_hz
        rate_hz /= block
    return scipy.ndimage.median_filter(raw, _DESPIKE_SAMPLES, mode="mirror"), start_s, rate_hz


def _low_passed(raw: Floats, rate_hz: float, cut_off_hz: float) -> Floats:
    if raw.size <= 6 * _ORDER:
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
