"""The way in: judge a capture by whichever signal its channel shows."""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
from threadpoolctl import ThreadpoolController

from engines.core.spacing import firing_angles
from traces.core.crank import FASTEST_RPM
from traces.core.findings import Finding, finding
from traces.core.judging import analyse, analysed, judged, with_findings
from traces.core.preparation import (
    Measured,
    Method,
    Prepared,
    channel_named,
    noticing,
    prepare,
    quality,
)
from traces.core.report import (
    CycleFit,
    Hump,
    Report,
    ReportParts,
    ToothFigures,
    VoltageFigures,
)
from traces.core.setup import SAME_CHANNEL, AnalysisSetup, SetupError
from traces.core.signals import (
    OnceACycle,
    PlainMethod,
    Ripple,
    Sag,
    TeethMethod,
    ToothCycles,
    ToothPreparation,
    ToothTrack,
    WheelError,
    anew,
    clearest_track,
    edge_times_s,
    lower_trust,
    no_teeth,
    or_plain,
    rest_assumed,
    reworded,
    sag_of,
    telling_plainly,
    too_uncertain,
    tooth_cycles,
    turning,
    unscaled,
    volts_factor,
    with_sync_bit,
)
from traces.core.starter import figures_of_teeth, figures_of_voltage
from traces.core.sync import find_pulses
from traces.core.twin import TwinMethod
from traces.core.waveform import Channel, Floats, Waveform

_VOLTAGE_WIDER = 1.15
"""Over the intervals of the starter current; see docs/balance.md for the coverage it gives."""

_FLAT_OF_VOLTAGE, _FLAT_OF_SAG = 0.008, 0.2
_FLAT_UP_TO = 5
"""Up to so many cylinders the dips are this large at least: nearly all simulated engines with
compression have 1.0 % of the voltage and more, with plugs out mostly under 1 %; a measured
four-cylinder engine 2.6 % and 0.7 %. Between the two the shape of the dips has to decide."""

_LONGEST_S = 6 * 3600.0
"""No crank lasts as long; time and memory of an analysis grow with the recording's length."""

_SLOWEST_HZ = 10.0
_METHODS = {"starter-current": "twin", "battery-voltage": "voltage", "crank-teeth": "teeth"}
_LEAST_EDGES = 8
_LEAST_TURNING_S = 1.5
_MOST_POINTS = 3000
_SOUND_AGAIN = 1.0
_LOW_AFTER_ALL = 0.25
"""How far an interval may reach over to the other side of the limit."""

_EVEN_SPEED = ((2, 0.03), (5, 0.05), (7, 0.035), (9, 0.025), (11, 0.016), (99, 0.006))
"""Standard deviation of slowness over an engine cycle, by cylinders, below which nothing is
compressed: three quarters of the least that simulated engines with compression have."""


def judge(waveform: Waveform, setup: AnalysisSetup) -> Report:
    """Judge the compression balance of a capture by the signal that `setup` names.

    Parameters
    ----------
    waveform
        The recording; holds the channels that `setup` names.
    setup
        Engine, signal, sync and limits.

    Returns
    -------
    Report
        `not judged` with a stop finding wherever the capture does not allow a verdict.

    Raises
    ------
    SetupError
        If the recording has no channel of the name entered, or the sync no such bit.
    """
    with _blas().limit(limits=1):
        return _judge(waveform, setup)


@cache
def _blas() -> ThreadpoolController:
    """Return the linear algebra libraries that are loaded.

    The twin's matrices are tiny: threads of theirs cost a third of the processor time, whatever
    the environment says.
    """
    return ThreadpoolController().select(user_api="blas")


