"""What one cylinder's compression does to the crank: a lobe of torque by crank angle."""

from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing

from engines.core.firing import CYCLE_DEG, FiringOrder
from traces.core.compression.slider_crank import SliderCrank
from traces.core.setup import Fuel
from traces.core.waveform import Floats

STEP_DEG = 2.0

_EXPONENT = 1.3
"""Motored compression while cranking: 1.2 to 1.3."""

_INTAKE_CLOSES_DEG = 50.0  # after bottom dead centre
_EXHAUST_OPENS_DEG = 50.0  # before bottom dead centre
_RATIO: dict[Fuel, float] = {"petrol": 10.0, "diesel": 17.0}
_RETURNED = 0.5
"""Share of the expansion's push that shows: the starter's one-way clutch lets the crank run
ahead of it, and heat and leaks keep part of the work."""

_ROUNDING_DEG = 8.0  # the low-pass and the armature's inductance round a lobe
_SAMPLE_SHARES = np.linspace(-0.08, 0.08, 5)  # of the gap: a reading averages so much of it


@cache
def torque_lobe(fuel: Fuel) -> Floats:
    """Return the torque that opposes the crank around one firing top dead centre.

    Gas torque is (p - p_atm) dV/da with p V^n constant while the valves are closed
    (slider-crank: Heywood, ch. 2, from memory).

    Returns
    -------
    Floats
        Shape (360,), from -360 degrees on in steps of `STEP_DEG`; largest value 1.
    """
    angle_deg = np.arange(-CYCLE_DEG / 2, CYCLE_DEG / 2, STEP_DEG)
    # only the shape counts: a square engine with a rod of 1.75 strokes
    crank = SliderCrank(bore_m=0.085, stroke_m=0.085, rod_m=0.149, compression_ratio=_RATIO[fuel])
    closing_m3 = float(crank.volume_m3(180.0 - _INTAKE_CLOSES_DEG))
    over_pressure = (closing_m3 / crank.volume_m3(angle_deg)) ** _EXPONENT - 1.0
    closed = (angle_deg > _INTAKE_CLOSES_DEG - 180.0) & (angle_deg < 180.0 - _EXHAUST_OPENS_DEG)
    torque = np.where(closed, -over_pressure * crank.dvolume_m3_per_rad(angle_deg), 0.0)
    torque = np.where(torque < 0, _RETURNED * torque, torque)
    torque = scipy.ndimage.gaussian_filter1d(torque, _ROUNDING_DEG / STEP_DEG, mode="wrap")
    lobe = np.asarray(torque / torque.max(), dtype=np.float64)
    lobe.setflags(write=False)
    return lobe


def hump_readings(cycles: Floats, order: FiringOrder, offset_deg: float) -> Floats:
    """Read each hump above the middle of the gaps before and after it.

    Linear in the signal, so that readings of a sum are the sum of readings.

    Parameters
    ----------
    cycles
        Shape (cycles, points) or (points,): whole engine cycles from the first firing top
        dead centre of `order` on, in steps of `STEP_DEG`; taken as periodic.
    order
        The engine; `offset_deg` is added to all its angles.

    Returns
    -------
    Floats
        Shape (cycles, cylinders) or (cylinders,), by position in the firing sequence.
    """
    peaks = np.asarray(order.tdc_angles_deg) + offset_deg
    after = np.asarray(order.intervals_deg)
    before = np.roll(after, 1)
    width = np.minimum(before, after)
    top = _averaged(cycles, peaks, width)
    low = _averaged(cycles, peaks - before / 2, width) + _averaged(cycles, peaks + after / 2, width)
    return np.asarray(top - low / 2, dtype=np.float64)


def best_offset(cycle: Floats, order: FiringOrder, offsets_deg: Floats) -> tuple[float, float]:
    """Return the offset at which the humps stand highest above their gaps, and that mean.

    Parameters
    ----------
    cycle
        Shape (points,), as for `hump_readings`.
    offsets_deg
        Those to try, shape (O,).
    """
    peaks = np.asarray(order.tdc_angles_deg)
    after = np.asarray(order.intervals_deg)
    before = np.roll(after, 1)
    width = np.minimum(before, after)
    # a mean over all humps is linear: one reading of tops, one of gaps, weighted half and half
    places = np.concatenate((peaks, peaks - before / 2, peaks + after / 2))
    weights = np.repeat((1.0, -0.5, -0.5), peaks.size) / peaks.size
    centres = offsets_deg[:, None] + places
    means = _averaged(cycle, centres.ravel(), np.tile(width, 3 * offsets_deg.size))
    means = means.reshape(centres.shape) @ weights
    at = int(np.argmax(means))
    return float(offsets_deg[at]), float(means[at])


@dataclass(frozen=True, slots=True, eq=False)
class LobeMix:
    """How lobes of sound cylinders show in the readings.

    Parameters
    ----------
    single
        Shape (cylinders, points): each cylinder's lobe over the cycle, largest value 1.
    offset_deg
        Where their humps are read.
    matrix
        Shape (cylinders, cylinders): reading i per unit of lobe j. Lobes overlap: with eight
        cylinders a hump's gaps hold parts of both neighbours.
    """

    single: Floats
    offset_deg: float
    matrix: Floats

    def expected(self, strengths: Floats, offset_deg: float) -> Floats:
        """Return the cycle that `strengths` make when humps stand at `offset_deg`."""
        cycle = strengths @ self.single
        points = np.arange(cycle.size) * STEP_DEG
        shift = offset_deg - self.offset_deg
        return np.asarray(np.interp(points - shift, points, cycle, period=CYCLE_DEG))


@lru_cache(maxsize=64)
def lobe_mix(order: FiringOrder, fuel: Fuel) -> LobeMix:
    """Lay a sound cylinder's lobe at every firing of the engine and read them all."""
    lobe = torque_lobe(fuel)
    points = np.arange(0.0, CYCLE_DEG, STEP_DEG)
    at = np.arange(-CYCLE_DEG / 2, CYCLE_DEG / 2, STEP_DEG)
    single = np.array(
        [np.interp(points - tdc, at, lobe, period=CYCLE_DEG) for tdc in order.tdc_angles_deg]
    )
    offset_deg, _ = best_offset(single.sum(axis=0), order, np.arange(-40.0, 21.0))
    matrix = hump_readings(single, order, offset_deg).T
    matrix.setflags(write=False)
    single.setflags(write=False)
    return LobeMix(single, offset_deg, matrix)


def _averaged(cycles: Floats, centres_deg: Floats, width_deg: Floats) -> Floats:
    """Return the mean of the signal around each centre, shape (..., centres)."""
    points = cycles.shape[-1]
    angles = centres_deg[:, None] + width_deg[:, None] * _SAMPLE_SHARES
    place = angles % CYCLE_DEG / (CYCLE_DEG / points)
    left = np.floor(place).astype(np.int64) % points
    part = place - np.floor(place)
    values = cycles[..., left] * (1.0 - part) + cycles[..., (left + 1) % points] * part
    return np.asarray(values.mean(axis=-1), dtype=np.float64)
