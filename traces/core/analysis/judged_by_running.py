"""An idling engine judged by the teeth of its crank sensor: what each cylinder drives it with."""

from collections.abc import Sequence

import numpy as np

from engines.core.spacing import firing_angles
from shopdiag.people.core.words import Text, say
from traces.core.analysis.judged_by_teeth import tooth_figures
from traces.core.findings import Finding, finding, place_words
from traces.core.preparation import Prepared, channel_named
from traces.core.report import (
    RUNNING,
    Call,
    Estimate,
    Report,
    ReportParts,
    RunningFigures,
)
from traces.core.running import (
    TWO_MASSES,
    Contribution,
    FiringMarks,
    FlywheelError,
    IdleStretch,
    MarksError,
    SpeedError,
    balanced,
    firing_marks,
    firing_steps,
    idle_track,
    is_caught,
    steady_idle,
    work_level,
)
from traces.core.setup import AnalysisSetup
from traces.core.signals import OnceACycle, ToothTrack, WheelError, anew, edge_times_s, no_teeth
from traces.core.sync import Pulses, find_pulses
from traces.core.waveform import Floats, Waveform

_LEAST_EDGES = 60
_LEAST_CYLINDERS, _MOST_CYLINDERS = 3, 8
_LEAST_CYCLES = 8
_STRONG = 0.5
_MOST_SHIFT_DEG = 30.0
_WORDINGS = {"dead": "dead-cylinder", "weak": "weak-cylinder"}


class _RefusedError(Exception):
    """The capture cannot be judged."""

    def __init__(self, found: Finding) -> None:
        super().__init__(found.code)
        self.found = found


def prepared(_waveform: Waveform, _setup: AnalysisSetup) -> Prepared | None:
    """Return None: nothing of an idling engine is prepared as a crank is."""
    return None


def judge(waveform: Waveform, setup: AnalysisSetup) -> Report:
    """Judge how much each cylinder drives the idling crank.

    Parameters
    ----------
    waveform
        The recording.
    setup
        Engine, channel, wheel and sync.
    """
    try:
        return _judged(*_read(waveform, setup), setup)
    except _RefusedError as refused:
        return Report.refused(refused.found, RUNNING)


def _read(waveform: Waveform, setup: AnalysisSetup) -> tuple[ToothTrack, IdleStretch, FiringMarks]:
    """Return the teeth by crank angle, where they idle steadily, and whose firings they show."""
    channel, order = channel_named(waveform, setup.current_channel), setup.firing_order
    if not (order.is_even and _LEAST_CYLINDERS <= len(order) <= _MOST_CYLINDERS):
        raise _RefusedError(finding("running-other-firing", intervals=_intervals_words(setup)))
    edges = edge_times_s(waveform, channel)
    if max(side.size for side in edges) < _LEAST_EDGES:
        raise _RefusedError(anew(setup.signal, "no-signal", "stop", channel.name))
    pulses = _pulses_beside(waveform, setup, edges)
    beside = OnceACycle(pulses.times_s, setup.sync.every_deg) if pulses and setup.sync else None
    try:
        track = idle_track(edges, setup.wheel, beside)
        if not is_caught(track, waveform.rate_hz):
            raise _RefusedError(anew(setup.signal, "low-rate", "stop", channel.name))
        idle = steady_idle(track)
        return track, idle, firing_marks(_events_s(pulses, track, idle), track, setup)
    except WheelError as error:
        raise _RefusedError(no_teeth(channel.name, error.why)) from None
    except SpeedError as error:
        raise _RefusedError(_of_speed(error)) from None
    except MarksError as error:
        raise _RefusedError(finding("sync-mismatch", why=error.why)) from None


def _judged(
    track: ToothTrack, idle: IdleStretch, marks: FiringMarks, setup: AnalysisSetup
) -> Report:
    cylinders = len(setup.firing_order)
    drivelines = firing_steps(track, idle, cylinders, marks.first_deg, (None, *TWO_MASSES))
    level = work_level(track, idle, cylinders)
    try:
        found_by = balanced(
            drivelines,
            level,
            setup.flywheel,
            suspect_below=setup.suspect_below,
            is_placed=marks.first_deg is not None,
        )
    except FlywheelError as error:
        raise _RefusedError(finding(error.doubt)) from None
    steps, found = found_by.steps, found_by.cylinders
    if steps.cycles < _LEAST_CYCLES:
        raise _RefusedError(finding("idle-too-short", cycles=steps.cycles, least=_LEAST_CYCLES))
    if marks.first_deg is not None and abs(steps.shift_deg) > _MOST_SHIFT_DEG:
        far = say(
            "firings come {shift} degrees from where these events put them",
            shift=f"{steps.shift_deg:+.0f}",
        )
        raise _RefusedError(finding("sync-mismatch", why=far))
    estimates = tuple(
        Estimate(
            position=i + 1,
            cylinder=marks.sequences[0][i] if marks.settles else None,
            relative=one.share,
            low=one.low,
            high=one.high,
            call=_call(one, setup),
            per_cycle=one.per_cycle,
        )
        for i, one in enumerate(found)
    )
    low = [i for i, e in enumerate(estimates) if e.call == "suspect"]
    sets = dict.fromkeys(tuple(sorted(s[i] for i in low)) for s in marks.sequences)
    from_s, to_s = np.interp([idle.from_deg, idle.to_deg], track.angle_deg, track.times_s)
    findings = [*_of_cylinders(estimates, found), *_of_marks(marks, setup)]
    if low and not level.is_measured:
        findings.append(finding("level-assumed"))
    if found_by.rests_on_flywheel:
        findings.append(finding("flywheel-decides"))
    if low and found_by.is_two_mass:
        findings.append(finding("two-mass-judged"))
    findings.append(finding("contribution-only"))
    return Report(
        verdict="uneven" if low else "even",
        estimates=estimates,
        candidates=tuple(sets),
        cylinders_known=marks.settles,
        cycles=steps.cycles,
        findings=tuple(findings),
        judged_from_s=float(from_s),
        judged_to_s=float(to_s),
        method=RUNNING,
        sync_note=_note(marks, setup),
        parts=ReportParts(
            firing_angles=firing_angles(setup.firing_order),
            teeth=tooth_figures(track),
            running=RunningFigures(
                rpm=round(idle.rpm, 1),
                wheel=track.pattern,
                is_level_measured=level.is_measured,
                is_two_mass=found_by.is_two_mass,
                grades=tuple(one.grade for one in found),
                missed=tuple(round(one.missed, 3) for one in found),
            ),
        ),
    )


