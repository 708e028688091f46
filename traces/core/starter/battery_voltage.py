"""Battery voltage over a crank, and the source's resistance."""

import math

import numpy as np

from shopdiag.people.core.words import say
from traces.core.setup import AnalysisSetup
from traces.core.starter.inrush import INRUSH_S, start_slice, why_lower
from traces.core.starter.resistance import Resistance, resistance_of_inrush, resistance_of_ripple
from traces.core.starter.sheet import MID_CRANK, START_LOST, TOO_SHORT, Sheet, StarterSheet
from traces.core.starter.stretch import caught, mean_over
from traces.core.waveform import Channel, Floats, beside

_LEVELS = (
    "rest_v",
    "inrush_minimum_v",
    "mean_cranking_v",
    "recovered_v",
    "open_circuit_drop_v",
)
_OF_INRUSH = ("inrush_resistance_mohm", "inrush_resistance_error_mohm")
_OF_RIPPLE = ("ripple_resistance_mohm", "ripple_resistance_error_mohm")
_RESISTANCES = (*_OF_INRUSH, *_OF_RIPPLE, "steady_resistance_mohm")

_NOT_RECORDED = say("No battery voltage was recorded beside the current.")
_NO_AFTER = say("The recording ends with the crank; let it run on for half a second.")
_RAN = say("The engine ran or the current fell away during the crank, so this is no rest after it.")
_NOT_FOLLOWING = say(
    "The voltage does not fall as the current rises, or other things move it; check both channels."
)
_NOT_ALONE_OHMIC = say(
    "Not ohmic alone: polarisation, charge drawn and loads switched off while cranking are in it."
)
_REST_S = 0.03
_AFTER_S = (0.1, 0.5)
_LEAST_AFTER_S = 0.15
_BEFORE_S = 0.05
_BATTERY_V = (5.0, 60.0)
_APART_SHARE = 0.15


def measure_voltage(sheet: Sheet, crank: StarterSheet) -> None:
    """Put the voltages and resistances of a crank on the sheet, or why they are not known."""
    done = crank.done
    channel = done.battery
    if channel is None:
        sheet.unknown(_NOT_RECORDED, *_LEVELS, *_RESISTANCES)
        return
    factor = volts_per_unit(channel, done.setup)
    if factor is None or not channel.holds(8):
        why = say("Channel {name} holds no volts; choose the battery's channel.", name=channel.name)
        sheet.unknown(why, *_LEVELS, *_RESISTANCES)
        return
    volts = factor * beside(crank.conditioned, done.waveform, channel)
    if float(np.median(volts)) < 0:  # the probe's leads were swapped
        volts, factor = -volts, -factor
    _measure_levels(sheet, crank, volts)
    _measure_minimum(sheet, crank, channel, factor)
    if crank.amps_hidden:
        sheet.unknown(crank.amps_hidden, *_RESISTANCES)
    elif crank.has("clipped"):
        sheet.unknown(
            say("The current is cut off, so no resistance follows from it."), *_RESISTANCES
        )
    else:
        _measure_inrush_slope(sheet, crank, volts)
        _measure_ripple_slope(sheet, crank, volts)
        _compare(sheet)


def volts_per_unit(channel: Channel, setup: AnalysisSetup) -> float | None:
    """Return the factor from a channel's values to volts; None where it holds no volts."""
    unit = (channel.unit or "").casefold()
    if unit == "":
        return setup.full_scale_v or 1.0
    return {"v": 1.0, "mv": 1e-3}.get(unit)


def _measure_levels(sheet: Sheet, crank: StarterSheet, volts: Floats) -> None:
    span, conditioned = crank.span, crank.conditioned
    before = volts[conditioned.times_s < span.from_s - _REST_S]
    if span.start_seen and before.size >= 5:
        sheet.values["rest_v"] = float(np.median(before))
    else:
        sheet.unknown(MID_CRANK, "rest_v", "open_circuit_drop_v")
    if crank.stretch is None:
        sheet.unknown(TOO_SHORT, "mean_cranking_v")
    else:
        sheet.values["mean_cranking_v"] = mean_over(volts, conditioned, crank.stretch)
    _measure_recovery(sheet, crank, volts)
    level_v = sheet.values.get("rest_v", float(np.max(volts)))
    if not _BATTERY_V[0] <= level_v <= _BATTERY_V[1]:
        known = "rest_v" if "rest_v" in sheet.values else "mean_cranking_v"
        sheet.limited[known] = say(
            "{level_v} V is no car battery; check the channel and its probe's divider.",
            level_v=f"{level_v:.2f}",
        )


