"""Tooth times made into steady cranking: where it is steady, its cycles, and its sync.

Slowness, time by crank angle, rises at each compression as the starter's current does, so that
crank span, steady cycles and hump positions are found by the same means; but the crank angle is
known, not worked out. Values are per cent of the mean slowness, nothing else.
"""

from dataclasses import dataclass, replace

import numpy as np

from traces.core.crank import (
    Cranking,
    CrankSpan,
    find_crank,
    mark_of,
    narrowed,
    order_from,
    recorded_sync,
    settle,
    shift_finding,
    told_by_hand,
    with_marks,
)
from traces.core.findings import Finding, finding
from traces.core.preparation import Prepared, quality
from traces.core.report import CycleUse
from traces.core.setup import AnalysisSetup, SpanS
from traces.core.signals.bits import replaced
from traces.core.signals.wheel import ToothTrack
from traces.core.sync import NO_SYNC, Sync, find_pulses
from traces.core.waveform import Channel, Conditioned, Floats, Waveform, condition

MEAN = 100.0
_MOST = 4.0  # of the mean: slower than that is starting or stopping
_TEETH_A_HUMP = 4


@dataclass(slots=True)
class ToothPreparation:
    """What was found on the way; `prepared` is None where the capture cannot be judged.

    `readable` is the same where cycles were found at all, fit to judge or not.
    `from_deg` is the crank angle, as the teeth count it, at which an engine cycle begins: the
    sync event where there is one. `uses` are the crank's engine cycles with their use.
    """

    findings: list[Finding]
    conditioned: Conditioned | None = None
    span: CrankSpan | None = None
    sync: Sync = NO_SYNC
    cranking: Cranking | None = None
    prepared: Prepared | None = None
    readable: Prepared | None = None
    left_out: int = 0
    chosen_s: SpanS | None = None
    from_deg: float = 0.0
    uses: tuple[CycleUse, ...] = ()

    def stopped(self) -> bool:
        """Whether something keeps the capture from being judged."""
        return any(f.severity == "stop" for f in self.findings)


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
    done = _turned(waveform, channel, track, setup)
    done.findings = told_by_hand(done.findings, setup, done.left_out)
    return done


def _turned(
    waveform: Waveform, channel: Channel, track: ToothTrack, setup: AnalysisSetup
) -> ToothPreparation:
    slow = slowness(waveform, channel, track)
    conditioned = condition(
        replaced(waveform, channel, slow), slow, replace(setup, invert=False, full_scale_v=None)
    )
    hand = setup.hand
    whole = span = find_crank(conditioned, hand.span_s)
    if span is not None and hand.span_s is not None:
        span = narrowed(conditioned, span, hand.span_s)
    done = ToothPreparation([], conditioned, span, chosen_s=hand.span_s)
    order = setup.firing_order
    if track.teeth * 2 < _TEETH_A_HUMP * len(order):
        done.findings.append(finding("low-rate", channel=channel.name, rate=f"{track.teeth}"))
    if span is None or whole is None:
        wording = "no-signal" if hand.span_s is None else "hand-span-empty"
        done.findings.append(finding(wording, channel=channel.name, level="no turning"))
        return done
    if done.stopped():
        return done
    count = _count(conditioned, track)
    pulses = None
    if setup.sync is not None:
        pick_up = waveform.channel(setup.sync.channel)
        pulses = find_pulses(waveform, pick_up, span.from_s, span.to_s)
    sync = recorded_sync(setup, pulses, conditioned.times_s, count)
    sync, told = with_marks(sync, setup, span, conditioned.times_s, count)
    done.findings += told
    done.sync = sync
    cranking, steadiness = settle(conditioned, span, count, sync, hand.left_out_s)
    done.uses, done.left_out = steadiness.cycles, steadiness.left_out
    if span is not whole and settle(conditioned, whole, count, sync)[1].collapsed:
        # the engine ran in the end, whatever part of the crank was chosen
        steadiness = replace(steadiness, collapsed=True)
    done.findings += quality.check_steadiness(cranking, steadiness, span)
    done.findings += quality.check_sync(sync, setup)
    done.findings += quality.check_sync_edge(sync, pulses, setup)
    done.findings += quality.check_sync_reach(sync, setup, cranking)
    if cranking is None:
        return done
    done.from_deg = _begin_deg(cranking, sync, conditioned, count)
    angle_deg = 720.0 * count - done.from_deg
    cranking = replace(cranking, angle_deg=angle_deg, cycle_count=angle_deg / 720.0)
    done.cranking = cranking
    mark = mark_of(setup, sync)
    order = order_from(setup, mark)
    done.readable = Prepared(setup=setup, cranking=cranking, sync=sync, order=order, mark=mark)
    if done.stopped():
        return done
    done.findings += shift_finding(setup, mark)
    done.prepared = done.readable
    return done


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
