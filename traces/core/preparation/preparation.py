"""From samples to steady cranking with a crank angle, or the reasons why not."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from traces.core.crank import (
    FASTEST_RPM,
    LEAST_CYCLES,
    USUAL_CYCLE_S,
    Cranking,
    CrankSpan,
    Steadiness,
    check_direction,
    count_cycles,
    find_crank,
    find_rhythm,
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
from traces.core.preparation import quality
from traces.core.preparation.current_elsewhere import pointed_elsewhere
from traces.core.preparation.prepared import Prepared
from traces.core.setup import SAME_CHANNEL, SAME_VOLTAGE_CHANNEL, AnalysisSetup, SetupError, SpanS
from traces.core.sync import NO_SYNC, Pulses, Sync, find_pulses
from traces.core.waveform import Channel, Conditioned, Floats, Waveform, condition, gaps_within

_LEAST_STRETCH_CYCLES = 1.2
_RUN_UP_S = 0.45  # after the inrush: the rhythm is looked for where the speed has settled
_ENOUGH_S = 1.5


@dataclass(slots=True)
class Preparation:
    """What was found on the way; `prepared` is None where the capture cannot be judged.

    `count` is how many engine cycles have passed at each sample of `conditioned`, from the
    current alone. `whole` is the same without the stretch that a person chose, where one did.
    """

    waveform: Waveform
    setup: AnalysisSetup
    clamp: Channel
    battery: Channel | None = None
    findings: list[Finding] = field(default_factory=list)
    conditioned: Conditioned | None = None
    span: CrankSpan | None = None
    sync: Sync = NO_SYNC
    cranking: Cranking | None = None
    pulses: Pulses | None = None
    count: Floats | None = None
    steadiness: Steadiness | None = None
    prepared: Prepared | None = None
    whole: "Preparation | None" = None

    @property
    def stopped(self) -> bool:
        """Whether something keeps the capture from being judged."""
        return any(f.severity == "stop" for f in self.findings)

    def add(self, findings: Sequence[Finding]) -> bool:
        """Take findings in; return whether one of all stops the analysis."""
        self.findings.extend(findings)
        return self.stopped


def prepare(waveform: Waveform, setup: AnalysisSetup) -> Preparation:
    """Condition, find the crank, tie it to a cylinder and choose the steady part.

    Raises
    ------
    SetupError
        If the file has no such channel.
    """
    clamp = channel_named(waveform, setup.current_channel)
    pick_up = channel_named(waveform, setup.sync.channel) if setup.sync else None
    if pick_up is clamp:
        raise SetupError(SAME_CHANNEL)
    battery = channel_named(waveform, setup.voltage_channel) if setup.voltage_channel else None
    if battery is not None and (battery is clamp or battery is pick_up):
        raise SetupError(SAME_VOLTAGE_CHANNEL)
    done = Preparation(waveform, setup, clamp, battery)
    chosen_s = setup.hand.span_s
    if chosen_s is not None:
        everything = replace(setup, hand=replace(setup.hand, span_s=None))
        done.whole = Preparation(waveform, everything, clamp, battery)
    if setup.cranked_by == "traction":
        done.add([finding("method-does-not-apply")])
        return done
    if done.whole is not None:
        _look_at(done.whole, pick_up, near_s=chosen_s)
    _look_at(done, pick_up, near_s=chosen_s)
    if done.stopped:
        done.findings = pointed_elsewhere(done.findings, waveform, setup, clamp)
    done.findings = told_by_hand(
        done.findings, setup, done.steadiness.left_out if done.steadiness else 0
    )
    return done


def _look_at(done: Preparation, pick_up: Channel | None, near_s: SpanS | None) -> None:
    """Take the steps one after the other until one stops the analysis."""
    waveform, setup, clamp = done.waveform, done.setup, done.clamp
    if done.add(quality.check_channel(waveform, clamp)):
        return
    conditioned = condition(waveform, clamp, setup)
    span = find_crank(conditioned, near_s)
    if setup.hand.span_s is not None:
        span = span and narrowed(conditioned, span, setup.hand.span_s)
        if span is None:
            done.add([finding("hand-span-empty", channel=clamp.name)])
            return
        conditioned = gaps_within(conditioned, waveform, clamp, (span.from_s, span.to_s))
    done.conditioned, done.span = conditioned, span
    if done.add(quality.check_current(conditioned, span, setup, clamp.name)) or span is None:
        return
    done.add(quality.check_clipping(waveform, clamp, conditioned, span, setup))
    if pick_up:
        done.pulses = find_pulses(waveform, pick_up, span.from_s, span.to_s)
    _find_cycles(done, conditioned, span, done.pulses)


def channel_named(waveform: Waveform, name: str) -> Channel:
    """Return a channel, or say that there is none as of a set-up."""
    try:
        return waveform.channel(name)
    except KeyError as error:
        raise SetupError(str(error.args[0])) from None


def _find_cycles(
    done: Preparation, conditioned: Conditioned, span: CrankSpan, pulses: Pulses | None
) -> None:
    """Find the engine's cycle in the part after the inrush, then the steady part."""
    order, rate_hz = done.setup.firing_order, conditioned.rate_hz
    first = conditioned.index_of(span.settled_from_s)
    last = conditioned.index_of(span.to_s)
    if (last - first) / rate_hz < _LEAST_STRETCH_CYCLES * 120.0 / FASTEST_RPM:
        done.add(quality.check_cycles_left(0, span))
        return
    later = first + round(_RUN_UP_S * rate_hz)
    if not span.start_seen or last - later < _ENOUGH_S * rate_hz:
        later = first
    rhythm = find_rhythm(conditioned.current_a[later : last + 1], rate_hz, done.setup, pulses)
    if done.add(quality.check_conductor(conditioned, span, done.setup, done.clamp, rhythm)):
        return
    if rhythm.cycle_s is None or not rhythm.seen:
        short = (last - first) / rate_hz < LEAST_CYCLES * USUAL_CYCLE_S
        ripple = rhythm.ripple_a / span.level_a
        done.add(quality.check_cycles_left(0, span) if short else quality.no_rhythm(ripple))
        return
    if done.add(quality.check_compression(rhythm, span.level_a, len(order))):
        return
    cycle_s = rhythm.cycle_s
    if done.add(quality.check_humps(rhythm, order)):
        return
    if done.add(quality.check_rate(done.waveform, len(order) / cycle_s)):
        return
    count = _whole_count(conditioned, first, last, cycle_s, len(order))
    done.count = count
    sync = recorded_sync(done.setup, pulses, conditioned.times_s, count, span.to_s)
    sync, told = with_marks(sync, done.setup, span, conditioned.times_s, count)
    done.add(told)
    _settle(done, conditioned, span, count, sync)