def _measure_recovery(sheet: Sheet, crank: StarterSheet, volts: Floats) -> None:
    names = ("recovered_v", "open_circuit_drop_v")
    span, conditioned = crank.span, crank.conditioned
    since_s = conditioned.times_s - span.to_s
    after = volts[(since_s >= _AFTER_S[0]) & (since_s <= _AFTER_S[1])]
    fell_away = crank.stretch is not None and crank.stretch.fell_away
    if span.ran_on or fell_away or caught(crank.done):
        sheet.unknown(_RAN, *names)
        return
    if not span.end_seen or after.size < _LEAST_AFTER_S * conditioned.rate_hz:
        sheet.unknown(_NO_AFTER, *names)
        return
    sheet.values["recovered_v"] = float(np.median(after))
    sheet.limited["recovered_v"] = say("A battery goes on recovering for minutes.")
    if "rest_v" in sheet.values:
        drop_v = sheet.values["rest_v"] - sheet.values["recovered_v"]
        sheet.values["open_circuit_drop_v"] = drop_v


def _measure_minimum(sheet: Sheet, crank: StarterSheet, channel: Channel, factor: float) -> None:
    waveform, span = crank.done.waveform, crank.span
    if not span.start_seen:
        sheet.unknown(MID_CRANK, "inrush_minimum_v")
        return
    cut = start_slice(waveform, channel, factor, span.from_s)
    if cut is None:
        sheet.unknown(START_LOST, "inrush_minimum_v")
        return
    sheet.values["inrush_minimum_v"] = float(cut.values.min())
    if why := why_lower(cut, waveform.rate_hz):
        sheet.limited["inrush_minimum_v"] = why


def _measure_inrush_slope(sheet: Sheet, crank: StarterSheet, volts: Floats) -> None:
    conditioned, from_s = crank.conditioned, crank.span.from_s
    if not crank.span.start_seen:
        sheet.unknown(MID_CRANK, *_OF_INRUSH)
        return
    if sheet.inrush_cut_off:
        sheet.unknown(say("The inrush is cut off."), *_OF_INRUSH)
        return
    inside = slice(
        conditioned.index_of(from_s - _BEFORE_S), conditioned.index_of(from_s + INRUSH_S) + 1
    )
    _put(sheet, _OF_INRUSH, resistance_of_inrush(conditioned.current_a[inside], volts[inside]))


def _measure_ripple_slope(sheet: Sheet, crank: StarterSheet, volts: Floats) -> None:
    stretch = crank.stretch
    if stretch is None or stretch.cycles is None or stretch.count is None:
        sheet.unknown(say("It takes engine cycles, and those are not known here."), *_OF_RIPPLE)
        return
    found = resistance_of_ripple(
        stretch.count, stretch.cycles.edges, crank.conditioned.current_a, volts
    )
    if found is None:
        sheet.unknown(say("It takes three engine cycles or more; crank longer."), *_OF_RIPPLE)
        return
    _put(sheet, _OF_RIPPLE, found)


def _put(sheet: Sheet, names: tuple[str, str], found: Resistance) -> None:
    if not found.is_usable:
        sheet.unknown(_NOT_FOLLOWING, *names)
        return
    sheet.values |= dict(zip(names, (found.mohm, found.error_mohm), strict=True))


def _compare(sheet: Sheet) -> None:
    """Put the whole drop over the mean current beside the slopes, and say where they part."""
    values = sheet.values
    if {"rest_v", "mean_cranking_v", "mean_current_a"} <= values.keys():
        drop_v = values["rest_v"] - values["mean_cranking_v"]
        if drop_v > 0 and values["mean_current_a"] > 0:
            values["steady_resistance_mohm"] = 1e3 * drop_v / values["mean_current_a"]
            sheet.limited["steady_resistance_mohm"] = _NOT_ALONE_OHMIC
        else:
            sheet.unknown(_NOT_FOLLOWING, "steady_resistance_mohm")
    else:
        sheet.unknown(
            say("It takes rest, mean voltage and mean current."), "steady_resistance_mohm"
        )
    if not {*_OF_INRUSH, *_OF_RIPPLE} <= values.keys():
        return
    inrush, inrush_error, ripple, ripple_error = (values[n] for n in (*_OF_INRUSH, *_OF_RIPPLE))
    apart = abs(inrush - ripple)
    if apart > _APART_SHARE * min(inrush, ripple) and apart > math.hypot(
        inrush_error, ripple_error
    ):
        sheet.limited["inrush_resistance_mohm"] = say(
            "Inrush and ripple disagree ({inrush} against {ripple} milliohm): a "
            "battery that polarises, or a clamp past its range in the inrush, does "
            "that.",
            inrush=f"{inrush:.1f}",
            ripple=f"{ripple:.1f}",
        )
