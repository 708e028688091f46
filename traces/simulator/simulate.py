"""Crank engines in lock step and record what clamp and sync pick-up show of it.

Mechanics and gas advance in fixed steps that are second-order accurate: gas and loads are
taken at the crank angle in the middle of a step, the electrical circuit is solved exactly for
a constant speed. Engines of one call share the time grid, so a batch costs little more than
its largest engine.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from traces.core.compression import Array
from traces.core.waveform import Channel, Waveform
from traces.simulator.drive_a import RigidDrive
from traces.simulator.drive_b import CompliantDrive
from traces.simulator.drive_c import CompoundDrive
from traces.simulator.gas_a import PolytropicGas
from traces.simulator.gas_b import WallHeatGas
from traces.simulator.gas_c import ValveGas
from traces.simulator.instrument import battery_volts, clamp_volts
from traces.simulator.packing import pack
from traces.simulator.pickup import sync_volts
from traces.simulator.scenario import BATTERY_CHANNEL, CLAMP_CHANNEL, Family, Scenario
from traces.simulator.track import Track
from traces.simulator.truth import Truth, truth_of

STEP_S = 5e-4
"""Half a millisecond is under a degree at 300 rpm."""

MOST_TOGETHER = 48
"""Engines of one batch; more would leave the processor's cache."""


_PHYSICS: Mapping[
    Family,
    tuple[
        type[RigidDrive | CompliantDrive | CompoundDrive],
        type[PolytropicGas | WallHeatGas | ValveGas],
    ],
] = MappingProxyType(
    {
        "a": (RigidDrive, PolytropicGas),
        "b": (CompliantDrive, WallHeatGas),
        "c": (CompoundDrive, ValveGas),
    }
)


@dataclass(frozen=True, slots=True, eq=False)
class Simulated:
    """One capture: clamp, sync pick-up and, if asked, the battery, all in volts."""

    scenario: Scenario
    waveform: Waveform
    truth: Truth


def simulate(scenario: Scenario) -> Simulated:
    """Return the capture of one scenario; the same scenario gives the same samples."""
    return next(simulate_many([scenario]))


def simulate_many(
    scenarios: Sequence[Scenario], together: int = MOST_TOGETHER
) -> Iterator[Simulated]:
    """Yield the captures of `scenarios` in their order, cranked `together` at a time.

    A capture is the same, to rounding, whichever others are cranked beside it.
    """
    for start in range(0, len(scenarios), together):
        batch = scenarios[start : start + together]
        cranks = list(batch)
        # some need a second crank, to know what the engine is like
        again = {i: s.cranked_on() for i, s in enumerate(batch) if s.cranked_on() != s}
        place = {i: len(batch) + n for n, i in enumerate(again)}
        cranks.extend(again.values())
        tracks: dict[int, Track] = {}
        for family in _PHYSICS:
            members = [i for i, s in enumerate(cranks) if s.family == family]
            tracks.update(zip(members, crank([cranks[i] for i in members]), strict=True))
        for i, scenario in enumerate(batch):
            yield record(scenario, tracks[i], tracks[place.get(i, i)])


def record(scenario: Scenario, track: Track, cranked_on: Track) -> Simulated:
    """Return what clamp, sync pick-up and battery input record of a crank.

    `cranked_on` is the track of `scenario.cranked_on()`, for the truth about the cylinders.
    """
    clamp_rng, sync_rng, battery_rng = (
        np.random.default_rng([scenario.seed, stream]) for stream in (2, 3, 4)
    )
    channels = [
        _channel(CLAMP_CHANNEL, clamp_volts(scenario, track, clamp_rng)),
        _channel(scenario.sync_channel, sync_volts(scenario, track, sync_rng)),
    ]
    if scenario.record_battery:
        channels.append(_channel(BATTERY_CHANNEL, battery_volts(scenario, track, battery_rng)))
    waveform = Waveform(t0_s=0.0, rate_hz=scenario.rate_hz, channels=tuple(channels))
    return Simulated(scenario, waveform, truth_of(scenario, track, cranked_on))


def crank(scenarios: Sequence[Scenario], step_s: float = STEP_S) -> list[Track]:
    """Integrate engines of one family side by side and return the course of each.

    Parameters
    ----------
    scenarios
        All of the same family.
    step_s
        Time step of the integration.

    Raises
    ------
    ValueError
        If the scenarios mix families.
    """
    scenarios = list(scenarios)
    if not scenarios:
        return []
    if len({s.family for s in scenarios}) > 1:
        raise ValueError("engines of one call must share a family")
    rngs = [np.random.default_rng([s.seed, 1]) for s in scenarios]
    engines = pack(scenarios, rngs)
    make_drive, make_gas = _PHYSICS[scenarios[0].family]
    drive = make_drive(scenarios)
    gas = make_gas(engines, scenarios, drive.angle_rad)
    steps = int(np.ceil(max(s.crank_s + s.after_s for s in scenarios) / step_s))
    course = np.empty((steps + 1, 6, len(scenarios)))
    pressure = np.empty((steps + 1, *engines.shape), dtype=np.float32)
    drive.write(course[0])
    pressure[0] = gas.pressure_pa
    for step in range(steps):
        middle_s = (step + 0.5) * step_s
        angle_rad = drive.mid_angle_rad(step_s)
        torque_nm, rubbing_nm = gas.step(angle_rad, middle_s, step_s)
        drive.step(torque_nm, rubbing_nm, angle_rad, middle_s, step_s)
        drive.write(course[step + 1])
        pressure[step + 1] = gas.pressure_pa
    return [
        _track(scenario, course[:, :, b], pressure[:, b], step_s)
        for b, scenario in enumerate(scenarios)
    ]


def _track(
    scenario: Scenario, course: Array, pressure: NDArray[np.float32], step_s: float
) -> Track:
    """Cut one engine's course to its recording, with one more step of rest before the key."""
    steps = int(np.ceil((scenario.crank_s + scenario.after_s) / step_s)) + 1
    rest = course[:1].copy()
    rest[0, 4] = 0.0
    course = np.concatenate([rest, course[:steps]])
    pressure = np.concatenate([pressure[:1], pressure[:steps, :]])
    angle, engine, starter, motor, cable, battery = course.T.copy()
    return Track(
        time_s=scenario.before_s + step_s * np.arange(-1.0, steps, dtype=np.float64),
        angle_rad=angle,
        engine_rad_s=engine,
        starter_rad_s=starter,
        starter_rad=np.cumsum(starter) * step_s,
        motor_a=motor,
        cable_a=cable,
        battery_v=battery,
        pressure_pa=pressure[:, : len(scenario.engine.cylinders)],
    )


def _channel(name: str, volts: Array) -> Channel:
    return Channel(name, "V", volts.astype(np.float32))
