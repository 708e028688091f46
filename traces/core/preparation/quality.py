"""Checks of a capture: each returns what it noticed and changes nothing."""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from engines.core.firing import CYCLE_DEG, FiringOrder
from shopdiag.people.core.words import Text, say
from traces.core.crank import (
    LEAST_CYCLES,
    Cranking,
    CrankSpan,
    Rhythm,
    Steadiness,
    unknown_angle_finding,
)
from traces.core.findings import Finding, amps, finding
from traces.core.preparation.clamp_scale import doubt_scale, scale_findings
from traces.core.setup import AnalysisSetup
from traces.core.sync import EDGE_TURNS_AT, Pulses, Sync, Trouble
from traces.core.waveform import (
    Channel,
    Conditioned,
    Waveform,
    amps_per_unit,
    gives_amps,
    reversed_clamp,
)

LEAST_RATE_HZ = 50.0
"""Fewer samples a second show no humps."""

_SAMPLES_A_HUMP = 8

GOOD_SAMPLES_A_HUMP = 25
"""Fewer show humps coarsely: their mean may do, but single cycles say nothing."""
_EDGE_MAY_TURN = 0.07  # of the time: what the swing of speed makes of a cam's share
_DEAD_A = 5.0
_STARTER_A = 30.0
_FLAT_RATIO = 5.0  # a sine's top level holds 2.4 times as many samples as the next
_FLAT_SHARE = 0.005
_SOFT_TOP_SHARE = 0.2  # a sine spends 9 % of its time within 2 % of its swing from the top
_INRUSH_TIMES = 1.3  # of the cranking current; starters draw 2 to 5 times it at rest
_INRUSH_OVER_TOP = 1.1
_GAP_S = 0.03
_RIPPLE_WITHOUT_RHYTHM = 0.05
_HUMPS, _HUMPS_OF_FOUR, _SWING = 0.045, 0.072, 0.115
"""Amplitude over the cranking current, of humps and of all that repeats, with up to six
cylinders. Without any compression valve trains leave up to 0.045; in fours the inertia of the
pistons rises and falls as often as the humps, so that up to 0.07 is left."""

_FAST_RPM, _FASTEST_RPM = 330.0, 360.0
"""Warm petrol engines reach 180 to 330 (typical); a measured sound four cranks at 309 to 316."""

_SLOW_RPM = 140.0  # half of what a light and fast crank reaches; cold diesels come so low too
_LEAST_HALVED = 4  # cylinders, of which a bank or every other one may be dead
_MOST_SAMPLES = 1_000_000  # to look for flat tops in: so many tell them as well as all
_REST_A = 8.0
_ZERO_TIMES = 3.0  # of what the crank draws: no clamp's zero is that far off
_BLURRED = 0.4  # noise over a step
_COARSE_STEP, _COARSEST_STEP = 0.15, 0.40
"""Step over the height of the humps: from here on figures were off by more than their intervals
in simulated captures of 5 and 6 bits, and from there on by tens of points."""

_DRIFT = 0.10
_CYCLES_BEFORE_CATCH = 6
_SILENT_CYCLES = 2.5
_SCATTERED: Mapping[Trouble, Text] = MappingProxyType(
    {
        "": say("they do not keep to the rhythm of the humps"),
        "lone": say("they do not keep to the rhythm of the humps"),
        "drift": say("they move steadily against the humps, as if something else drove them"),
        "two-rhythms": say("they come in one rhythm at first and in another one later"),
    }
)


def check_channel(waveform: Waveform, channel: Channel) -> list[Finding]:
    """Look at the clamp's samples before anything is made of them."""
    if not channel.holds(8) or channel.is_flat():
        return [finding("no-signal", channel=channel.name, level=say("a flat line"))]
    if waveform.rate_hz < LEAST_RATE_HZ:
        return [finding("low-rate", channel=channel.name, rate=f"{waveform.rate_hz:.4g}")]
    if waveform.duration_s < 0.3:
        return check_cycles_left(0)
    return []


