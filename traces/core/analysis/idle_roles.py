"""Which channel is the crank sensor of an idling engine: told by its teeth, not by its name."""

from dataclasses import replace

import numpy as np

from engines.core.firing import CYCLE_DEG
from traces.core.proposal import ChannelRoles, SyncSeen, roles_of
from traces.core.running import IdleStretch, SpeedError, idle_track, is_caught, steady_idle
from traces.core.setup import SyncEvery, ToothWheel
from traces.core.signals import ToothTrack, WheelError, edge_times_s
from traces.core.sync import find_pulses
from traces.core.waveform import Floats, Waveform

_LONGEST_S = 300.0
_LEAST_EDGES, _FEWEST_EVENTS = 400, 4
_STRONG, _WITHIN_DEG, _WINDOW_S = 0.5, 25.0, 0.01


def channel_roles(waveform: Waveform) -> ChannelRoles:
    """Say what each channel shows, and which part it may play, cranking or idling.

    A file with a starter current or a battery in it is one of a crank. Else the first channel
    whose edges make a wheel that idles steadily is proposed for a running balance.
    """
    roles = roles_of(waveform)
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