def _judge(waveform: Waveform, setup: AnalysisSetup) -> Report:
    waveform = with_sync_bit(waveform, setup)
    if waveform.duration_s > _LONGEST_S:
        hours = f"{waveform.duration_s / 3600:.3g}"
        return _refused(finding("too-long", hours=hours), _METHODS[setup.signal])
    if setup.signal == "starter-current":
        return analyse(waveform, setup)
    channel = channel_named(waveform, setup.current_channel)
    if setup.sync and channel_named(waveform, setup.sync.channel) is channel:
        raise SetupError(SAME_CHANNEL)
    if setup.signal == "battery-voltage":
        report = _by_voltage(waveform, channel, setup)
    else:
        report = _by_teeth(waveform, channel, setup)
    findings = [lower_trust(setup.signal), *reworded(report.findings, setup.signal)]
    if refused := _too_uncertain(report, setup):
        # which of the figures is uncertain is no matter where none is given
        findings = [*(f for f in findings if f.code != "too-uncertain"), *refused]
    empty = [f for f in findings if f.code == "no-compression"]
    if empty:
        # nothing to compare explains whatever else would keep it from being judged
        findings = [empty[0], *(f for f in findings if f.severity != "stop")]
    if any(f.severity == "stop" for f in findings):
        report = replace(report, verdict="not judged", estimates=(), candidates=())
    return with_findings(report, findings)


def _too_uncertain(report: Report, setup: AnalysisSetup) -> list[Finding]:
    """Refuse to guess: a call that its own interval does not carry is none.

    The starter current is warned of only (`verdict_checks`): its intervals are narrow.
    """
    for estimate in report.estimates:
        called = estimate.relative < setup.suspect_below
        if called and estimate.high >= _SOUND_AGAIN:
            return [too_uncertain(setup.signal, estimate)]
        if not called and estimate.low < setup.suspect_below - _LOW_AFTER_ALL:
            return [too_uncertain(setup.signal, estimate)]
    return []


class _WiderTwin:
    """The twin, less sure of itself."""

    name = "voltage"

    def __init__(self, twin: Method, recorded_hz: float) -> None:
        self._twin = twin
        self._recorded_hz = recorded_hz

    def measure(self, prepared: Prepared) -> Measured:
        # the grid is finer than what was recorded
        prepared = replace(prepared, recorded_hz=self._recorded_hz)
        return _wider(self._twin.measure(prepared))


def _wider(measured: Measured) -> Measured:
    return replace(
        measured,
        method_errors=_VOLTAGE_WIDER * measured.method_errors,
        alternatives=tuple(_wider(other) for other in measured.alternatives),
    )


def _by_voltage(waveform: Waveform, channel: Channel, setup: AnalysisSetup) -> Report:
    if np.isfinite(channel.values).sum() < 2:
        return _refused(anew(setup.signal, "no-signal", "stop", channel.name), "voltage")
    if waveform.rate_hz < _SLOWEST_HZ:
        # laid on a finer grid, it would swell to no end
        return _refused(finding("low-rate", rate=f"{waveform.rate_hz:.4g}"), "voltage")
    sag = sag_of(waveform, channel, setup)
    preparation = prepare(sag.waveform, unscaled(setup))
    report = analysed(preparation, _WiderTwin(TwinMethod(), waveform.rate_hz))
    flat = _is_flat(sag.ripple, setup)
    if preparation.prepared is not None and not flat:
        report = or_plain(
            report,
            _too_uncertain(report, setup),
            replace(preparation.prepared, recorded_hz=waveform.rate_hz),
            None,
            lambda plain: analysed(preparation, plain),
        )
    # amps are not known: what was worked out of them falls away, humps are told in volts
    starter = figures_of_voltage(
        report.starter,
        waveform,
        channel,
        volts_factor(channel, setup),
        judged_s=_judged_s(report),
        fuel=setup.fuel,
    )
    report = replace(report, inverted=False, starter=starter, humps=_in_volts(report, sag))
    findings = list(report.findings)
    if report.cranking_rpm is not None:
        hump_hz = len(setup.firing_order) * report.cranking_rpm / 120.0
        findings += quality.check_rate(waveform, hump_hz)
    if flat:
        findings.append(anew(setup.signal, "no-compression", "stop", channel.name))
    if not sag.rest_seen:
        findings.append(rest_assumed(channel.name, float(sag.baseline_v[0])))
    fit = report.parts.cycle_fit
    parts = replace(
        report.parts,
        twin=None,  # its figures are those of a current
        voltage=VoltageFigures(rest_v=round(float(np.median(sag.baseline_v)), 3)),
        cycle_fit=_fit_in_volts(fit, report, sag) if fit else None,
    )
    return replace(report, findings=tuple(findings), parts=parts)