def _settle(
    done: Preparation, conditioned: Conditioned, span: CrankSpan, count: Floats, sync: Sync
) -> None:
    """Choose the steady cycles and take stock."""
    setup = done.setup
    cranking, steadiness = settle(conditioned, span, count, sync, setup.hand.left_out_s)
    if done.whole is not None and any(f.code == "engine-caught" for f in done.whole.findings):
        # the engine ran in the end, whatever part of the crank was chosen
        steadiness = replace(steadiness, collapsed=True)
    done.sync, done.cranking, done.steadiness = sync, cranking, steadiness
    done.add(quality.check_steadiness(cranking, steadiness, span))
    if cranking is not None and setup.signal == "starter-current":
        done.add(quality.check_steps(done.waveform, done.clamp, cranking, setup))
    if cranking is not None:
        done.add(check_direction(cranking, setup))
    done.add(quality.check_sync(sync, setup))
    done.add(quality.check_sync_edge(sync, done.pulses, setup))
    done.add(quality.check_sync_reach(sync, setup, cranking))
    if done.stopped or cranking is None:
        return
    mark = mark_of(setup, sync)
    # marks by hand do not tell how often the cycle comes
    is_counted = sync.keeps_to_cycle and not sync.by_hand
    if not is_counted and done.add(quality.check_speed(cranking.rpm, len(setup.firing_order))):
        return
    if is_counted and sync.state == "every-360":
        # as often as set up, but with half the compressions missing 720 would look the same
        done.add(quality.check_slow(cranking.rpm, len(setup.firing_order)))
    done.add(shift_finding(setup, mark))
    order = order_from(setup, mark)
    done.prepared = Prepared(
        setup=setup,
        cranking=cranking,
        sync=sync,
        order=order,
        mark=mark,
        recorded_hz=done.waveform.rate_hz,
    )


def _whole_count(
    conditioned: Conditioned, first: int, last: int, cycle_s: float, humps: int
) -> Floats:
    """Return the count of cycles over the whole recording, 0 at `first`.

    Outside the crank it runs on at the pace of its ends, so that it always rises.
    """
    inner = count_cycles(
        conditioned.current_a[first : last + 1], conditioned.rate_hz, cycle_s, humps
    )
    size = conditioned.current_a.size
    start = max(float(inner[1] - inner[0]), 1e-9)
    end = max(float(inner[-1] - inner[-2]), 1e-9)
    before = start * np.arange(-first, 0)
    after = inner[-1] + end * np.arange(1, size - last)
    return np.concatenate((before, inner, after))
