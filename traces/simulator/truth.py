"""What is true about a simulated capture, taken from its pressures and speeds."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from traces.core.compression import Array
from traces.simulator.pickup import event_times_s
from traces.simulator.scenario import Scenario
from traces.simulator.track import Track

LOW_BELOW = 0.80
_CYCLE_RAD = 4 * np.pi


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """The answer to a capture.

    Parameters
    ----------
    relative_best, relative_sound
        Relative peak gauge compression by cylinder number (cylinder 1 first): over the best
        cylinder, and over the mean of those that have no fault (of all, where each has one).
        NaN where an engine does not turn.
    low
        Cylinder numbers whose `relative_sound` is under 0.80.
    peak_kpa
        Peak gauge pressure by cylinder number, mean of `cycles_kpa`.
    cycles_kpa
        Peak gauge pressure by engine cycle and cylinder number in the steady part, shape
        (cycles, cylinders); NaN where a cylinder's peak of that cycle lies outside it. If the
        engine caught, the battery failed or the crank was brief: had it been cranked on.
    rpm
        Mean crank speed of the steady part.
    steady_s
        From one engine cycle after the start until the key is released or the engine catches,
        in recording time.
    mean_a, peak_a
        Cable current of the steady part, and the inrush.
    sync_s
        When the sync cylinder's events come.
    track
        Crank angle, speeds, currents and pressures over time.
    """

    layout: str
    fault: str
    flaws: tuple[str, ...]
    inverted: bool
    relative_best: tuple[float, ...]
    relative_sound: tuple[float, ...]
    low: tuple[int, ...]
    peak_kpa: tuple[float, ...]
    cycles_kpa: Array
    rpm: float
    steady_s: tuple[float, float]
    mean_a: float
    peak_a: float
    sync_s: Array
    track: Track

    def to_json(self) -> dict[str, Any]:
        """Return the figures, without the arrays, as plain JSON values."""
        return {
            "layout": self.layout,
            "fault": self.fault,
            "flaws": list(self.flaws),
            "inverted": self.inverted,
            "relative": [_rounded(value) for value in self.relative_best],
            "relative_sound": [_rounded(value) for value in self.relative_sound],
            "low": list(self.low),
            "rpm": round(self.rpm, 1),
        }


def truth_of(scenario: Scenario, track: Track, cranked_on: Track) -> Truth:
    """Return the truth about one crank; `cranked_on` is the track of `scenario.cranked_on()`."""
    steady_s = _steady_s(scenario, track)
    inside = (track.time_s >= steady_s[0]) & (track.time_s <= steady_s[1])
    longer = scenario.cranked_on()
    cycles_kpa = _peaks_kpa(scenario, cranked_on, _steady_s(longer, cranked_on))
    peak_kpa = _means(cycles_kpa)
    sound = np.array([not c.faulty for c in scenario.engine.cylinders])
    reference = peak_kpa[sound].mean() if sound.any() else peak_kpa.mean()
    relative_sound = peak_kpa / reference
    sync = scenario.sync
    return Truth(
        layout=scenario.layout,
        fault=scenario.fault,
        flaws=scenario.flaws.names,
        inverted=scenario.clamp.inverted,
        relative_best=tuple(float(v) for v in peak_kpa / peak_kpa.max()),
        relative_sound=tuple(float(v) for v in relative_sound),
        low=tuple(i + 1 for i, v in enumerate(relative_sound) if v < LOW_BELOW),
        peak_kpa=tuple(float(v) for v in peak_kpa),
        cycles_kpa=cycles_kpa,
        rpm=float(np.mean(track.engine_rad_s[inside]) * 30 / np.pi),
        steady_s=steady_s,
        mean_a=float(np.mean(track.cable_a[inside])),
        peak_a=float(np.max(track.cable_a)),
        sync_s=event_times_s(scenario, sync, track, sync.cylinder) if sync else np.empty(0),
        track=track,
    )


def _rounded(value: float) -> float | None:
    return round(value, 4) if np.isfinite(value) else None


def _means(cycles_kpa: Array) -> Array:
    """Return the mean of each column's numbers; NaN of a cylinder that never came to its peak."""
    seen = np.isfinite(cycles_kpa)
    counts = np.count_nonzero(seen, axis=0)
    sums = np.where(seen, cycles_kpa, 0.0).sum(axis=0)
    return np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)


def _steady_s(scenario: Scenario, track: Track) -> tuple[float, float]:
    """Return when the first engine cycle is over and when the crank ends."""
    end_s = scenario.before_s + min(scenario.crank_s, scenario.flaws.catches_after_s)
    first_s = float(track.time_at(np.array([track.angle_rad[0] + _CYCLE_RAD]))[0])
    if not first_s < end_s - 0.1:
        first_s = end_s - scenario.crank_s / 2
    return max(first_s, 0.0), end_s


def _peaks_kpa(scenario: Scenario, track: Track, within_s: tuple[float, float]) -> Array:
    """Return peak gauge pressures by cycle and cylinder number; NaN outside `within_s`."""
    order = scenario.engine.firing_order
    forward = np.maximum.accumulate(track.angle_rad)
    columns: dict[int, Array] = {}
    for place, (number, tdc_deg) in enumerate(order):
        # a cycle runs from the dead centre before intake to the one after expansion
        cycle = np.floor((forward - np.deg2rad(tdc_deg)) / _CYCLE_RAD + 0.5).astype(np.intp)
        starts = np.flatnonzero(np.diff(cycle, prepend=cycle[0] - 1))
        peaks = np.maximum.reduceat(track.pressure_pa[:, place], starts).astype(np.float64)
        tdc_s = track.time_at(np.deg2rad(tdc_deg) + cycle[starts] * _CYCLE_RAD)
        kept = (tdc_s >= within_s[0]) & (tdc_s <= within_s[1])
        values = np.full(cycle[-1] + 3, np.nan)
        values[cycle[starts] + 1] = np.where(
            kept, peaks / 1e3 - scenario.engine.gas.ambient_kpa, np.nan
        )
        columns[number] = values
    longest = max(v.size for v in columns.values())
    table = np.full((longest, len(columns)), np.nan)
    for number, values in columns.items():
        table[: values.size, number - 1] = values
    return table[np.any(np.isfinite(table), axis=1)]