def _judged_s(report: Report) -> tuple[float, float] | None:
    if report.judged_from_s is None or report.judged_to_s is None:
        return None
    return report.judged_from_s, report.judged_to_s


def _in_volts(report: Report, sag: Sag) -> tuple[Hump, ...]:
    return tuple(
        replace(
            hump,
            current_a=sag.baseline_at(hump.at_s) - hump.current_a / sag.per_volt,
            height_a=hump.height_a / sag.per_volt,
        )
        for hump in report.humps
    )


def _fit_in_volts(fit: CycleFit, report: Report, sag: Sag) -> CycleFit:
    """Return the fitted cycle with its level in volts of sag below `rest`."""
    middle_s = ((report.judged_from_s or 0.0) + (report.judged_to_s or 0.0)) / 2
    rest_v = sag.baseline_at(middle_s) - fit.rest / sag.per_volt
    level_v = None if fit.level is None else round(fit.level / sag.per_volt, 4)
    return replace(fit, level=level_v, rest=round(rest_v, 4))


def _is_flat(ripple: Ripple | None, setup: AnalysisSetup) -> bool:
    if ripple is None or not 3 <= len(setup.firing_order) <= _FLAT_UP_TO:
        return False
    return ripple.of_voltage < _FLAT_OF_VOLTAGE and ripple.of_sag < _FLAT_OF_SAG


def _by_teeth(waveform: Waveform, channel: Channel, setup: AnalysisSetup) -> Report:
    edges = edge_times_s(waveform, channel)
    if max(side.size for side in edges) < _LEAST_EDGES:
        return _refused(anew(setup.signal, "no-signal", "stop", channel.name), "teeth")
    try:
        beside = _events_beside(waveform, setup, edges)
        track = clearest_track(edges, setup.wheel, setup.firing_order, beside)
    except WheelError as error:
        lasted_s = max(float(np.ptp(side)) for side in edges if side.size)
        if lasted_s < _LEAST_TURNING_S:
            return _refused(quality.check_cycles_left(0)[0], "teeth")
        return _refused(no_teeth(channel.name, error.why), "teeth")
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
            track.times_s, track.angle_deg, judged_s=_judged_s(report), fuel=setup.fuel
        ),
    )
    if track.usual_rpm > FASTEST_RPM:
        found = noticing(found, [anew(setup.signal, "engine-caught", "stop", channel.name)])
    elif track.ran:
        found = noticing(found, [anew(setup.signal, "engine-caught", "warn", channel.name)])
    if track.usual_rpm <= FASTEST_RPM and _turns_evenly(track, cycles, setup):
        found = noticing(found, [anew(setup.signal, "no-compression", "stop", channel.name)])
    teeth = _tooth_figures(track, cycles, report.cranking_rpm or 0.0)
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

    return or_plain(fitted, _too_uncertain(fitted, setup), prepared, cycles, judge_plainly)


def _in_rpm(report: Report, track: ToothTrack) -> tuple[Hump, ...]:
    """Return the humps of slowness as dips of speed."""
    middle_s = (track.times_s[:-1] + track.times_s[1:]) / 2
    dips = []
    for hump in report.humps:
        rpm = float(np.interp(hump.at_s, middle_s, track.speeds_deg_s)) / 6.0
        dip = rpm * hump.height_a / max(hump.current_a, 1e-9)
        dips.append(replace(hump, current_a=rpm, height_a=dip))
    return tuple(dips)


def _tooth_figures(track: ToothTrack, cycles: ToothCycles | None, rpm: float) -> ToothFigures:
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


def _refused(finding: Finding, method: str) -> Report:
    return Report(verdict="not judged", findings=(finding,), method=method)
