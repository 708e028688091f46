"""What a crank sensor in front of a tooth wheel shows: edge times, a square wave or a coil's.

The wheel stands on the crank, so that tooth and angle are one. Tooth spacing has random errors
and an eccentricity. A coil's voltage grows with speed; a hall sensor switches between two levels.
"""

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from scipy.interpolate import CubicHermiteSpline

from traces.core.compression import Array
from traces.core.waveform import Channel
from traces.simulator.instrument import converted
from traces.simulator.scenario import Scenario
from traces.simulator.track import Track

SensorKind: TypeAlias = Literal["coil", "switch"]

_STREAM = 6
"""Beside the streams of clamp, sync and battery, whose draws stay as they are."""

_WHEELS = ((60, (2,)), (36, (1,)), (36, (2, 2)), (58, ()), (24, (1,)), (12, ()), (120, (2,)))
_WHEEL_SHARES = (0.45, 0.2, 0.1, 0.0, 0.1, 0.0, 0.15)


@dataclass(frozen=True, slots=True)
class ToothSensor:
    """A wheel, its sensor and how that is recorded.

    Parameters
    ----------
    teeth
        Places for teeth in a crank turn, missing ones counted in.
    gaps
        How many teeth are missing in each gap; the second gap stands a third of a turn on.
    first_deg
        Crank angle of the first tooth after the first gap, past the firing top dead centre of
        the first cylinder in the order.
    spacing_deg, runout_deg
        Standard deviation of a tooth's place, and amplitude of a wheel out of centre.
    kind
        `coil` (inductive) or `switch` (square wave).
    rate_hz, bits, noise_share
        Recorder; noise as a share of a coil's amplitude at 200 rpm or a switch's swing.
    jitter_s
        Standard deviation of logged edge times.
    """

    teeth: int = 60
    gaps: tuple[int, ...] = (2,)
    first_deg: float = 78.0
    spacing_deg: float = 0.03
    runout_deg: float = 0.05
    kind: SensorKind = "coil"
    rate_hz: float = 50_000.0
    bits: int = 12
    noise_share: float = 0.02
    jitter_s: float = 2e-6

    @property
    def places(self) -> Array:
        """Numbers of the places that have a tooth, counted from the first tooth after the gap."""
        bare: set[int] = set()
        for i, missing in enumerate(self.gaps):
            last = self.teeth if i == 0 else self.teeth // 3 * i
            bare.update(range(last - missing, last))
        return np.array([p for p in range(self.teeth) if p not in bare], dtype=np.float64)


def draw_sensor(seed: int) -> ToothSensor:
    """Return a seed's wheel and sensor."""
    rng = np.random.default_rng([seed, 200 + _STREAM])
    teeth, gaps = _WHEELS[int(rng.choice(len(_WHEELS), p=_WHEEL_SHARES))]
    return ToothSensor(
        teeth=teeth,
        gaps=gaps,
        first_deg=float(rng.uniform(0, 360)),
        spacing_deg=float(rng.uniform(0.005, 0.06)) * 60 / teeth,
        runout_deg=float(rng.uniform(0.0, 0.1)),
        kind="coil" if rng.random() < 0.5 else "switch",
        rate_hz=float(rng.choice([20_000, 50_000, 100_000])),
        bits=int(rng.choice([8, 12])),
        noise_share=float(rng.uniform(0.002, 0.03)),
        jitter_s=float(rng.uniform(0.5e-6, 10e-6)),
    )


def edge_times_s(scenario: Scenario, track: Track, sensor: ToothSensor) -> Array:
    """Return when teeth pass, from the recording's start, as a log of edge times holds them."""
    rng = np.random.default_rng([scenario.seed, _STREAM])
    places = _tooth_deg(scenario, sensor)
    forward = np.maximum.accumulate(track.angle_rad)
    turns = np.arange(np.floor(forward[0] / (2 * np.pi)) - 1, np.ceil(forward[-1] / (2 * np.pi)))
    angles = np.deg2rad((turns[:, None] * 360 + places).ravel())
    angles = np.sort(angles[(angles > forward[0] + 1e-6) & (angles < forward[-1])])
    times = _finely(track, angles)
    times = times + rng.normal(0, sensor.jitter_s, times.size)
    kept: Array = np.maximum.accumulate(times[(times > 0) & (times < scenario.duration_s)])
    return kept


def sensor_volts(scenario: Scenario, track: Track, sensor: ToothSensor) -> Channel:
    """Return the sensor's channel at its own rate, in volts."""
    rng = np.random.default_rng([scenario.seed, _STREAM])
    time_s = np.arange(int(scenario.duration_s * sensor.rate_hz)) / sensor.rate_hz
    curve = CubicHermiteSpline(track.time_s, track.angle_rad, track.engine_rad_s)
    inside = np.clip(time_s, track.time_s[0], track.time_s[-1])
    angle_deg = np.rad2deg(curve(inside))
    teeth = _tooth_deg(scenario, sensor)
    width = 360 / sensor.teeth
    # distance to the nearest tooth, in widths
    around = np.concatenate((teeth[-1:] - 360, teeth, teeth[:1] + 360))
    turned = angle_deg % 360
    nearest = around[np.clip(np.searchsorted(around, turned), 1, around.size - 1)]
    before = around[np.clip(np.searchsorted(around, turned) - 1, 0, around.size - 1)]
    off = np.where(nearest - turned < turned - before, turned - nearest, turned - before) / width
    if sensor.kind == "switch":
        clean = np.where((off >= 0) & (off < 0.5), 5.0, 0.0)
        volts = clean + rng.normal(0, 5.0 * sensor.noise_share, time_s.size)
        return Channel("crank", "V", converted(volts, sensor.bits, 10.0).astype(np.float32))
    speed = np.interp(time_s, track.time_s, track.engine_rad_s) / (200 * np.pi / 30)
    flux_slope = np.sin(2 * np.pi * np.clip(off, -0.5, 0.5))
    volts = 1.5 * speed * flux_slope
    volts += rng.normal(0, 1.5 * sensor.noise_share, time_s.size)
    return Channel("crank", "V", converted(volts, sensor.bits, 5.0).astype(np.float32))


def _tooth_deg(scenario: Scenario, sensor: ToothSensor) -> Array:
    """Return where the teeth stand on the wheel, rising within one turn."""
    rng = np.random.default_rng([scenario.seed, 300 + _STREAM])
    ideal = sensor.places * 360 / sensor.teeth
    wrong = rng.normal(0, sensor.spacing_deg, ideal.size)
    wrong += sensor.runout_deg * np.sin(np.deg2rad(ideal) + rng.uniform(0, 2 * np.pi))
    turned: Array = np.sort((ideal + wrong + sensor.first_deg) % 360)
    return turned


def _finely(track: Track, angles_rad: Array) -> Array:
    """Return when the crank stands at angles, between steps by its speed at both ends."""
    forward = np.maximum.accumulate(track.angle_rad)
    at = np.clip(np.searchsorted(forward, angles_rad), 1, forward.size - 1)
    times = track.time_at(angles_rad)
    curve = CubicHermiteSpline(track.time_s, track.angle_rad, track.engine_rad_s)
    low, high = track.time_s[at - 1], track.time_s[at]
    for _ in range(4):
        speed = np.maximum(np.interp(times, track.time_s, track.engine_rad_s), 1e-3)
        times = np.clip(times - (curve(times) - angles_rad) / speed, low, high)
    found: Array = times[np.isfinite(times)]
    return found
