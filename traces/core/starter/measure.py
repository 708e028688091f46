"""Starter and battery figures of one capture, judged or not."""

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing

from engines.core.firing import CYCLE_DEG
from shopdiag.people.core.words import NOTHING, Text, say
from traces.core.crank import CrankSpan
from traces.core.preparation import Preparation, doubt_scale
from traces.core.report import FIGURES, StarterFigures, StarterNote
from traces.core.starter import typical
from traces.core.starter.battery_voltage import measure_voltage
from traces.core.starter.inrush import FAST_ENOUGH_HZ, find_inrush, start_slice
from traces.core.starter.sheet import MID_CRANK, START_LOST, TOO_SHORT, Sheet, StarterSheet
from traces.core.starter.speed import trend_of
from traces.core.starter.stretch import Stretch, find_stretch, mean_over
from traces.core.waveform import Conditioned, amps_per_unit

_NO_CYCLE = say(
    "The engine's cycle is not known here, so the speed cannot be read from the current."
)
_TRENDS = ("trend_rpm_per_s", "trend_low_rpm_per_s", "trend_high_rpm_per_s")
_SETTLED_WITHIN = 0.10
_LEAST_PULSES = 4
_REGULAR_WITHIN = 0.1
_REGULAR_SHARE = 0.7


def starter_figures(done: Preparation) -> StarterFigures | None:
    """Return what a crank says about starter and battery.

    Parameters
    ----------
    done
        A prepared capture, fit to be judged or not.

    Returns
    -------
    StarterFigures or None
        None where no crank was found.
    """
    conditioned, span = done.conditioned, done.span
    if conditioned is None or span is None or any(f.code == "no-signal" for f in done.findings):
        return None
    stretch = find_stretch(done, conditioned, span)
    crank = StarterSheet(done, conditioned, span, stretch, _why_no_amps(done, conditioned, span))
    sheet = Sheet()
    _measure_inrush(sheet, crank)
    if stretch is None:
        sheet.unknown(TOO_SHORT, "mean_current_a", "whole_cycles", "run_up_s")
    else:
        _measure_mean(sheet, crank, stretch)
        _measure_run_up(sheet, crank, stretch)
    _measure_speed(sheet, crank)
    measure_voltage(sheet, crank)
    figures = {name: sheet.values.get(name) for name in FIGURES}
    cycles = figures.pop("whole_cycles")
    return StarterFigures(
        **figures,
        whole_cycles=None if cycles is None else int(cycles),
        not_known=dict(sheet.not_known),
        limited=dict(sheet.limited),
        notes=tuple(_notes(sheet, done, fell_away=stretch is not None and stretch.fell_away)),
    )


def _why_no_amps(done: Preparation, conditioned: Conditioned, span: CrankSpan) -> Text:
    """Return why amps must not be shown; nothing where they may be."""
    if not conditioned.amps_known:
        return say(
            "The file does not say how many volts full scale is, so amps are not known; enter it."
        )
    if any(f.code == "wrong-conductor" for f in done.findings):
        return say("The clamp did not hold the starter's cable, so these are not its amps.")
    if _is_scale_doubted(done, span):
        return say(
            "The clamp's scale looks wrong, so amps are not shown; check its mV/A switch first."
        )
    return NOTHING


def _is_scale_doubted(done: Preparation, span: CrankSpan) -> bool:
    """Return whether the mean current is none of this engine, however far the capture got."""
    if any(f.code == "scale-implausible" and f.severity == "warn" for f in done.findings):
        return True
    if done.cranking is not None:
        return False
    setup = done.setup
    return doubt_scale(span.level_a, len(setup.firing_order), setup.fuel) is not None


def _measure_inrush(sheet: Sheet, crank: StarterSheet) -> None:
    done, span = crank.done, crank.span
    if not span.start_seen or span.rest_a is None:
        sheet.unknown(MID_CRANK, "start_s", "inrush_peak_a", "inrush_at_s", "run_up_s")
        return
    factor, _ = amps_per_unit(done.clamp, done.setup)
    signed = -factor if crank.conditioned.inverted else factor
    cut = start_slice(done.waveform, done.clamp, signed, span.from_s)
    if cut is None:
        sheet.unknown(START_LOST, "start_s", "inrush_peak_a", "inrush_at_s", "run_up_s")
        return
    inrush = find_inrush(cut, span.rest_a)
    sheet.values |= {"start_s": inrush.start_s, "inrush_at_s": inrush.at_s}
    if crank.amps_hidden:
        sheet.unknown(crank.amps_hidden, "inrush_peak_a")
        return
    sheet.values["inrush_peak_a"] = inrush.peak_a
    if inrush.cut_off or crank.has("clipped"):
        sheet.inrush_cut_off = True
        sheet.limited["inrush_peak_a"] = say(
            "The true peak is higher: the recording is cut off at it; use a larger range."
        )
    elif done.waveform.rate_hz < FAST_ENOUGH_HZ:
        sheet.limited["inrush_peak_a"] = say(
            "The true peak is higher: {rate_hz} samples a second are too few for it; "
            "record at {fast_enough_hz} or more.",
            rate_hz=f"{done.waveform.rate_hz:.4g}",
            fast_enough_hz=f"{FAST_ENOUGH_HZ:.0f}",
        )


