"""What a clamp and its recorder make of the current in a cable."""

import numpy as np
from scipy.signal import lfilter

from traces.core.compression import Array
from traces.simulator.electrics import StarterModel
from traces.simulator.recorder import Clamp, Flaws
from traces.simulator.scenario import Scenario
from traces.simulator.track import Track

_WARMING_S = 3.0
_HUM_HZ = 50.0
_HUM_SHARE = 0.4
_NOISE_MEMORY = 0.6
_SPARK_DEG = -7.0
_SPARK_HZ = 700.0
_SPARK_DECAY_S = 1.2e-3


def clamp_volts(scenario: Scenario, track: Track, rng: np.random.Generator) -> Array:
    """Return the clamp channel in volts, shape (samples,), for one engine's crank."""
    time_s = sample_times_s(scenario)
    amps = _seen_a(scenario, track, time_s)
    clamp = scenario.clamp
    amps += clamp.offset_a + clamp.drift_a_per_s * time_s
    amps += clamp.drift_settle_a * (1 - np.exp(-time_s / _WARMING_S))
    amps = _saturated(amps, clamp)
    volts = amps * (clamp.mv_per_a / 1000) * (-1 if clamp.inverted else 1)
    volts += _noise_v(scenario, time_s, rng)
    volts += _struck_v(scenario, track, time_s)
    return converted(volts, clamp.bits, clamp.range_v)


def battery_volts(scenario: Scenario, track: Track, rng: np.random.Generator) -> Array:
    """Return the voltage at the battery's posts as a 12-bit, 20 V input reads it."""
    volts = np.interp(sample_times_s(scenario), track.time_s, track.battery_v)
    return converted(volts + rng.normal(0, 0.01, volts.size), 12, 20.0)


def sample_times_s(scenario: Scenario) -> Array:
    """Return the time of each sample from the recording's start, shape (samples,)."""
    return np.arange(int(scenario.duration_s * scenario.rate_hz)) / scenario.rate_hz


def converted(volts: Array, bits: int, range_v: float) -> Array:
    """Return `volts` in the steps of a converter from -range_v to +range_v."""
    step_v = 2 * range_v / 2**bits
    codes = np.clip(np.round(volts / step_v), -(2 ** (bits - 1)), 2 ** (bits - 1) - 1)
    stepped: Array = codes * step_v
    return stepped


def _seen_a(scenario: Scenario, track: Track, time_s: Array) -> Array:
    """Return the current through the clamp's jaws."""
    flaws = scenario.flaws
    if flaws.no_signal:
        return np.zeros(time_s.size)
    slow = _lagged(track.cable_a, track.time_s, scenario.clamp)
    slow = _with_hysteresis(slow, scenario.clamp.hysteresis_a)
    amps = np.interp(time_s, track.time_s, slow) if flaws.cable_share else np.zeros(time_s.size)
    amps += _commutator_a(scenario.starter, scenario.clamp, track, time_s)
    amps = amps * flaws.cable_share + flaws.other_cable_a
    return amps + _loads_a(flaws, time_s)


def _lagged(amps: Array, time_s: Array, clamp: Clamp) -> Array:
    """Pass the track's current through the clamp's first-order lag, where that is felt."""
    step_s = float(time_s[1] - time_s[0])
    keep = float(np.exp(-2 * np.pi * clamp.bandwidth_hz * step_s))
    if keep < 0.02:
        return amps
    lagged, _ = lfilter([1 - keep], [1, -keep], amps, zi=[keep * amps[0]])
    return np.asarray(lagged, dtype=np.float64)


def _with_hysteresis(amps: Array, half_width_a: float) -> Array:
    """Let what is shown lag behind by `half_width_a` whichever way the current goes (play)."""
    if not half_width_a:
        return amps
    shown, played = 0.0, []
    for value in amps.tolist():
        shown = min(max(shown, value - half_width_a), value + half_width_a)
        played.append(shown)
    return np.array(played)


def _commutator_a(starter: StarterModel, clamp: Clamp, track: Track, time_s: Array) -> Array:
    """Return the ripple of the commutator, weakened by the clamp's lag.

    With an odd number of bars brushes of both signs commutate in turn: two ripples a bar.
    """
    per_turn = starter.commutator_bars * (2 if starter.commutator_bars % 2 else 1)
    armature = np.interp(time_s, track.time_s, track.starter_rad) * starter.gear_ratio
    speed = np.interp(time_s, track.time_s, track.starter_rad_s) * starter.gear_ratio
    height = np.interp(time_s, track.time_s, track.motor_a) * starter.ripple_share
    ripple = np.zeros(time_s.size)
    for periods, share in ((per_turn, 1.0), (1, 0.3)):
        ratio = periods * speed / (2 * np.pi * clamp.bandwidth_hz)
        ripple += share * np.cos(periods * armature) / np.sqrt(1 + ratio**2)
    result: Array = ripple * height
    return result


def _loads_a(flaws: Flaws, time_s: Array) -> Array:
    amps = np.zeros(time_s.size)
    for load in flaws.load_steps:
        since = time_s - load.from_s
        on = (since >= 0) & (time_s < load.to_s)
        # a motor or a lamp draws more for a moment when it is switched on
        amps += load.amps * on * (1 + 1.2 * np.exp(-np.maximum(since, 0) / 0.04))
    return amps


def _saturated(amps: Array, clamp: Clamp) -> Array:
    if not np.isfinite(clamp.clip_a):
        return amps
    if clamp.soft_clip:
        bent: Array = amps / (1 + np.abs(amps / clamp.clip_a) ** 6) ** (1 / 6)
        return bent
    return np.clip(amps, -clamp.clip_a, clamp.clip_a)


def _struck_v(scenario: Scenario, track: Track, time_s: Array) -> Array:
    """Return what the sparks of all cylinders strike into the cable; nothing if they do not."""
    struck = np.zeros(time_s.size)
    if not scenario.clamp.spark_v:
        return struck
    order = scenario.engine.firing_order
    for number in order.sequence:
        first_rad = np.deg2rad(order.angle_of(number) + _SPARK_DEG)
        cycles = np.arange(int(np.ptp(track.angle_rad) / (4 * np.pi)) + 2)
        times = track.time_at(first_rad + 4 * np.pi * cycles)
        for at_s in times[np.isfinite(times)]:
            since = time_s - at_s
            near = (since >= 0) & (since < 8 * _SPARK_DECAY_S)
            rings = np.cos(2 * np.pi * _SPARK_HZ * since[near])
            struck[near] += scenario.clamp.spark_v * np.exp(-since[near] / _SPARK_DECAY_S) * rings
    return struck


def _noise_v(scenario: Scenario, time_s: Array, rng: np.random.Generator) -> Array:
    """White noise in family a; in b noise with a memory, and mains hum."""
    noise = rng.normal(0, scenario.clamp.noise_v, time_s.size)
    if scenario.family == "a":
        return noise
    coloured = np.asarray(lfilter([1.0], [1.0, -_NOISE_MEMORY], noise), dtype=np.float64)
    hum = _HUM_SHARE * scenario.clamp.noise_v * np.sin(2 * np.pi * _HUM_HZ * time_s)
    result: Array = coloured * np.sqrt(1 - _NOISE_MEMORY**2) + hum
    return result
