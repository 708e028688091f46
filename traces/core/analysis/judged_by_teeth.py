"""Crank teeth judged: the twin on the slowness of the crank, or a plain reading."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from engines.core.spacing import firing_angles
from traces.core.crank import FASTEST_RPM
from traces.core.judging import judged, with_findings
from traces.core.preparation import Prepared, channel_named, noticing, quality
from traces.core.report import Hump, Report, ReportParts, ToothFigures
from traces.core.setup import AnalysisSetup, SetupError
from traces.core.signals import (
    OnceACycle,
    PlainMethod,
    TeethMethod,
    ToothCycles,
    ToothPreparation,
    ToothTrack,
    WheelError,
    anew,
    check_certainty,
    clearest_track,
    edge_times_s,
    no_teeth,
    or_plain,
    telling_plainly,
    tooth_cycles,
    turning,
)
from traces.core.starter import figures_of_teeth
from traces.core.sync import find_pulses
from traces.core.waveform import Floats, Waveform

_LEAST_EDGES = 8
_LEAST_TURNING_S = 1.5
_MOST_POINTS = 3000
_EVEN_SPEED = ((2, 0.03), (5, 0.05), (7, 0.035), (9, 0.025), (11, 0.016), (99, 0.006))
"""Standard deviation of slowness over an engine cycle, by cylinders, below which nothing is
compressed: three quarters of the least that simulated engines with compression have."""


def prepared(waveform: Waveform, setup: AnalysisSetup) -> Prepared | None:
    """Return what a method is given of the teeth; None where they cannot be judged.

    Raises
    ------
    SetupError
        If the edges make no wheel.
    """
    channel = channel_named(waveform, setup.current_channel)
    try:
        track = clearest_track(edge_times_s(waveform, channel), setup.wheel)
    except WheelError as error:
        raise SetupError(str(error)) from None
    return turning(waveform, channel, track, setup).prepared


def judge(waveform: Waveform, setup: AnalysisSetup) -> Report:
    """Judge a capture by the channel of the crank sensor, in the words of shared checks.

    Parameters
    ----------
    waveform
        The recording.
    setup
        Engine, channel, wheel, sync and limits.
    """
    channel = channel_named(waveform, setup.current_channel)
    edges = edge_times_s(waveform, channel)
    if max(side.size for side in edges) < _LEAST_EDGES:
        return Report.refused(anew(setup.signal, "no-signal", "stop", channel.name), "teeth")
    try:
        beside = _events_beside(waveform, setup, edges)
        track = clearest_track(edges, setup.wheel, setup.firing_order, beside)
    except WheelError as error:
        lasted_s = max(float(np.ptp(side)) for side in edges if side.size)
        if lasted_s < _LEAST_TURNING_S:
            return Report.refused(quality.check_cycles_left(0)[0], "teeth")
        return Report.refused(no_teeth(channel.name, error.why), "teeth")
    found = turning(waveform, channel, track, setup)
    cycles = tooth_cycles(track, found)
    report = Report(
        verdict="not judged",
        method="teeth",
        cranking_rpm=found.cranking.rpm if found.cranking else track.usual_rpm,
        sync_events_s=tuple(float(t) for t in found.sync.events_s),
        judged_from_s=found.cranking.steady_from_s if found.cranking else None,
        judged_to_s=found.cranking.steady_to_s if found.cranking else None,
        parts=ReportParts(cycle_uses=found.cycle_uses),
    )
    report = replace(
        report,
        starter=figures_of_teeth(
            track.times_s, track.angle_deg, judged_s=report.judged_s, fuel=setup.fuel
        ),
    )
    if track.usual_rpm > FASTEST_RPM:
        found = noticing(found, [anew(setup.signal, "engine-caught", "stop", channel.name)])
    elif track.ran:
        found = noticing(found, [anew(setup.signal, "engine-caught", "warn", channel.name)])
    if track.usual_rpm <= FASTEST_RPM and _turns_evenly(track, cycles, setup):
        found = noticing(found, [anew(setup.signal, "no-compression", "stop", channel.name)])
    teeth = tooth_figures(track, cycles, report.cranking_rpm or 0.0)
    report = _judged_by_teeth(report, found, cycles, setup)
    parts = replace(report.parts, firing_angles=firing_angles(setup.firing_order), teeth=teeth)
    return replace(report, humps=_in_rpm(report, track), parts=parts)


def _events_beside(
    waveform: Waveform, setup: AnalysisSetup, edges: Sequence[Floats]
) -> OnceACycle | None:
    if setup.sync is None:
        return None
    channel = channel_named(waveform, setup.sync.channel)
    ends_s = [float(end) for side in edges if side.size for end in (side[0], side[-1])]
    pulses = find_pulses(waveform, channel, min(ends_s), max(ends_s))
    return OnceACycle(pulses.times_s, setup.sync.every_deg)


def _judged_by_teeth(
    report: Report, found: ToothPreparation, cycles: ToothCycles | None, setup: AnalysisSetup
) -> Report:
    prepared = found.prepared
    if prepared is None or cycles is None or found.stopped:
        refused = with_findings(report, found.findings)
        if found.readable is None or cycles is None:
            return refused
        return telling_plainly(refused, found.readable, cycles)
    fitted = judged(report, prepared, TeethMethod(cycles).measure(prepared), found.findings)

    def judge_plainly(plain: PlainMethod) -> Report:
        named = replace(report, method=plain.name)
        return judged(named, prepared, plain.measure(prepared), found.findings)

    return or_plain(fitted, check_certainty(fitted, setup), prepared, cycles, judge_plainly)


def _in_rpm(report: Report, track: ToothTrack) -> tuple[Hump, ...]:
    """Return the humps of slowness as dips of speed."""
    middle_s = (track.times_s[:-1] + track.times_s[1:]) / 2
    dips = []
    for hump in report.humps:
        rpm = float(np.interp(hump.at_s, middle_s, track.speeds_deg_s)) / 6.0
        dip = rpm * hump.height_a / max(hump.current_a, 1e-9)
        dips.append(replace(hump, current_a=rpm, height_a=dip))
    return tuple(dips)


def tooth_figures(
    track: ToothTrack, cycles: ToothCycles | None = None, rpm: float = 0.0
) -> ToothFigures:
    """Return the wheel and its speed; over time, for the plot, thinned where teeth are many."""
    every = -(-track.times_s.size // _MOST_POINTS)
    times_s, angle_deg = track.times_s[::every], track.angle_deg[::every]
    speed_rpm = np.diff(angle_deg) / np.diff(times_s) / 6.0
    middle_s = (times_s[:-1] + times_s[1:]) / 2
    return ToothFigures(
        teeth=track.teeth,
        missing=track.missing,
        pattern=track.pattern,
        speed_at_s=tuple(round(float(t), 5) for t in middle_s),
        speed_rpm=tuple(round(float(v), 1) for v in speed_rpm),
        speed_by_angle=() if cycles is None else _speed_by_angle(cycles, rpm),
    )


def _turns_evenly(track: ToothTrack, cycles: ToothCycles | None, setup: AnalysisSetup) -> bool:
    """Return whether the speed swings too little for any compression."""
    least = next(share for most, share in _EVEN_SPEED if len(setup.firing_order) <= most)
    if cycles is not None:
        slow = cycles.slowness
        return float(np.sqrt(np.average((slow - 1) ** 2, weights=cycles.widths_deg))) < least
    # too short to fold: about its slow course
    slow, widths = 1.0 / track.speeds_deg_s, np.diff(track.angle_deg)
    at = (track.angle_deg[1:] + track.angle_deg[:-1]) / 2
    course = np.polynomial.Polynomial.fit(at, slow, 2, w=np.sqrt(widths))(at)
    spread = float(np.sqrt(np.average((slow - course) ** 2, weights=widths)))
    return spread < least * float(np.average(slow, weights=widths))


def _speed_by_angle(cycles: ToothCycles, rpm: float) -> tuple[tuple[float, float], ...]:
    """Return crank angle within the cycle and speed there, for the picture."""
    ends = np.cumsum(cycles.widths_deg)
    middle = ends - cycles.widths_deg / 2 + cycles.late_deg
    speed = rpm / cycles.slowness
    return tuple(
        (round(float(a), 1), round(float(s), 1)) for a, s in zip(middle, speed, strict=True)
    )
