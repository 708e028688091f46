"""Tooth times made into steady cranking: where it is steady, its cycles, and its sync.

Slowness, time by crank angle, rises at each compression as the starter's current does, so that
crank span, steady cycles and hump positions are found by the same means; but the crank angle is
known, not worked out. Values are per cent of the mean slowness, nothing else.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from shopdiag.people.core.words import say
from traces.core.crank import Cranking, find_crank, narrowed, told_by_hand
from traces.core.findings import finding
from traces.core.preparation import (
    Preparation,
    Prepared,
    fit_to_judge,
    noticing,
    prepared_of,
    steadied,
)
from traces.core.setup import AnalysisSetup
from traces.core.signals.bits import replaced
from traces.core.signals.wheel import ToothTrack
from traces.core.sync import Sync, find_pulses
from traces.core.waveform import Channel, Conditioned, Floats, Waveform, condition

MEAN = 100.0
_MOST = 4.0  # of the mean: slower than that is starting or stopping
_TEETH_A_HUMP = 4


@dataclass(frozen=True, slots=True, eq=False)
class ToothPreparation(Preparation):
    """What was found on the way by the teeth.

    `readable` is what a method is given where cycles were found at all, fit to judge or not.
    `from_deg` is the crank angle, as the teeth count it, at which an engine cycle begins: the
    sync event where there is one.
    """

    readable: Prepared | None = None
    from_deg: float = 0.0


def slowness(waveform: Waveform, channel: Channel, track: ToothTrack) -> Channel:
    """Return the sensor's channel as slowness in per cent of its median, 0 at rest."""
    times_s = waveform.t0_s + np.arange(waveform.samples) / waveform.rate_hz
    middle_s = (track.times_s[:-1] + track.times_s[1:]) / 2
    values = 1.0 / track.speeds_deg_s
    values = np.minimum(values / _mean_slowness(track), _MOST)
    shown = MEAN * np.interp(times_s, middle_s, values)
    shown[(times_s < track.times_s[0]) | (times_s > track.times_s[-1])] = 0.0
    return Channel(channel.name, "A", shown.astype(np.float32))


def _mean_slowness(track: ToothTrack) -> float:
    return float((track.times_s[-1] - track.times_s[0]) / track.angle_deg[-1])


def turning(
    waveform: Waveform, channel: Channel, track: ToothTrack, setup: AnalysisSetup
) -> ToothPreparation:
    """Find steady cranking by the teeth.

    Parameters
    ----------
    waveform
        Holds `channel`, the crank sensor's, and the sync channel that `setup` names.
    """
    slow = slowness(waveform, channel, track)
    conditioned = condition(
        replaced(waveform, channel, slow), slow, replace(setup, invert=False, full_scale_v=None)
    )
    chosen_s = setup.hand.span_s
    span = find_crank(conditioned, chosen_s)
    count = _count(conditioned, track)
    pick_up = waveform.channel(setup.sync.channel) if setup.sync else None
    begun = ToothPreparation(waveform, setup, slow, conditioned=conditioned, span=span)
    if chosen_s is None or span is None:
        done = _turned(begun, pick_up, count, track)
    else:
        everything = replace(setup, hand=replace(setup.hand, span_s=None))
        whole = _turned(replace(begun, setup=everything), pick_up, count, track)
        part = replace(begun, span=narrowed(conditioned, span, chosen_s), whole=whole)
        done = _turned(part, pick_up, count, track)
    left_out = done.steadiness.left_out if done.steadiness else 0
    return replace(done, findings=tuple(told_by_hand(list(done.findings), setup, left_out)))


def _turned(
    done: ToothPreparation, pick_up: Channel | None, count: Floats, track: ToothTrack
) -> ToothPreparation:
    """Take the steps from the crank to what a method is given, until one stops the analysis."""
    conditioned, span, setup = done.conditioned, done.span, done.setup
    if track.teeth * 2 < _TEETH_A_HUMP * len(setup.firing_order):
        done = noticing(done, [finding("low-rate", channel=done.clamp.name, rate=f"{track.teeth}")])
    if span is None or conditioned is None:
        wording = "no-signal" if setup.hand.span_s is None else "hand-span-empty"
        return noticing(done, [finding(wording, channel=done.clamp.name, level=say("no turning"))])
    if done.stopped:
        return done
    if pick_up:
        done = replace(done, pulses=find_pulses(done.waveform, pick_up, span.from_s, span.to_s))
    done = steadied(done, conditioned, span, count)
    if done.cranking is None:
        return done
    from_deg = _begin_deg(done.cranking, done.sync, conditioned, count)
    angle_deg = 720.0 * count - from_deg
    cranking = replace(done.cranking, angle_deg=angle_deg, cycle_count=angle_deg / 720.0)
    readable = prepared_of(done, cranking, math.inf)
    done = replace(done, cranking=cranking, from_deg=from_deg, readable=readable)
    return done if done.stopped else fit_to_judge(done, readable)


def _count(conditioned: Conditioned, track: ToothTrack) -> Floats:
    """Return engine cycles passed at each sample; outside the teeth it runs on at their pace."""
    times_s = conditioned.times_s
    inside = np.interp(times_s, track.times_s, track.angle_deg)
    pace = 1.0 / _mean_slowness(track)
    before = np.minimum(times_s - track.times_s[0], 0.0) * pace
    after = np.maximum(times_s - track.times_s[-1], 0.0) * pace
    return np.asarray((inside + before + after) / 720.0, dtype=np.float64)


def _begin_deg(cranking: Cranking, sync: Sync, conditioned: Conditioned, count: Floats) -> float:
    """Return the crank angle of the sync event, or of the beginning of the steady part."""
    if not cranking.anchored:
        return float(720.0 * np.interp(cranking.steady_from_s, conditioned.times_s, count))
    turn = 360.0 if sync.state == "every-360" else 720.0
    at = 720.0 * np.interp(sync.events_s, conditioned.times_s, count)
    return float(np.angle(np.exp(2j * np.pi * at / turn).mean()) / (2 * np.pi) * turn)
