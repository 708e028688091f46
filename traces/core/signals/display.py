"""How each signal is drawn and named: the same on pages, papers and in the plot."""

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing

from engines.core.content import translated
from traces.core.report import Report
from traces.core.setup import AnalysisSetup
from traces.core.signal_kinds import Shown, Signal, kind_of
from traces.core.signals.bits import replaced
from traces.core.signals.sag import unscaled, volts_of
from traces.core.waveform import GRID_HZ, Channel, Floats, Waveform, condition

_SMOOTH_S = 8e-3


def shown_as(signal: Signal) -> Shown:
    """Return how a signal is drawn and named."""
    return translated(kind_of(signal).shown)


def speed_curve(report: Report) -> tuple[Floats, Floats]:
    """Return times and crank speed in rpm from a report of crank teeth; empty where it has none."""
    teeth = report.parts.teeth
    at_s, rpm = (teeth.speed_at_s, teeth.speed_rpm) if teeth else ((), ())
    return np.array(at_s, dtype=np.float64), np.array(rpm, dtype=np.float64)


def evidence_curve(
    part: Waveform, channel: Channel, setup: AnalysisSetup, report: Report
) -> tuple[Floats, Floats]:
    """Return what the evidence picture of another signal draws.

    Parameters
    ----------
    part
        The stretch of the recording with some margin; holds `channel`, the one judged.
    report
        Of the run.

    Returns
    -------
    tuple of Floats
        Times in the file's own time, and sag in volts or slowness in per cent of its mean.
    """
    if setup.kind.plots_speed:
        at_s, rpm = speed_curve(report)
        if at_s.size < 2:
            return at_s, rpm
        times_s = np.arange(at_s[0], at_s[-1], 1 / GRID_HZ)
        slow = 100.0 * (report.cranking_rpm or float(np.median(rpm))) / np.maximum(rpm, 1.0)
        curve = np.interp(times_s, at_s, slow)
        return times_s, np.asarray(scipy.ndimage.gaussian_filter1d(curve, _SMOOTH_S * GRID_HZ))
    volts = volts_of(channel, setup)
    told = report.parts.voltage
    rest_v = told.rest_v if told else float(np.nanmax(volts))
    sag = Channel(channel.name, "A", (rest_v - volts).astype(np.float32))
    conditioned = condition(replaced(part, channel, sag), sag, unscaled(setup))
    return conditioned.times_s, conditioned.current_a
