"""From samples to steady cranking with a crank angle, or the reasons why not."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from engines.core.firing import CYCLE_DEG
from traces.core import quality
from traces.core.conditioning import Conditioned, Floats, condition
from traces.core.cranking import Cranking, CrankSpan, find_crank
from traces.core.cycles import (
    FASTEST_RPM,
    SLOWEST_RPM,
    Repeats,
    count_cycles,
    cycle_from_current,
    harmonic_powers,
    repeats_of,
)
from traces.core.methods import Prepared
from traces.core.results import Finding
from traces.core.setup import AnalysisSetup, SetupError
from traces.core.steady import settle
from traces.core.sync import NO_SYNC, Pulses, Sync, find_pulses, read_sync
from traces.core.waveform import Channel, Waveform

_LEAST_STRETCH_CYCLES = 1.2
_REPEATS = 0.5
_AS_LIKE = 0.9
_HUMP_SHARE = 0.25


@dataclass(slots=True)
class Preparation:
    """What was found on the way; `prepared` is None where the capture cannot be judged."""

    waveform: Waveform
    setup: AnalysisSetup
    clamp: Channel
    findings: list[Finding] = field(default_factory=list)
    conditioned: Conditioned | None = None
    span: CrankSpan | None = None
    sync: Sync = NO_SYNC
    cranking: Cranking | None = None
    prepared: Prepared | None = None

    @property
    def stopped(self) -> bool:
        """Whether something keeps the capture from being judged."""
        return any(f.severity == "stop" for f in self.findings)

    def add(self, findings: Sequence[Finding]) -> bool:
        """Take findings in; return whether one of all stops the analysis."""
        self.findings.extend(findings)
        return self.stopped


def prepare(waveform: Waveform, setup: AnalysisSetup) -> Preparation:
    """Condition, find the crank, tie it to the sync and choose the steady part.

    Raises
    ------
    SetupError
        If the file has no such channel.
    """
    clamp = _channel(waveform, setup.current_channel)
    pick_up = _channel(waveform, setup.sync.channel) if setup.sync else None
    if pick_up is clamp:
        raise SetupError("Clamp and sync cannot be the same channel; choose another for one.")
    done = Preparation(waveform, setup, clamp)
    if done.add(quality.check_channel(waveform, clamp)):
        return done
    conditioned = condition(waveform, clamp, setup)
    span = find_crank(conditioned)
    done.conditioned, done.span = conditioned, span
    if done.add(quality.check_current(conditioned, span, setup, clamp.name)) or span is None:
        return done
    done.add(quality.check_clipping(waveform, clamp, conditioned, span, setup))
    pulses = find_pulses(waveform, pick_up, span.from_s, span.to_s) if pick_up else None
    _find_cycles(done, conditioned, span, pulses)
    return done


def _channel(waveform: Waveform, name: str) -> Channel:
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
    stretch = conditioned.current_a[first : last + 1]
    if (last - first) / rate_hz < _LEAST_STRETCH_CYCLES * 120.0 / FASTEST_RPM:
        done.add(quality.check_cycles_left(0))
        return
    repeats = repeats_of(stretch, rate_hz)
    cycle_s = _cycle_length(stretch, rate_hz, done.setup, pulses, repeats)
    alike = cycle_s is not None and repeats.at(cycle_s) > _REPEATS
    if done.add(quality.check_conductor(conditioned, span, done.clamp.name, humps_seen=alike)):
        return
    if done.add(quality.check_ripple(float(np.std(stretch)) / span.level_a)):
        return
    if cycle_s is None or not alike:
        short = stretch.size / rate_hz < quality.LEAST_CYCLES * 120.0 / (0.6 * SLOWEST_RPM + 90.0)
        done.add(quality.check_cycles_left(0) if short else quality.no_rhythm())
        return
    powers = harmonic_powers(stretch, rate_hz, cycle_s, 3 * len(order))
    if done.add(quality.check_humps(powers, order, cycle_s)):
        return
    if done.add(quality.check_rate(done.waveform, len(order) / cycle_s)):
        return
    count = _whole_count(conditioned, first, last, cycle_s, len(order))
    sync = _sync_of(done.setup, pulses, conditioned, count)
    _settle(done, conditioned, span, count, sync)


def _sync_of(
    setup: AnalysisSetup, pulses: Pulses | None, conditioned: Conditioned, count: Floats
) -> Sync:
    if pulses is None or setup.sync is None:
        return NO_SYNC
    sync = read_sync(pulses, conditioned.times_s, count)
    if setup.sync.every_deg == CYCLE_DEG / 2 and sync.state == "every-720":
        # the user knows of a second event that did not show: do not decide between them
        return replace(sync, state="every-360")
    return sync


def _settle(
    done: Preparation, conditioned: Conditioned, span: CrankSpan, count: Floats, sync: Sync
) -> None:
    """Choose the steady cycles and take stock."""
    setup = done.setup
    cranking, steadiness = settle(conditioned, span, count, sync)
    done.sync, done.cranking = sync, cranking
    done.add(quality.check_steadiness(cranking, steadiness))
    done.add(quality.check_sync(sync, setup))
    if done.stopped or cranking is None:
        return
    order = setup.firing_order
    if setup.sync is not None and cranking.anchored:
        order = order.starting_at(setup.sync.cylinder)
    done.prepared = Prepared(setup=setup, cranking=cranking, sync=sync, order=order)


def _cycle_length(
    stretch: Floats,
    rate_hz: float,
    setup: AnalysisSetup,
    pulses: Pulses | None,
    repeats: Repeats,
) -> float | None:
    """Return the length of a cycle from sync and current together.

    Alike cylinders repeat after each hump, so that the current alone may take two cycles for
    one; the sync may come more often than entered. The length has to agree with both.
    """
    cylinders = len(setup.firing_order)
    alone_s = cycle_from_current(stretch, rate_hz, cylinders, repeats)
    if pulses is None or setup.sync is None or pulses.times_s.size < 2:
        return alone_s
    strong = pulses.heights >= 0.5 * float(np.quantile(pulses.heights, 0.75))
    if strong.sum() < 2:
        return alone_s
    apart_s = float(np.median(np.diff(pulses.times_s[strong])))
    from_sync_s = apart_s * CYCLE_DEG / setup.sync.every_deg
    best = float(repeats.likeness.max()) if repeats.likeness.size else 0.0
    choices = [from_sync_s, 2 * from_sync_s, from_sync_s / 2, *([alone_s] if alone_s else [])]
    likely = [
        choice_s
        for choice_s in choices
        if SLOWEST_RPM <= 120.0 / choice_s <= FASTEST_RPM
        and repeats.at(choice_s) >= _AS_LIKE * best
    ]
    if not likely:
        return alone_s
    chosen_s = likely[0]
    # What repeats after one cycle repeats after two: take the half where only that has the
    # humps. Twice as long is never taken for the humps' sake: an engine with twice as many
    # cylinders and a sync twice as often look the same, and that is for the user to say.
    if chosen_s / 2 in likely and not _has_humps(stretch, rate_hz, chosen_s, cylinders):
        chosen_s /= 2
    return repeats.peak_near(chosen_s, within=0.02)


def _has_humps(stretch: Floats, rate_hz: float, cycle_s: float, cylinders: int) -> bool:
    powers = harmonic_powers(stretch, rate_hz, cycle_s, 3 * cylinders)
    return float(powers[cylinders - 1]) >= _HUMP_SHARE * float(powers.max())


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
