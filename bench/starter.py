"""Errors of the starter and battery figures on seeded simulated cranks of both kinds of physics.

`python -m bench.starter` measures 60 cranks of each family; `--quick` ten.
"""

import argparse
import sys
from collections import defaultdict
from dataclasses import replace

import numpy as np

from traces.core.preparation import prepare
from traces.core.starter import find_stretch, starter_figures
from traces.simulator.scenario import BATTERY_CHANNEL, Family
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated, simulate_many

_FIRST_SEED = 5_000
_INRUSH_S = 0.35
_UNITS = {"inrush V": "mV", "mean V": "mV", "trend": "rpm/s"}


def main(arguments: list[str]) -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="ten cranks of each family")
    chosen, _ = parser.parse_known_args(arguments)
    count = 10 if chosen.quick else 60
    families: tuple[Family, ...] = ("a", "b")
    for family in families:
        _say(f"\nStarter figures, family {family}: {count} cranks\n")
        _say("| figure | known | median error | RMS | largest |\n| --- | --- | --- | --- | --- |")
        errors: dict[str, list[float]] = defaultdict(list)
        inside: list[bool] = []
        for i in range(count):
            scenario = replace(draw(_FIRST_SEED + i, family=family), record_battery=True)
            _measure(next(simulate_many([scenario])), errors, inside)
        for name, found in errors.items():
            _say(_row(name, np.array(found), count))
        _say(f"\nTrue trend in its 95 % interval: {100 * np.mean(inside):.0f} %")


def _measure(made: Simulated, errors: dict[str, list[float]], inside: list[bool]) -> None:
    """Add one crank's errors: percent, millivolts, or rpm a second."""
    scenario, track = made.scenario, made.truth.track
    done = prepare(made.waveform, replace(scenario.setup(), voltage_channel=BATTERY_CHANNEL))
    found = starter_figures(done)
    if found is None or done.conditioned is None or done.span is None:
        return
    stretch = find_stretch(done, done.conditioned, done.span)
    if stretch is None:
        return
    early = track.time_s < scenario.before_s + _INRUSH_S
    later = (track.time_s >= stretch.from_s) & (track.time_s <= stretch.to_s)
    time_s = track.time_s[later] - track.time_s[later].mean()
    turned = np.polynomial.polynomial.polyfit(time_s, track.angle_rad[later], 2)
    ohmic_mohm = 1000 * scenario.battery.resistance_ohm
    shares = {
        "inrush A": (found.inrush_peak_a, track.cable_a[early].max()),
        "mean A": (found.mean_current_a, track.cable_a[later].mean()),
        "speed": (found.cranking_rpm, np.ptp(track.angle_rad[later]) / np.ptp(time_s) * 30 / np.pi),
        "ripple milliohm": (found.ripple_resistance_mohm, ohmic_mohm),
        "inrush milliohm": (found.inrush_resistance_mohm, ohmic_mohm),
        "whole drop": (found.steady_resistance_mohm, ohmic_mohm),
    }
    for name, (value, true) in shares.items():
        if value is not None:
            errors[name].append(100 * (value / float(true) - 1))
    volts = {
        "inrush V": (found.inrush_minimum_v, track.battery_v[early].min()),
        "mean V": (found.mean_cranking_v, track.battery_v[later].mean()),
    }
    for name, (value, true) in volts.items():
        if value is not None:
            errors[name].append(1000 * (value - float(true)))
    trend = 2 * float(turned[2]) * 30 / np.pi
    low, high = found.trend_low_rpm_per_s, found.trend_high_rpm_per_s
    if found.trend_rpm_per_s is not None and low is not None and high is not None:
        errors["trend"].append(found.trend_rpm_per_s - trend)
        inside.append(low <= trend <= high)


def _row(name: str, found: np.ndarray, count: int) -> str:
    unit = _UNITS.get(name, "%")
    figures = (np.median(found), np.sqrt((found**2).mean()), np.abs(found).max())
    cells = " | ".join(f"{value:.2f} {unit}" for value in figures)
    return f"| {name} | {found.size} of {count} | {cells} |"


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