def _pulses_beside(
    waveform: Waveform, setup: AnalysisSetup, edges: Sequence[Floats]
) -> Pulses | None:
    if setup.sync is None:
        return None
    ends_s = [float(end) for side in edges if side.size for end in (side[0], side[-1])]
    channel = channel_named(waveform, setup.sync.channel)
    return find_pulses(waveform, channel, min(ends_s), max(ends_s))


def _events_s(pulses: Pulses | None, track: ToothTrack, idle: IdleStretch) -> Floats | None:
    """Return the strong events while the engine idles: neighbours leak in as lower ones."""
    if pulses is None:
        return None
    from_s, to_s = np.interp([idle.from_deg, idle.to_deg], track.angle_deg, track.times_s)
    inside = (pulses.times_s >= from_s) & (pulses.times_s <= to_s)
    heights = pulses.heights[inside]
    strong = heights > _STRONG * float(np.median(heights)) if heights.size else heights > 0
    return np.asarray(pulses.times_s[inside][strong])


def _call(one: Contribution, setup: AnalysisSetup) -> Call:
    if one.grade == "comes-and-goes" or one.share < setup.suspect_below:
        return "suspect"
    return "watch" if one.share < setup.watch_below else "sound"


def _of_speed(error: SpeedError) -> Finding:
    low, high = f"{error.low_rpm:.0f}", f"{error.high_rpm:.0f}"
    if error.trouble == "not-running":
        return finding("not-running", rpm=high)
    if error.trouble == "too-fast":
        return finding("idle-too-fast", rpm=high)
    if error.trouble == "hunting":
        return finding("idle-unsteady", low=low, high=high, cycles=error.cycles)
    return finding("idle-too-short", cycles=error.cycles, least=error.least)


def _of_cylinders(estimates: Sequence[Estimate], found: Sequence[Contribution]) -> list[Finding]:
    told = []
    for estimate, one in zip(estimates, found, strict=True):
        if estimate.call != "suspect":
            continue
        which = place_words(estimate.cylinder, estimate.position)
        if one.grade == "comes-and-goes":
            missed = f"{100 * one.missed:.0f}"
            told.append(finding("cylinder-comes-and-goes", which=which, missed=missed))
            continue
        told.append(
            finding(
                _WORDINGS[one.grade],
                which=which,
                figure=f"{100 * one.share:.0f}",
                low=f"{100 * one.low:.0f}",
                high=f"{100 * one.high:.0f}",
            )
        )
    return told


def _of_marks(marks: FiringMarks, setup: AnalysisSetup) -> list[Finding]:
    if marks.state == "missing" and setup.sync is not None:
        return [finding("sync-missing", channel=setup.sync.channel)]
    if marks.state == "every-360" and setup.sync is not None:
        return [finding("sync-every-360", channel=setup.sync.channel)]
    return []


def _note(marks: FiringMarks, setup: AnalysisSetup) -> Text:
    sync = setup.sync
    if sync is None or marks.state in ("none", "missing"):
        return say("No sync: positions count from the first firing judged.")
    if marks.state == "no-angle":
        return say(
            "{count} sync events count the engine cycles; no cylinder is named, because their "
            "angle to top dead centre is not known.",
            count=marks.events,
        )
    if not marks.settles:
        return say("Sync events come every 360 degrees: each marks one of two cylinders.")
    return say(
        "Cylinder numbers rest on {count} events of cylinder {cylinder} on channel {channel}, and "
        "on the firing order {order} as entered.",
        count=marks.events,
        cylinder=sync.cylinder,
        channel=sync.channel,
        order=setup.firing_order,
    )


def _intervals_words(setup: AnalysisSetup) -> Text:
    apart = ", ".join(f"{angle:g}" for angle in setup.firing_order.intervals_deg)
    return say(
        "{cylinders} cylinders {apart} degrees apart",
        cylinders=len(setup.firing_order),
        apart=apart,
    )