def _measure_mean(sheet: Sheet, crank: StarterSheet, stretch: Stretch) -> None:
    cut_off = next((f.seen for f in crank.done.findings if f.code == "clipped"), NOTHING)
    if crank.amps_hidden or cut_off:
        sheet.unknown(crank.amps_hidden or cut_off, "mean_current_a")
    else:
        above = crank.conditioned.current_a - stretch.zero_a
        sheet.values["mean_current_a"] = mean_over(above, crank.conditioned, stretch)
        if not stretch.zero_known:
            sheet.limited["mean_current_a"] = say(
                "No rest was recorded, so the clamp's own zero error is in it."
            )
        elif stretch.cycles is None:
            sheet.limited["mean_current_a"] = say(
                "Taken over time, not over whole engine cycles, because those are not known."
            )
    if stretch.cycles is None:
        sheet.unknown(_why_no_cycle(crank.done), "whole_cycles")
    else:
        sheet.values["whole_cycles"] = float(stretch.cycles.whole)


def _measure_run_up(sheet: Sheet, crank: StarterSheet, stretch: Stretch) -> None:
    """Find when the current of one firing first comes down to its later mean."""
    conditioned = crank.conditioned
    start_s = sheet.values.get("start_s")
    if start_s is None:
        return
    if stretch.cycles is None:
        sheet.unknown(_why_no_cycle(crank.done), "run_up_s")
        return
    above = conditioned.current_a - stretch.zero_a
    level = mean_over(above, conditioned, stretch)
    cycle_s = 120.0 / stretch.cycles.rpm
    firings = len(crank.done.setup.firing_order)
    window = max(3, round(cycle_s / firings * conditioned.rate_hz))
    smooth = scipy.ndimage.uniform_filter1d(above, window, mode="nearest")
    first, last = (conditioned.index_of(t) for t in (start_s, stretch.to_s))
    first += int(np.argmax(smooth[first : first + round(conditioned.rate_hz)]))
    settled = np.flatnonzero(smooth[first : last + 1] < (1 + _SETTLED_WITHIN) * level)
    if settled.size == 0:
        sheet.unknown(say("The current does not settle in this recording."), "run_up_s")
        return
    at_s = conditioned.t0_s + (first + int(settled[0])) / conditioned.rate_hz
    sheet.values["run_up_s"] = at_s - start_s


def _measure_speed(sheet: Sheet, crank: StarterSheet) -> None:
    stretch, conditioned = crank.stretch, crank.conditioned
    if stretch is None or stretch.cycles is None or stretch.count is None:
        why = TOO_SHORT if stretch is None else _why_no_cycle(crank.done)
        sheet.unknown(why, *_TRENDS)
        rpm = _speed_of_pulses(crank.done)
        if rpm is None:
            sheet.unknown(why, "cranking_rpm")
            return
        sheet.values["cranking_rpm"] = rpm
        sheet.limited["cranking_rpm"] = say("From the sync events alone.")
        return
    sheet.values["cranking_rpm"] = stretch.cycles.rpm
    trend = trend_of(stretch.cycles, conditioned.times_s, stretch.count, conditioned.current_a)
    if trend is None:
        sheet.unknown(say("A trend takes five engine cycles or more; crank longer."), *_TRENDS)
        return
    found = (trend.rpm_per_s, trend.low_rpm_per_s, trend.high_rpm_per_s)
    sheet.values |= dict(zip(_TRENDS, found, strict=True))


def _speed_of_pulses(done: Preparation) -> float | None:
    """Return the speed from regular sync events; None where there are none."""
    if done.pulses is None or done.setup.sync is None:
        return None
    strong = done.pulses.heights >= 0.5 * done.pulses.heights.max(initial=0.0)
    times_s = done.pulses.times_s[strong]
    if times_s.size < _LEAST_PULSES:
        return None
    apart_s = np.diff(times_s)
    usual_s = float(np.median(apart_s))
    regular = np.abs(apart_s / usual_s - 1.0) < _REGULAR_WITHIN
    if float(regular.mean()) < _REGULAR_SHARE:
        return None
    return 120.0 * done.setup.sync.every_deg / CYCLE_DEG / usual_s


def _why_no_cycle(done: Preparation) -> Text:
    return next((f.seen for f in done.findings if f.severity == "stop"), _NO_CYCLE)


def _notes(sheet: Sheet, done: Preparation, *, fell_away: bool) -> list[StarterNote]:
    """Lay what was found beside typical figures."""
    values, setup = sheet.values, done.setup
    found: list[StarterNote | None] = []
    if "mean_current_a" in values:
        cylinders = len(setup.firing_order)
        found.append(typical.draw_note(values["mean_current_a"], cylinders, setup.fuel))
    if "cranking_rpm" in values:
        rpm = values["cranking_rpm"]
        found.append(typical.speed_note(rpm, setup.fuel))
        if "trend_rpm_per_s" in values and not fell_away:
            found.append(
                typical.trend_note(rpm, values["trend_rpm_per_s"], values["trend_high_rpm_per_s"])
            )
    found.extend(typical.voltage_notes(values))
    for name in ("ripple_resistance_mohm", "inrush_resistance_mohm"):
        if name in values:
            found.append(typical.resistance_note(values[name], name))
            break
    return [note for note in found if note is not None]
