"""Battery voltage judged: the twin on its sag, or a plain reading where that does not fit."""

from dataclasses import replace

import numpy as np

from traces.core.findings import finding
from traces.core.judging import analysed
from traces.core.preparation import Measured, Method, Prepared, channel_named, prepare, quality
from traces.core.report import CycleFit, Hump, Report, VoltageFigures
from traces.core.setup import AnalysisSetup
from traces.core.signals import (
    Ripple,
    Sag,
    anew,
    check_certainty,
    or_plain,
    rest_assumed,
    sag_of,
    unscaled,
    volts_factor,
)
from traces.core.starter import figures_of_voltage
from traces.core.twin import TwinMethod
from traces.core.waveform import Waveform

_VOLTAGE_WIDER = 1.15
"""Over the intervals of the starter current; see docs/balance.md for the coverage it gives."""

_FLAT_OF_VOLTAGE, _FLAT_OF_SAG = 0.008, 0.2
_FLAT_UP_TO = 5
"""Up to so many cylinders the dips are this large at least: nearly all simulated engines with
compression have 1.0 % of the voltage and more, with plugs out mostly under 1 %; a measured
four-cylinder engine 2.6 % and 0.7 %. Between the two the shape of the dips has to decide."""

_SLOWEST_HZ = 10.0


def prepared(waveform: Waveform, setup: AnalysisSetup) -> Prepared | None:
    """Return what a method is given of the sag; None where it cannot be judged."""
    channel = channel_named(waveform, setup.current_channel)
    return prepare(sag_of(waveform, channel, setup).waveform, unscaled(setup)).prepared


def judge(waveform: Waveform, setup: AnalysisSetup) -> Report:
    """Judge a capture by the channel of the battery's voltage, in the words of shared checks.

    Parameters
    ----------
    waveform
        The recording.
    setup
        Engine, channel, sync and limits.
    """
    channel = channel_named(waveform, setup.current_channel)
    if np.isfinite(channel.values).sum() < 2:
        return Report.refused(anew(setup.signal, "no-signal", "stop", channel.name), "voltage")
    if waveform.rate_hz < _SLOWEST_HZ:
        # laid on a finer grid, it would swell to no end
        return Report.refused(finding("low-rate", rate=f"{waveform.rate_hz:.4g}"), "voltage")
    sag = sag_of(waveform, channel, setup)
    preparation = prepare(sag.waveform, unscaled(setup))
    report = analysed(preparation, _WiderTwin(TwinMethod(), waveform.rate_hz))
    flat = _is_flat(sag.ripple, setup)
    if preparation.prepared is not None and not flat:
        report = or_plain(
            report,
            check_certainty(report, setup),
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
        judged_s=report.judged_s,
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