def check_current(
    conditioned: Conditioned, span: CrankSpan | None, setup: AnalysisSetup, channel: str
) -> list[Finding]:
    """Look for a dead clamp, a wrong sign, gaps and offsets."""
    level_a = span.level_a if span else float(np.median(np.abs(conditioned.current_a)))
    if span is None or _is_dead(conditioned, level_a):
        return [finding("no-signal", channel=channel, level=amps(level_a))]
    found: list[Finding] = []
    if setup.invert is None and conditioned.inverted:
        found.append(finding("inverted", channel=channel))
    elif setup.invert is not None and reversed_clamp(conditioned):
        found.append(finding("inverted-kept", channel=channel))
    if conditioned.longest_gap_s > _GAP_S:
        gap = f"{1000 * conditioned.longest_gap_s:.0f}"
        found.append(finding("gaps", channel=channel, gap=gap))
    elif conditioned.missing_share > 0:
        share = f"{100 * conditioned.missing_share:.2g}"
        found.append(finding("gaps-bridged", channel=channel, share=share))
    # so little current is another conductor's, and told as that
    asks_zero = setup.kind.is_current and span.level_a > _STARTER_A
    if asks_zero and span.rest_a is not None and abs(span.rest_a) > _ZERO_TIMES * span.level_a:
        level, drawn = amps(span.rest_a), amps(span.level_a)
        found.append(finding("zero-implausible", channel=channel, level=level, drawn=drawn))
    if not conditioned.amps_known:
        found.append(finding("scale-unknown", channel=channel))
    elif span.rest_a is not None and abs(span.rest_a) > _REST_A:
        found.append(finding("load-on-cable", channel=channel, level=amps(span.rest_a)))
    return found


def check_conductor(
    conditioned: Conditioned,
    span: CrankSpan,
    setup: AnalysisSetup,
    channel: Channel,
    rhythm: Rhythm,
) -> list[Finding]:
    """Judge the size of the current: too small without humps, or a doubtful scale."""
    if not conditioned.amps_known:
        return []
    if span.level_a < _STARTER_A and not rhythm.seen:
        return [finding("wrong-conductor", channel=channel.name, level=amps(span.level_a))]
    cylinders = len(setup.firing_order)
    doubt = doubt_scale(
        span.level_a,
        cylinders,
        setup.fuel,
        rpm=120.0 / rhythm.cycle_s if rhythm.cycle_s else None,
        mv_per_a=None if gives_amps(channel) else setup.mv_per_a,
    )
    return scale_findings(doubt, span.level_a, cylinders, setup.fuel, channel.name)


def check_clipping(
    waveform: Waveform,
    channel: Channel,
    conditioned: Conditioned,
    span: CrankSpan,
    setup: AnalysisSetup,
) -> list[Finding]:
    """Look for flat tops on the humps; the inrush alone may be cut off."""
    first = int((span.settled_from_s - waveform.t0_s) * waveform.rate_hz)
    last = int((span.to_s - waveform.t0_s) * waveform.rate_hz)
    values = channel.sampled(_MOST_SAMPLES, first=max(0, first), last=last + 1).astype(np.float64)
    values = values[np.isfinite(values)]
    if values.size < 50:
        return []
    values = -values if conditioned.inverted else values
    top = float(values.max())
    swing = top - float(np.quantile(values, 0.01))
    levels = np.unique(values)
    step = max(float(np.diff(levels).min()) if levels.size > 1 else swing, swing / 500)
    at_top = int(np.count_nonzero(values > top - step / 2))
    next_level = int(np.count_nonzero((values <= top - step / 2) & (values > top - 1.5 * step)))
    hard = at_top > _FLAT_RATIO * max(next_level, 1) and at_top > _FLAT_SHARE * values.size
    near_top = int(np.count_nonzero(values > top - 0.02 * swing))
    # coarser steps make every top look flat
    soft = near_top > _SOFT_TOP_SHARE * values.size and step < 0.02 * swing
    if not (hard or (soft and at_top < values.size) or _is_saturated(conditioned, span)):
        return []
    factor, _ = amps_per_unit(channel, setup)
    return [
        finding(
            "clipped",
            channel=channel.name,
            from_s=span.settled_from_s,
            to_s=span.to_s,
            level=amps(top * factor),
        )
    ]


def _is_saturated(conditioned: Conditioned, span: CrankSpan) -> bool:
    """Return whether inrush, humps and mean current are all about as high.

    A starter stands still at first and draws several times what it does when it cranks; a clamp
    that saturates softly shows the same for both, without a flat top.
    """
    if span.inrush_peak_a is None or (conditioned.amps_known and span.level_a < _STARTER_A):
        return False
    first, last = conditioned.index_of(span.settled_from_s), conditioned.index_of(span.to_s)
    settled_a = conditioned.current_a[first : last + 1]
    if settled_a.size == 0:
        return False
    top_a = float(settled_a.max()) - (span.rest_a or 0.0)
    least_a = _INRUSH_TIMES * span.level_a
    return bool(span.inrush_peak_a < min(least_a, _INRUSH_OVER_TOP * top_a))


