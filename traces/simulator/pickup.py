"""The sync channel: ringing of ignition, switching of an injector, window of a cam wheel."""

import numpy as np

from engines.core.firing import CYCLE_DEG
from traces.core.compression import Array
from traces.simulator.instrument import converted, sample_times_s
from traces.simulator.recorder import PickUp
from traces.simulator.scenario import Scenario
from traces.simulator.track import Track

_LEAST_RAD_S = 4.0
"""Below about 40 rpm a control unit has no synchronised events."""

_HEIGHT_SCATTER = 0.08


def sync_volts(scenario: Scenario, track: Track, rng: np.random.Generator) -> Array:
    """Return the sync channel in volts, shape (samples,); noise alone without a pick-up."""
    time_s = sample_times_s(scenario)
    sync = scenario.sync
    if sync is None:
        return converted(rng.normal(0, 0.03, time_s.size), 12, 10.0)
    volts = rng.normal(0, sync.noise_v, time_s.size)
    if sync.event == "cam":
        volts += _window_v(scenario, sync, track, time_s)
    else:
        for number in scenario.engine.firing_order.sequence:
            own = number == sync.cylinder
            share = 1.0 if own else sync.leakage
            times = event_times_s(scenario, sync, track, number)
            heights = sync.amplitude_v * sync.polarity * share
            scatter = 1 + _HEIGHT_SCATTER * rng.normal(size=times.size)
            for at_s, height in zip(times, heights * scatter, strict=True):
                _add_event(volts, scenario.rate_hz, sync, float(at_s), float(height))
    return converted(volts, sync.bits, sync.range_v)


def event_times_s(scenario: Scenario, sync: PickUp, track: Track, number: int) -> Array:
    """Return when the events of cylinder `number` come, from the recording's start.

    Events repeat every `sync.every_deg`. The sync cylinder's first ones are left out as
    `sync.missing_first` says.
    """
    order = scenario.engine.firing_order
    first_rad = np.deg2rad(order.angle_of(number) + sync.angle_deg)
    every_rad = np.deg2rad(sync.every_deg)
    turns = np.arange(
        np.ceil((track.angle_rad[0] - first_rad) / every_rad),
        np.ceil((track.angle_rad.max() - first_rad) / every_rad),
    )
    times = _seen_s(track, first_rad + turns * every_rad)
    if sync.pairs_first:
        pairs = _seen_s(track, first_rad + np.pi * 2 + turns * every_rad)
        times = np.sort(np.concatenate((times, pairs[: sync.pairs_first])))
    if number == sync.cylinder:
        times = times[sync.missing_first :]
    kept: Array = times[(times >= 0) & (times < scenario.duration_s)]
    return kept


def _seen_s(track: Track, angles_rad: Array) -> Array:
    """Return when the crank stands at angles, where it turns fast enough for an event."""
    times = track.time_at(angles_rad)
    times = times[np.isfinite(times)]
    fast: Array = times[np.interp(times, track.time_s, track.engine_rad_s) > _LEAST_RAD_S]
    return fast


def _add_event(volts: Array, rate_hz: float, sync: PickUp, at_s: float, height_v: float) -> None:
    """Add one event to `volts`, in place."""
    lasts_s = 8 * sync.ring_decay_s + (sync.width_s if sync.event == "injector" else 0.0)
    start = int(np.ceil(at_s * rate_hz))
    stop = min(int(np.ceil((at_s + lasts_s) * rate_hz)), volts.size)
    since = np.arange(start, stop) / rate_hz - at_s
    if sync.event == "injector":
        # pulled to ground while it is open, then the coil's kick
        volts[start:stop] -= 0.3 * height_v * (since < sync.width_s)
        since = since - sync.width_s
    ringing = np.exp(-np.maximum(since, 0) / sync.ring_decay_s)
    ringing *= np.cos(2 * np.pi * sync.ring_hz * since)
    volts[start:stop] += height_v * ringing * (since >= 0)


def _window_v(scenario: Scenario, sync: PickUp, track: Track, time_s: Array) -> Array:
    """Return the level of a cam wheel; the leading edge of its first window is the event."""
    edge_deg = scenario.engine.firing_order.angle_of(sync.cylinder) + sync.angle_deg
    angle_deg = np.rad2deg(np.interp(time_s, track.time_s, track.angle_rad))
    every_deg = min(sync.every_deg, CYCLE_DEG)
    edges = [edge_deg + more for more in (0.0, *sync.more_edges_deg)]
    shown = np.any([(angle_deg - edge) % every_deg < sync.width_deg for edge in edges], axis=0)
    times = event_times_s(scenario, sync, track, sync.cylinder)
    from_s = times[0] if times.size else np.inf
    return np.where(shown & (time_s >= from_s), sync.amplitude_v * sync.polarity, 0.0)
