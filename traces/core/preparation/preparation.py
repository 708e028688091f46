"""From samples to steady cranking with a crank angle, or the reasons why not."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from traces.core.crank import (
    FASTEST_RPM,
    LEAST_CYCLES,
    USUAL_CYCLE_S,
    CrankSpan,
    Rhythm,
    count_cycles,
    find_crank,
    find_rhythm,
    narrowed,
    told_by_hand,
)
from traces.core.findings import Finding, finding
from traces.core.preparation import quality
from traces.core.preparation.current_elsewhere import pointed_elsewhere
from traces.core.preparation.steady_part import (
    Preparation,
    fit_to_judge,
    noticing,
    prepared_of,
    steadied,
)
from traces.core.setup import SAME_CHANNEL, SAME_VOLTAGE_CHANNEL, AnalysisSetup, SetupError, SpanS
from traces.core.sync import find_pulses
from traces.core.waveform import Channel, Conditioned, Floats, Waveform, condition, gaps_within

_LEAST_STRETCH_CYCLES = 1.2
_RUN_UP_S = 0.45  # after the inrush: the rhythm is looked for where the speed has settled
_ENOUGH_S = 1.5


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
    begun = Preparation(waveform, setup, clamp, battery)
    if setup.cranked_by == "traction":
        return noticing(begun, [finding("method-does-not-apply")])
    chosen_s = setup.hand.span_s
    if chosen_s is None:
        done = _with_steady_part(_with_crank(begun), pick_up)
    else:
        everything = replace(setup, hand=replace(setup.hand, span_s=None))
        found = _with_crank(replace(begun, setup=everything), near_s=chosen_s)
        part = replace(found, setup=setup, whole=_with_steady_part(found, pick_up))
        done = _with_steady_part(_narrowed(part, chosen_s), pick_up)
    findings = list(done.findings)
    if done.stopped:
        findings = pointed_elsewhere(findings, waveform, setup, clamp)
    left_out = done.steadiness.left_out if done.steadiness else 0
    return replace(done, findings=tuple(told_by_hand(findings, setup, left_out)))


def channel_named(waveform: Waveform, name: str) -> Channel:
    """Return a channel, or say that there is none as of a set-up."""
    try:
        return waveform.channel(name)
    except KeyError as error:
        raise SetupError(str(error.args[0])) from None


def _with_crank(done: Preparation, near_s: SpanS | None = None) -> Preparation:
    """Condition the channel and find where the starter cranks."""
    done = noticing(done, quality.check_channel(done.waveform, done.clamp))
    if done.stopped:
        return done
    conditioned = condition(done.waveform, done.clamp, done.setup)
    return replace(done, conditioned=conditioned, span=find_crank(conditioned, near_s))


def _narrowed(done: Preparation, chosen_s: SpanS) -> Preparation:
    """Keep of the crank what a person chose."""
    conditioned, span = done.conditioned, done.span
    if conditioned is None:
        return done
    span = span and narrowed(conditioned, span, chosen_s)
    if span is None:
        empty = [finding("hand-span-empty", channel=done.clamp.name)]
        return noticing(replace(done, conditioned=None, span=None), empty)
    within_s = (span.from_s, span.to_s)
    conditioned = gaps_within(conditioned, done.waveform, done.clamp, within_s)
    return replace(done, conditioned=conditioned, span=span)


def _with_steady_part(done: Preparation, pick_up: Channel | None) -> Preparation:
    """Take the steps from the crank to what a method is given, until one stops the analysis."""
    conditioned, span = done.conditioned, done.span
    if done.stopped or conditioned is None:
        return done
    waveform, setup, clamp = done.waveform, done.setup, done.clamp
    done = noticing(done, quality.check_current(conditioned, span, setup, clamp.name))
    if done.stopped or span is None:
        return done
    done = noticing(done, quality.check_clipping(waveform, clamp, conditioned, span, setup))
    if pick_up:
        done = replace(done, pulses=find_pulses(waveform, pick_up, span.from_s, span.to_s))
    done = _with_count(done, conditioned, span)
    if done.count is None:
        return done
    return _judgeable(steadied(done, conditioned, span, done.count))


def _with_count(done: Preparation, conditioned: Conditioned, span: CrankSpan) -> Preparation:
    """Count the engine's cycles by the rhythm of the part after the inrush, if it shows one."""
    humps, rate_hz = len(done.setup.firing_order), conditioned.rate_hz
    first = conditioned.index_of(span.settled_from_s)
    last = conditioned.index_of(span.to_s)
    if (last - first) / rate_hz < _LEAST_STRETCH_CYCLES * 120.0 / FASTEST_RPM:
        return noticing(done, quality.check_cycles_left(0, span))
    later = first + round(_RUN_UP_S * rate_hz)
    if not span.start_seen or last - later < _ENOUGH_S * rate_hz:
        later = first
    amps = conditioned.current_a[later : last + 1]
    rhythm = find_rhythm(amps, rate_hz, done.setup, done.pulses)
    conductor = quality.check_conductor(conditioned, span, done.setup, done.clamp, rhythm)
    done = noticing(done, conductor)
    if done.stopped:
        return done
    cycle_s = rhythm.cycle_s
    if cycle_s is None or not rhythm.seen:
        short = (last - first) / rate_hz < LEAST_CYCLES * USUAL_CYCLE_S
        ripple = rhythm.ripple_a / span.level_a
        told = quality.check_cycles_left(0, span) if short else quality.no_rhythm(ripple)
        return noticing(done, told)
    for told in _rhythm_checks(done, rhythm, span, cycle_s):
        done = noticing(done, told)
        if done.stopped:
            return done
    return replace(done, count=_whole_count(conditioned, first, last, cycle_s, humps))


def _rhythm_checks(
    done: Preparation, rhythm: Rhythm, span: CrankSpan, cycle_s: float
) -> Iterator[list[Finding]]:
    """Yield what each check says; one that stops explains what those after it would say."""
    order = done.setup.firing_order
    yield quality.check_compression(rhythm, span.level_a, len(order))
    yield quality.check_humps(rhythm, order)
    yield quality.check_rate(done.waveform, len(order) / cycle_s)


def _judgeable(done: Preparation) -> Preparation:
    """Make what a method is given, unless the speed is not one of a starter."""
    cranking = done.cranking
    if done.stopped or cranking is None:
        return done
    cylinders, rpm = len(done.setup.firing_order), cranking.rpm
    # marks by hand do not tell how often the cycle comes
    if not done.sync.keeps_to_cycle or done.sync.by_hand:
        done = noticing(done, quality.check_speed(rpm, cylinders))
        if done.stopped:
            return done
    elif done.sync.state == "every-360":
        # as often as set up, but with half the compressions missing 720 would look the same
        done = noticing(done, quality.check_slow(rpm, cylinders))
    return fit_to_judge(done, prepared_of(done, cranking, done.waveform.rate_hz))


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