def check_steps(
    waveform: Waveform, channel: Channel, cranking: Cranking, setup: AnalysisSetup
) -> list[Finding]:
    """Compare the recorder's steps with the humps: few steps a hump make shapes of their own.

    Noise of about a step blurs them, so that means of many samples lie between steps.
    """
    first, last = (
        int((t - waveform.t0_s) * waveform.rate_hz)
        for t in (cranking.steady_from_s, cranking.steady_to_s)
    )
    values = channel.sampled(_MOST_SAMPLES, first=max(0, first), last=last + 1).astype(np.float64)
    levels = np.unique(values[np.isfinite(values)])
    if levels.size < 2:
        return []
    step_a = float(np.diff(levels).min()) * amps_per_unit(channel, setup)[0]
    if cranking.conditioned.noise_a > _BLURRED * step_a:
        return []
    low_a, high_a = np.quantile(cranking.conditioned.current_a[cranking.steady], (0.02, 0.98))
    hump_a = float(high_a - low_a)
    share = step_a / max(hump_a, 1e-9)
    if share < _COARSE_STEP:
        return []
    wording = "coarse-steps" if share < _COARSEST_STEP else "coarsest-steps"
    return [finding(wording, channel=channel.name, step=amps(step_a), hump=amps(hump_a))]


def check_humps(rhythm: Rhythm, order: FiringOrder) -> list[Finding]:
    """Compare the rhythm with the number of cylinders entered."""
    count = len(order)
    if not rhythm.agrees:
        why = say(": with so many a cycle, the sync events would come at odd places of it")
        return [finding("hump-mismatch", cylinders=count, why=why)]
    if rhythm.finer is not None:
        why = say(": {finer} a cycle show", finer=rhythm.finer)
        return [finding("hump-mismatch", cylinders=count, why=why)]
    return []


def check_compression(rhythm: Rhythm, level_a: float, cylinders: int) -> list[Finding]:
    """Refuse where the current hardly moves with the engine's cycle."""
    humps, swing = rhythm.hump_a / level_a, rhythm.swing_a / level_a
    smooth = 6.0 / max(cylinders, 6)  # lobes that overlap leave little of each
    least = _HUMPS_OF_FOUR if cylinders == 4 else _HUMPS * smooth**3
    if humps < least and swing < _SWING * smooth:
        return [finding("no-compression", ripple=f"{100 * swing:.1f}")]
    return []


def check_speed(rpm: float, cylinders: int) -> list[Finding]:
    """Doubt a number of cylinders that makes the crank faster or slower than starters turn.

    For captures without a usable sync, where nothing else tells six cylinders from four.
    """
    if rpm > _FASTEST_RPM:
        why = say(": they would mean {rpm} revolutions a minute", rpm=f"{rpm:.0f}")
        return [finding("hump-mismatch", cylinders=cylinders, why=why)]
    if rpm > _FAST_RPM:
        return [finding("speed-implausible", cylinders=cylinders, rpm=f"{rpm:.0f}")]
    return check_slow(rpm, cylinders)


def check_slow(rpm: float, cylinders: int) -> list[Finding]:
    """Doubt a slow crank where every other compression may be missing.

    For captures in which nothing counts the crank's turns for certain.
    """
    if rpm < _SLOW_RPM and cylinders >= _LEAST_HALVED and cylinders % 2 == 0:
        return [finding("speed-low", cylinders=cylinders, rpm=f"{rpm:.0f}")]
    return []


def check_rate(waveform: Waveform, hump_hz: float) -> list[Finding]:
    """Compare the sample rate with the humps: n x rpm / 120 a second."""
    rate = f"{waveform.rate_hz:.4g}"
    if waveform.rate_hz < _SAMPLES_A_HUMP * hump_hz:
        return [finding("low-rate", rate=rate)]
    if waveform.rate_hz < GOOD_SAMPLES_A_HUMP * hump_hz:
        return [finding("coarse-rate", rate=rate)]
    return []


def check_cycles_left(cycles: int, span: CrankSpan | None = None) -> list[Finding]:
    """Say that there is too little to judge, and that the engine ran where it did."""
    if span is not None and span.ran_on:
        at = f"{span.to_s:.2f} s"
        return [finding("engine-caught", from_s=span.to_s, at=at, cycles=cycles)]
    return [finding("too-short", cycles=cycles, needed=LEAST_CYCLES)]


def no_rhythm(ripple: float) -> list[Finding]:
    """Say that nothing repeats: there are no humps, or they come at random."""
    if ripple < _RIPPLE_WITHOUT_RHYTHM:
        return [finding("no-compression", ripple=f"{100 * ripple:.1f}")]
    return [finding("unsteady", why=say(": no rhythm repeats"))]


