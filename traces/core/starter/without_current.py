"""Starter figures where no current was recorded: the battery's voltage or the crank's teeth."""

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing

from shopdiag.people.core.words import Text, say
from traces.core.report import FIGURES, StarterFigures, StarterNote
from traces.core.setup import Fuel
from traces.core.starter import typical
from traces.core.starter.inrush import start_slice, why_lower
from traces.core.starter.sheet import MID_CRANK, START_LOST, TOO_SHORT
from traces.core.starter.speed import LEAST_CYCLES, SPREAD, parabola
from traces.core.waveform import Channel, Floats, Waveform

_NO_CURRENT = say("No current was recorded.")
_NO_VOLTAGE = say("No battery voltage was recorded.")
_NO_TREND = say("A trend takes five engine cycles or more; crank longer.")
_SPEED = (
    "whole_cycles",
    "cranking_rpm",
    "trend_rpm_per_s",
    "trend_low_rpm_per_s",
    "trend_high_rpm_per_s",
)
_KEPT = ("start_s", "run_up_s", *_SPEED)
_REST_S = 0.03


def figures_of_voltage(
    of_sag: StarterFigures | None,
    waveform: Waveform,
    channel: Channel,
    factor_v: float,
    *,
    judged_s: tuple[float, float] | None,
    fuel: Fuel,
) -> StarterFigures | None:
    """Return what the battery's voltage alone says.

    Parameters
    ----------
    of_sag
        Figures found with the sag in place of the current; its times and speeds hold, its
        amps do not.
    waveform, channel
        The recording and its battery channel.
    factor_v
        From the channel's values to volts.
    judged_s
        The steady part, in the file's own time; None where there is none.
    fuel
        For the typical speed.
    """
    if of_sag is None:
        return None
    values: dict[str, float | None] = {name: getattr(of_sag, name) for name in _KEPT}
    missing = {name: why for name, why in of_sag.not_known.items() if name in _KEPT}
    limited = {name: why for name, why in of_sag.limited.items() if name in _KEPT}
    times_s = waveform.t0_s + np.arange(waveform.samples) / waveform.rate_hz
    volts = channel.values.astype(np.float64) * factor_v
    start_s = of_sag.start_s
    before = volts[times_s < start_s - _REST_S] if start_s is not None else volts[:0]
    if np.isfinite(before).sum() >= 5:
        values["rest_v"] = float(np.nanmedian(before))
    cut = start_slice(waveform, channel, factor_v, start_s) if start_s is not None else None
    if cut is not None:
        values["inrush_minimum_v"] = float(cut.values.min())
        if why := why_lower(cut, waveform.rate_hz):
            limited["inrush_minimum_v"] = why
    if judged_s is not None:
        inside = volts[(times_s >= judged_s[0]) & (times_s <= judged_s[1])]
        if np.isfinite(inside).any():
            values["mean_cranking_v"] = float(np.nanmean(inside))
    reasons = {
        "rest_v": MID_CRANK,
        "inrush_minimum_v": START_LOST if start_s is not None else MID_CRANK,
        "mean_cranking_v": TOO_SHORT,
    }
    return _completed(values, missing | reasons, limited, _NO_CURRENT, _notes(values, fuel))


def figures_of_teeth(
    times_s: Floats, angle_deg: Floats, *, judged_s: tuple[float, float] | None, fuel: Fuel
) -> StarterFigures:
    """Return speed and trend from the crank's teeth.

    Parameters
    ----------
    times_s, angle_deg
        When each tooth passes and the crank angle then, shape (teeth,), rising.
    judged_s
        The steady part; None takes all of it.
    fuel
        For the typical speed.
    """
    if judged_s is not None:
        inside = (times_s >= judged_s[0]) & (times_s <= judged_s[1])
        if int(inside.sum()) >= 2:
            times_s, angle_deg = times_s[inside], angle_deg[inside]
    cycles = int((angle_deg[-1] - angle_deg[0]) // 720.0)
    values: dict[str, float | None] = {}
    if cycles >= 1:
        # whole cycles: inside one the speed swings with every compression
        edges_deg = angle_deg[-1] - 720.0 * np.arange(cycles, -1, -1)
        edges_s = np.interp(edges_deg, angle_deg, times_s)
        values["whole_cycles"] = cycles
        values["cranking_rpm"] = 120.0 * cycles / float(edges_s[-1] - edges_s[0])
        if cycles >= LEAST_CYCLES:
            fitted = parabola(edges_s - edges_s.mean(), np.arange(cycles + 1.0))
            trend, error = (240.0 * float(v[2]) for v in (fitted.coefficients, fitted.errors))
            half = float(scipy.stats.t.ppf(0.5 + SPREAD / 2, cycles - 2)) * error
            values["trend_rpm_per_s"] = trend
            values["trend_low_rpm_per_s"] = trend - half
            values["trend_high_rpm_per_s"] = trend + half
    reasons = dict.fromkeys(_SPEED, _NO_TREND if cycles else TOO_SHORT)
    reasons |= {name: _NO_VOLTAGE for name in FIGURES if name.endswith("_v")}
    return _completed(values, reasons, {}, _NO_CURRENT, _notes(values, fuel))


def _completed(
    values: dict[str, float | None],
    reasons: dict[str, Text],
    limited: dict[str, Text],
    otherwise: Text,
    notes: tuple[StarterNote, ...],
) -> StarterFigures:
    """Fill the figures in; whatever is not there gets its reason or the general one."""
    figures = {name: values.get(name) for name in FIGURES}
    absent = {name: reasons.get(name, otherwise) for name in FIGURES if figures[name] is None}
    cycles = figures.pop("whole_cycles")
    return StarterFigures(
        **figures,
        whole_cycles=None if cycles is None else int(cycles),
        not_known=absent,
        limited=limited,
        notes=notes,
    )


def _notes(values: dict[str, float | None], fuel: Fuel) -> tuple[StarterNote, ...]:
    rpm = values.get("cranking_rpm")
    speed = [] if rpm is None else [typical.speed_note(rpm, fuel)]
    return (*speed, *typical.voltage_notes(values))
