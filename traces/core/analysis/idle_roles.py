"""Which channel is an idling engine's crank sensor, or one cylinder's pressure.

Both are told by what they show, not by their names.
"""

from dataclasses import replace

import numpy as np

from engines.core.firing import CYCLE_DEG
from traces.core.pressure import CylinderSeen, cylinder_seen
from traces.core.proposal import ChannelRoles, PressureSeen, SyncSeen, roles_of
from traces.core.running import IdleStretch, SpeedError, idle_track, is_caught, steady_idle
from traces.core.setup import SyncEvery, ToothWheel
from traces.core.signals import ToothTrack, WheelError, edge_times_s
from traces.core.sync import find_pulses
from traces.core.waveform import Floats, Waveform

_LONGEST_S = 300.0
_MOST_CHANNELS, _PRESSURE_HZ = 32, 10_000.0
_LEAST_EDGES, _FEWEST_EVENTS = 400, 4
_STRONG, _WITHIN_DEG, _WINDOW_S = 0.5, 25.0, 0.01


def channel_roles(waveform: Waveform) -> ChannelRoles:
    """Say what each channel shows, and which part it may play, cranking or idling.

    One cylinder's pressure is looked for first: alone in a file its compressions would pass for a
    starter's current. A file with a starter current or a battery in it is one of a crank. Else the
    first channel whose edges make a wheel that idles steadily is proposed for a running balance.
    """
    pressures = _pressures(waveform)
    roles = roles_of(waveform, dict.fromkeys(pressures, "pressure"))
    if pressures:
        at, seen = next(iter(pressures.items()))
        return replace(roles, pressure=PressureSeen(at, seen.towers, seen.rpm, seen.height))
    if roles.clamp or roles.battery or not 0 < waveform.duration_s <= _LONGEST_S:
        return roles
    for at, shows in enumerate(roles.shows):
        if shows in ("current", "voltage", "nothing"):
            continue
        found = _idle_on(waveform, at)
        if found is not None:
            told = tuple("teeth" if i == at else what for i, what in enumerate(roles.shows))
            sync = _sync_beside(waveform, at, *found)
            if sync is not None:
                told = tuple("pulses" if i == sync.channel else what for i, what in enumerate(told))
            return replace(roles, shows=told, teeth=None, running=at, sync=sync)
    return roles


def _pressures(waveform: Waveform) -> dict[int, CylinderSeen]:
    """Return the channels that show one cylinder's compressions, by index."""
    if not 0 < waveform.duration_s <= _LONGEST_S or len(waveform.channels) > _MOST_CHANNELS:
        return {}
    every = max(1, int(waveform.rate_hz // _PRESSURE_HZ))
    found = {}
    for at, channel in enumerate(waveform.channels):
        if channel.is_flat():
            continue
        values = np.asarray(channel.values[::every], dtype=np.float64)
        # one that is upside down is refused as such, and must not pass for a clamp meanwhile
        looks = (cylinder_seen(side, waveform.rate_hz / every) for side in (values, -values))
        if (seen := next(filter(None, looks), None)) is not None:
            found[at] = seen
    return found


def _idle_on(waveform: Waveform, at: int) -> tuple[ToothTrack, IdleStretch] | None:
    """Return teeth and steady idle of a channel; None where it shows none."""
    edges = edge_times_s(waveform, waveform.channels[at])
    if max(side.size for side in edges) < _LEAST_EDGES:
        return None
    try:
        track = idle_track(edges, ToothWheel())
        return (track, steady_idle(track)) if is_caught(track, waveform.rate_hz) else None
    except (WheelError, SpeedError):
        return None


def _sync_beside(
    waveform: Waveform, teeth_at: int, track: ToothTrack, idle: IdleStretch
) -> SyncSeen | None:
    """Return the channel whose pulses keep to one place of the cycle, or of the turn."""
    from_s, to_s = np.interp([idle.from_deg, idle.to_deg], track.angle_deg, track.times_s)
    for at, channel in enumerate(waveform.channels):
        if at == teeth_at or channel.is_flat():
            continue
        pulses = find_pulses(waveform, channel, float(from_s), float(to_s))
        if pulses.heights.size < _FEWEST_EVENTS:
            continue
        strong = pulses.heights > _STRONG * float(np.median(pulses.heights))
        times_s = pulses.times_s[strong]
        every = _every_deg(np.interp(times_s, track.times_s, track.angle_deg))
        if every is None:
            continue
        lasts_s = (pulses.high_share or 0.0) * float(np.median(np.diff(times_s)))
        return SyncSeen(
            channel=at,
            sure=False,
            count=times_s.size,
            apart_s=float(np.median(np.diff(times_s))),
            lasts_s=lasts_s,
            is_window=lasts_s > _WINDOW_S,
            every_deg=every,
        )
    return None


def _every_deg(at_deg: Floats) -> SyncEvery | None:
    """Return how often events come; None where they keep to no place."""
    if at_deg.size < _FEWEST_EVENTS:
        return None
    apart_deg = np.diff(at_deg)
    for every in (CYCLE_DEG, CYCLE_DEG / 2):
        if float(np.mean(np.abs(apart_deg - every) < _WITHIN_DEG)) > 0.8:
            return 720 if every == CYCLE_DEG else 360
    return None