def check_steadiness(
    cranking: Cranking | None, steadiness: Steadiness, span: CrankSpan
) -> list[Finding]:
    """Judge how much steady cranking there is, and how it ends."""
    kept, whole = steadiness.kept_cycles, steadiness.whole_cycles - steadiness.left_out
    if steadiness.collapsed or span.ran_on:
        wording = "engine-caught-late" if kept >= _CYCLES_BEFORE_CATCH else "engine-caught"
        at_s = cranking.steady_to_s if cranking else span.to_s
        return [finding(wording, from_s=at_s, at=f"{at_s:.2f} s", cycles=kept)]
    if kept < LEAST_CYCLES:
        if whole >= 2 * LEAST_CYCLES:
            why = say(": {kept} of {whole} cycles are alike", kept=kept, whole=whole)
            return [finding("unsteady", why=why)]
        return check_cycles_left(kept)
    if abs(steadiness.drift) > _DRIFT:
        return [finding("drift", share=f"{100 * abs(steadiness.drift):.0f}")]
    return []


def check_sync(sync: Sync, setup: AnalysisSetup) -> list[Finding]:
    """Say what the sync channel can and cannot decide."""
    channel = setup.sync.channel if setup.sync else None
    if not sync.keeps_to_cycle:
        return [_no_cycle(sync, channel)]
    if unknown := unknown_angle_finding(setup, sync):
        return unknown
    from_s = sync.perhaps_single_from_s
    set_up_single = setup.sync is not None and setup.sync.every_deg == CYCLE_DEG
    if from_s is not None and set_up_single and not sync.perhaps_every_turn:
        at = f"{from_s:.2f} s"
        return [finding("sync-perhaps-single", channel=channel, from_s=from_s, at=at)]
    if sync.state == "every-360":
        unsure = sync.perhaps_every_turn and set_up_single
        return [finding("sync-perhaps-every-turn" if unsure else "sync-every-360", channel=channel)]
    if sync.paired_to_s is not None:
        to_s = sync.paired_to_s
        return [finding("sync-paired-first", channel=channel, to_s=to_s, at=f"{to_s:.2f} s")]
    return []


def _no_cycle(sync: Sync, channel: str | None) -> Finding:
    """Say why the events do not keep to the engine's cycle."""
    if sync.state in ("crowded", "scattered"):
        why = _SCATTERED[sync.trouble]
        if sync.state == "crowded":
            why = say("they are as strong at several places of the cycle")
        return finding("sync-mismatch", channel=channel, why=why)
    if sync.trouble == "lone":
        return finding("sync-lone", channel=channel, at=f"{float(sync.events_s[0]):.2f} s")
    wordings = {"none": "sync-none", "doubled": "sync-doubled"}
    return finding(wordings.get(sync.state, "sync-missing"), channel=channel)


def check_sync_edge(sync: Sync, pulses: Pulses | None, setup: AnalysisSetup) -> list[Finding]:
    """Say that another recording of the same cam may count its other edge.

    Of two levels the longer one is rest, up to a share of `pulses` by which the lower one is; a
    cam that is high for about that share of the time crosses it with the swing of the speed.
    """
    if setup.sync is None or setup.sync.event != "cam" or pulses is None:
        return []
    share = pulses.high_share
    if share is None or not sync.keeps_to_cycle or abs(share - EDGE_TURNS_AT) > _EDGE_MAY_TURN:
        return []
    high = f"{100 * share:.0f}"
    return [finding("cam-edge-unsure", channel=setup.sync.channel, high=high)]


def check_sync_reach(sync: Sync, setup: AnalysisSetup, cranking: Cranking | None) -> list[Finding]:
    """Say that recorded events end long before the cranking that is judged does."""
    if cranking is None or not sync.keeps_to_cycle or sync.by_hand or setup.sync is None:
        return []
    last_s = float(sync.events_s[-1])
    if cranking.steady_to_s - last_s < _SILENT_CYCLES * cranking.cycle_s:
        return []
    count, at = sync.events_s.size, f"{last_s:.2f} s"
    return [finding("sync-ends", channel=setup.sync.channel, from_s=last_s, at=at, count=count)]


def _is_dead(conditioned: Conditioned, level_a: float) -> bool:
    """Return whether there is nothing but rest and noise."""
    low, high = (float(v) for v in np.quantile(conditioned.current_a, (0.01, 0.99)))
    if conditioned.amps_known and max(abs(low), abs(high)) < _DEAD_A:
        return True
    # a clamp that reads a constant offset, however large
    return high - low < 0.01 * abs(level_a) or high - low < 2.0 * conditioned.noise_a
