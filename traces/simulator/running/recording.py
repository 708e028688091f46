"""An idling engine as a recorder holds it: the crank sensor's square wave, and a sync channel."""

from dataclasses import dataclass

import numpy as np

from traces.core.compression import Array
from traces.core.waveform import Channel, Waveform
from traces.simulator.running.gas_cycle import turn_by_gas
from traces.simulator.running.idle import Idle, IdleTruth
from traces.simulator.running.impulses import turn_by_impulses

CRANK_CHANNEL, SYNC_CHANNEL = "crank", "coil"
_VOLTS = 5.0
_EVENT_S = 1.5e-3


@dataclass(frozen=True, slots=True, eq=False)
class IdleCapture:
    """A recording and what is true of it."""

    idle: Idle
    waveform: Waveform
    truth: IdleTruth


def idle_course(idle: Idle) -> IdleTruth:
    """Return how an idling crank turns, by its physics."""
    return (turn_by_gas if idle.physics == "gas" else turn_by_impulses)(idle)


def idle_capture(idle: Idle, *, sync_every_deg: int = 720) -> IdleCapture:
    """Return a recording of crank sensor and ignition of the order's first cylinder."""
    truth = idle_course(idle)
    samples = int(truth.time_s[-1] * idle.rate_hz)
    time_s = np.arange(samples) / idle.rate_hz
    angle_deg = np.interp(time_s, truth.time_s, truth.angle_deg)
    crank = _square(idle, angle_deg)
    fires = _events(idle, truth, sync_every_deg)
    coil = np.zeros(samples, dtype=np.float32)
    for at_s in fires:
        first = int(at_s * idle.rate_hz)
        coil[first : first + max(2, int(_EVENT_S * idle.rate_hz))] = _VOLTS
    channels = (Channel(CRANK_CHANNEL, "V", crank), Channel(SYNC_CHANNEL, "V", coil))
    return IdleCapture(idle, Waveform(0.0, idle.rate_hz, channels), truth)


def _square(idle: Idle, angle_deg: Array) -> np.ndarray:
    width = 360.0 / idle.teeth
    starts = _teeth_deg(idle)
    turned = (angle_deg + idle.tdc_deg) % 360.0
    at = np.searchsorted(starts, turned, side="right") - 1
    since = np.where(at >= 0, turned - starts[at], turned + 360.0 - starts[-1])
    return np.where(since < width / 2, np.float32(_VOLTS), np.float32(0.0))


def _teeth_deg(idle: Idle) -> Array:
    """Return where teeth begin on the wheel, rising from 0."""
    rng = idle.rng(4)
    bare: set[int] = set()
    for i, missing in enumerate(idle.gaps):
        last = idle.teeth if i == 0 else idle.teeth // 3 * i
        bare.update(range(last - missing, last))
    places = np.array([p for p in range(idle.teeth) if p not in bare], dtype=np.float64)
    deg = places * 360.0 / idle.teeth
    wrong = rng.normal(0, idle.spacing_deg, deg.size)
    wrong += idle.runout_deg * np.sin(np.deg2rad(deg) + rng.uniform(0, 2 * np.pi))
    return np.sort(np.clip(deg + wrong - wrong[0], 0.0, 359.999))


def _events(idle: Idle, truth: IdleTruth, every_deg: int) -> Array:
    first = np.ceil((truth.angle_deg[0] + idle.advance_deg) / every_deg)
    last = np.floor((truth.angle_deg[-1] + idle.advance_deg) / every_deg)
    wanted = np.arange(first, last + 1) * every_deg - idle.advance_deg
    wander = 1.0 * idle.rng(5).normal(size=wanted.size)
    at: Array = np.interp(wanted + wander, truth.angle_deg, truth.time_s)
    return at
