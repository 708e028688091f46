"""What a log or an oscilloscope shows of the battery while cranking.

The battery of a crank holds EMF, resistance and a slow part (see `drive_a`, `drive_b`). Added
here is what stands between its posts and the samples: surface charge that the first discharge
takes away, the steady draw of control units over the lead they share with the sense wire, noise,
and the converter. There is no alternator: it stands still or charges nothing at these speeds.
"""

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from traces.core.compression import Array
from traces.core.waveform import Channel
from traces.simulator.instrument import converted
from traces.simulator.scenario import Scenario
from traces.simulator.track import Track

_STREAM = 5
"""Beside the streams of clamp, sync and battery channel, whose draws stay as they are."""


@dataclass(frozen=True, slots=True)
class VoltageLog:
    """How the battery's voltage is recorded.

    Parameters
    ----------
    rate_hz
        Samples a second.
    bits, range_v
        Converter from 0 to `range_v`; a control unit has 10 bits over some 20 V.
    noise_v
        Standard deviation of the noise.
    surface_v, surface_s
        Surface charge at rest, and the time constant with which cranking takes it away.
    lead_ohm
        Of the lead that the sense wire shares with the starter's current.
    low_pass_hz
        First-order corner of the input.
    """

    rate_hz: float = 1000.0
    bits: int = 10
    range_v: float = 20.0
    noise_v: float = 0.02
    surface_v: float = 0.2
    surface_s: float = 0.4
    lead_ohm: float = 0.0
    low_pass_hz: float = 500.0


def draw_log(seed: int) -> VoltageLog:
    """Return how a seed's voltage is recorded: a control unit's log, or a bench recorder."""
    rng = np.random.default_rng([seed, 200 + _STREAM])
    bench = rng.random() < 0.4
    return VoltageLog(
        rate_hz=float(rng.choice([2_000, 5_000, 20_000] if bench else [100, 200, 500, 1_000])),
        bits=int(rng.choice([8, 12, 12]) if bench else 10),
        range_v=float(rng.choice([16.0, 20.0]) if bench else rng.uniform(16, 25)),
        noise_v=float(np.exp(rng.uniform(np.log(0.005), np.log(0.04)))),
        surface_v=float(rng.uniform(0.0, 0.5)),
        surface_s=float(rng.uniform(0.1, 1.0)),
        lead_ohm=float(rng.uniform(0.0, 0.001)),
        low_pass_hz=float(np.exp(rng.uniform(np.log(100), np.log(2_000)))),
    )


def log_voltage(scenario: Scenario, track: Track, log: VoltageLog) -> Channel:
    """Return the battery channel, in volts, on the log's own time grid.

    Parameters
    ----------
    scenario
        Its seed fixes the noise; its clamp and rate do not matter.
    track
        The crank's course.
    """
    rng = np.random.default_rng([scenario.seed, _STREAM])
    time_s = sample_times_s(scenario, log.rate_hz)
    at_post = track.battery_v - log.lead_ohm * track.cable_a
    key_s = scenario.before_s
    surface = log.surface_v * np.exp(-np.maximum(track.time_s - key_s, 0) / log.surface_s)
    seen = _low_passed(at_post + surface, track.step_s, log.low_pass_hz)
    volts = np.interp(time_s, track.time_s, seen) + rng.normal(0, log.noise_v, time_s.size)
    return Channel("battery", "V", _unsigned(volts, log).astype(np.float32))


def sample_times_s(scenario: Scenario, rate_hz: float) -> Array:
    """Return times of a log from the recording's start, shape (samples,)."""
    return np.arange(int(scenario.duration_s * rate_hz)) / rate_hz


def _low_passed(volts: Array, step_s: float, corner_hz: float) -> Array:
    keep = float(np.exp(-2 * np.pi * corner_hz * step_s))
    passed, _ = lfilter([1 - keep], [1, -keep], volts, zi=[keep * volts[0]])
    return np.asarray(passed, dtype=np.float64)


def _unsigned(volts: Array, log: VoltageLog) -> Array:
    """Return the converter's steps from 0 to the range."""
    half = log.range_v / 2
    return converted(np.clip(volts, 0, log.range_v) - half, log.bits, half) + half
