"""A cylinder's pressure as a recorder holds it, and what is true of it."""

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from traces.core.compression import Array
from traces.core.waveform import Channel, Waveform
from traces.simulator.pressure.case import PressureCase
from traces.simulator.pressure.gas_exchange import (
    MotoredCycle,
    linkage_of,
    motored_cycle,
    speed_factor,
)

PRESSURE_CHANNEL = "pressure"
_RUN_UP = (0.72, 0.92)
"""Speed in the first cycles over the later mean."""


@dataclass(frozen=True, slots=True, eq=False)
class PressureTruth:
    """What is true of a recording.

    Parameters
    ----------
    tdc_s
        Firing top dead centres, shape (cycles,).
    peak_kpa
        Greatest pressure over that of the air, mean of the cycles.
    loss_deg
        How far before top dead centre the peak comes.
    back_kpa
        Mean pressure behind the exhaust valve in the exhaust stroke over that of the air.
    intake_kpa
        Mean pressure in the intake over that of the air.
    """

    tdc_s: Array
    peak_kpa: float
    loss_deg: float
    back_kpa: float
    intake_kpa: float


@dataclass(frozen=True, slots=True, eq=False)
class PressureCapture:
    """A recording and what is true of it."""

    case: PressureCase
    waveform: Waveform
    truth: PressureTruth


def pressure_capture(case: PressureCase, cycle: MotoredCycle | None = None) -> PressureCapture:
    """Return a recording of the case; `cycle` spares marching a cycle that is at hand."""
    cycle = cycle or motored_cycle(case)
    angle, seconds = _turning(case)
    rest = np.array([0.0]) if case.rest_s <= 0 else np.array([0.0, case.rest_s])
    begun_s = float(rest[-1])
    end_s = begun_s + float(seconds[-1]) + (1.5 if case.stops else 0.0)
    time_s = np.arange(int(end_s * case.rate_hz)) / case.rate_hz
    at_deg = np.interp(time_s, begun_s + seconds, angle)
    gauge = _gauge_kpa(case, cycle, at_deg, time_s, begun_s)
    if case.stops:
        # what is left in a standing cylinder leaks away
        since = np.maximum(0.0, time_s - begun_s - float(seconds[-1]))
        gauge = gauge * np.exp(-since / 0.12)
    volts = _recorded(case, gauge)
    tdc_deg = np.arange(np.ceil(angle[0] / 720), np.floor(angle[-1] / 720) + 1) * 720
    blowing = (cycle.angle_deg > 180) & (cycle.angle_deg < 360)
    top = int(np.argmax(cycle.pressure_kpa))
    near = slice(top - 3, top + 4)
    bend = np.polyfit(cycle.angle_deg[near], cycle.pressure_kpa[near], 2)
    truth = PressureTruth(
        tdc_s=begun_s + np.interp(tdc_deg, angle, seconds),
        peak_kpa=float(cycle.pressure_kpa.max() - case.air_kpa),
        loss_deg=float(bend[1] / (2 * bend[0])),
        back_kpa=float(cycle.exhaust_kpa[blowing].mean() - case.air_kpa),
        intake_kpa=case.intake_kpa - case.air_kpa,
    )
    waveform = Waveform(0.0, case.rate_hz, (Channel(PRESSURE_CHANNEL, "V", volts),))
    return PressureCapture(case, waveform, truth)


def _turning(case: PressureCase) -> tuple[Array, Array]:
    """Return crank angles and the seconds at which they come, from the first movement on."""
    rng = case.rng(1)
    first_deg = float(rng.uniform(-170, 400)) if case.rest_s > 0 else float(rng.uniform(-170, 540))
    angle = np.arange(first_deg, (case.cycles + 1) * 720.0, 1.0)
    pace = 1 + case.wander * rng.normal(size=case.cycles + 3)
    if case.rest_s > 0:
        pace[:2] *= _RUN_UP
    smooth = np.interp(angle / 720.0, np.arange(pace.size) - 0.5, pace)
    speed = case.rpm * 6.0 * smooth * speed_factor(case, angle)
    seconds = np.concatenate(([0.0], np.cumsum(1.0 / speed)[:-1]))
    return angle, seconds


def _gauge_kpa(
    case: PressureCase, cycle: MotoredCycle, at_deg: Array, time_s: Array, begun_s: float
) -> Array:
    rng = case.rng(2)
    turn = np.floor((at_deg + 180.0) / 720.0).astype(int)
    within = at_deg - 720.0 * turn
    pressure = np.interp(within, cycle.angle_deg, cycle.pressure_kpa)
    filling = 1 + case.peak_spread * rng.normal(size=case.cycles + 3)
    hangs = rng.random(case.cycles + 3) < case.hang_share
    closed = (within > case.timing.intake_closes_deg - 720) & (
        within < case.timing.exhaust_opens_deg
    )
    pressure = np.where(closed, pressure * filling[turn], pressure)
    lost = np.where(closed & hangs[turn], 0.5 * (pressure - case.air_kpa), 0.0)
    gauge = pressure - lost - case.air_kpa
    if case.rest_s > 0:
        gauge = _from_rest(case, gauge, at_deg)
    # at rest air has come in
    return np.where(time_s < begun_s, 0.0, gauge)


def _from_rest(case: PressureCase, gauge_kpa: Array, at_deg: Array) -> Array:
    """Return it with a first compression that begins with air, wherever the piston stood."""
    start = float(at_deg[0]) - 720.0 * np.floor((at_deg[0] + 180.0) / 720.0)
    closes, opens = case.timing.intake_closes_deg - 720, case.timing.exhaust_opens_deg
    if not closes < start < opens:
        return gauge_kpa
    linkage = linkage_of(case)
    first = at_deg < at_deg[0] - start + opens
    volume = linkage.volume_m3(at_deg[first])
    kpa = case.air_kpa * (float(linkage.volume_m3(start)) / volume) ** 1.3
    found = gauge_kpa.copy()
    found[first] = kpa - case.air_kpa
    return found


def _recorded(case: PressureCase, gauge_kpa: Array) -> np.ndarray:
    rng, sensor = case.rng(3), case.transducer
    volts = sensor.zero_v + gauge_kpa / sensor.kpa_per_v
    share = 1 - np.exp(-2 * np.pi * sensor.bandwidth_hz / case.rate_hz)
    volts = lfilter([share], [1, share - 1], volts, zi=[(1 - share) * volts[0]])[0]
    volts = volts + sensor.noise_v * rng.normal(size=volts.size)
    volts += sensor.drift_v_per_s * np.arange(volts.size) / case.rate_hz
    if sensor.spark_v > 0:
        count = int(volts.size / case.rate_hz * case.rpm / 120 * (case.swings - 1))
        hit = rng.integers(0, volts.size, count)
        volts[hit] += sensor.spark_v * rng.choice([-1, 1], count)
    step = (sensor.high_v - sensor.low_v) / 2**sensor.bits
    codes = np.clip(np.rint((volts - sensor.low_v) / step), 0, 2**sensor.bits - 1)
    recorded: np.ndarray = (sensor.low_v + codes * step).astype(np.float32)
    return recorded
