"""The current that a set of parameters makes over a cycle, with its derivatives."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from traces.core.setup import Fuel
from traces.core.twin.drive import Linear, Orbit, Pair, march, repeating
from traces.core.twin.lobes import (
    ANGLES,
    RATIO_NODES,
    RATIO_STEP,
    Lobes,
    lobe_table,
    lobes_at,
)
from traces.core.twin.parameters import (
    DRAG,
    ENGINE,
    FRICTION,
    INERTIA,
    KNEE,
    PHASE,
    PHASE_UNIT_DEG,
    RATIO,
    SCALE,
    SHARE,
    STALL,
    drive_of,
)

Floats = NDArray[np.float64]

STEPS = 240
_STEP_DEG = 720 // STEPS
_STEP_RAD = float(np.deg2rad(_STEP_DEG))
_FIRST_DEG = _STEP_DEG / 2
_ENTRY_DEG = 720 / ANGLES
_OFFSETS = np.arange(STEPS) * (_STEP_DEG / _ENTRY_DEG)
_LN_RATIO_STEP = float(np.log(RATIO_STEP))
_CLOSED = 1e-2
_MOST_ROUNDS = 4


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """A mean engine cycle of cranking current.

    Parameters
    ----------
    current
        At equal shares of the cycle's time over the mean current, shape (M,).
    cycle_s
        Length of the cycle.
    tdc_deg
        Firing top dead centres from the first, shape (n,).
    cut_off_hz
        Of the zero-phase low-pass the current went through.
    fuel
        For the compression ratios.
    """

    current: Floats
    cycle_s: float
    tdc_deg: Floats
    cut_off_hz: float
    fuel: Fuel

    @property
    def cylinders(self) -> int:
        """How many."""
        return self.tdc_deg.size

    @property
    def pass_band(self) -> Floats:
        """Gain of the low-pass for each harmonic of the cycle, shape (M // 2 + 1,)."""
        frequency_hz = np.arange(self.current.size // 2 + 1) / self.cycle_s
        # fourth order, forwards and backwards
        return np.asarray(1 / (1 + (frequency_hz / self.cut_off_hz) ** 8), dtype=np.float64)

    def observe(self, orbit: Orbit, response: Floats, values: Floats) -> tuple[Floats, Floats]:
        """Return what a cycle shows of an orbit, and its slopes; see `observed`."""
        return observed(self, orbit, response, values)


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """The twin at one set of parameters.

    Parameters
    ----------
    values
        Parameters, shape (P,).
    current
        As the profile would show it, shape (M,).
    jacobian
        Its slopes by parameter, shape (M, P).
    orbit, linear, loads
        The cycle, its derivatives, and slopes of the load by parameter, shape (STEPS, P).
    closing
        Change of the start that would close the cycle, shape (2,).
    start_slopes
        Slopes of the start by parameter, shape (2, P).
    """

    values: Floats
    current: Floats
    jacobian: Floats
    orbit: Orbit
    linear: Linear
    loads: Floats
    closing: Floats
    start_slopes: Floats

    @property
    def gap(self) -> float:
        """How far the cycle is from repeating, as a share of the crank's energy."""
        return float(np.abs(self.orbit.gap).max() / self.orbit.crank_sq.mean())


def lobes_of(profile: Profile, values: Floats) -> Lobes:
    """Return the lobes that a set of parameters means."""
    n = profile.cylinders
    shares, masses, clearances = values[ENGINE:].reshape(3, n)
    ratios_at = np.clip(values[RATIO] - clearances / _LN_RATIO_STEP, 0.0, RATIO_NODES - 1.0)
    return lobes_at(lobe_table(profile.fuel), ratios_at, shares, masses)


def load_of(profile: Profile, values: Floats) -> tuple[Floats, Floats]:
    """Return the load in the middle of each step, (STEPS,), and its slopes, (STEPS, P)."""
    n = profile.cylinders
    lobes = lobes_of(profile, values)
    start = _FIRST_DEG - profile.tdc_deg - values[PHASE] * PHASE_UNIT_DEG
    fine = (start / _ENTRY_DEG + ANGLES / 2) % ANGLES
    places = (fine[:, None] + _OFFSETS) % ANGLES
    whole = places.astype(np.intp)
    part = places - whole
    rows = np.arange(n)[:, None]
    after = (whole + 1) % ANGLES

    def sampled(values_by_deg: Floats) -> tuple[Floats, Floats]:
        here = values_by_deg[rows, whole]
        slope = values_by_deg[rows, after] - here
        return here + part * slope, slope

    scale = float(np.exp(values[SCALE]))
    torque, slope = sampled(lobes.torque)
    by_ratio = sampled(lobes.by_ratio)[0]
    total = torque.sum(axis=0)
    slopes = np.zeros((STEPS, values.size))
    slopes[:, FRICTION] = 1.0
    slopes[:, PHASE] = -scale * PHASE_UNIT_DEG / _ENTRY_DEG * slope.sum(axis=0)
    slopes[:, SCALE] = scale * total
    slopes[:, RATIO] = scale * by_ratio.sum(axis=0)
    slopes[:, ENGINE:] = (
        scale
        * np.concatenate(
            (
                sampled(lobes.by_share)[0],
                sampled(lobes.by_mass)[0],
                by_ratio / -_LN_RATIO_STEP,
            )
        ).T
    )
    return values[FRICTION] + scale * total, slopes


def solve(profile: Profile, values: Floats, start: Pair | None = None) -> State:
    """Return the cycle near `start` that repeats, or nearly so."""
    load, slopes = load_of(profile, values)
    drive = drive_of(values)
    if start is None:
        energy = drive.motor.speed(1.0) ** 2
        start = (energy, energy)
    for left in range(_MOST_ROUNDS, 0, -1):
        orbit = march(load, _STEP_RAD, drive, start)
        linear = Linear.of(orbit, load, _STEP_RAD, drive)
        if left == 1 or np.abs(orbit.gap).max() < _CLOSED * orbit.crank_sq[0]:
            break
        closing = repeating(linear.answers(np.zeros((STEPS, 2, 0))), orbit.gap)[1]
        start = moved(orbit, closing, drive.share)
    inertia, share = drive.inertia, drive.share
    forcing = linear.by_load[:, :, None] * slopes[:, None, :]
    forcing[:, :, INERTIA] += linear.by_inertia * inertia
    forcing[:, :, SHARE] += linear.by_share * (share * (1 - share))
    forcing[:, :, STALL] += linear.by_stall * drive.motor.stall_a
    forcing[:, :, KNEE] += linear.by_knee
    forcing[:, :, DRAG] += linear.by_drag
    response, closing = repeating(linear.answers(forcing), orbit.gap)
    current, jacobian = profile.observe(orbit, response, values)
    return State(values, current, jacobian, orbit, linear, slopes, closing, response[0])


def moved(orbit: Orbit, step: Floats, share: float) -> Pair:
    """Return the start of an orbit after a step; one speed where the clutch holds."""
    a, b = (max(float(v), 1e-3) for v in np.asarray(orbit.start) + step)
    if orbit.mode[-1] != 1 or a >= b:
        a = b = share * a + (1 - share) * b
    return a, b


def observed(
    profile: Profile, orbit: Orbit, response: Floats, values: Floats
) -> tuple[Floats, Floats]:
    """Return the current over time as the profile shows it, and its slopes.

    Parameters
    ----------
    response
        Change of the squared speeds at the nodes by parameter, shape (STEPS + 1, 2, P).
    values
        Parameters; where `response` has a column for each, the motor's own slopes are added.
    """
    drive = drive_of(values)
    x, y = np.sqrt(orbit.starter_sq), np.sqrt(orbit.crank_sq)
    motor = drive.motor.slopes(x)
    current_by = (motor.current_by_speed / (2 * x))[:, None] * response[:, 0, :]
    if response.shape[2] == values.size:
        current_by[:, STALL] += motor.current_by_stall * drive.motor.stall_a
        current_by[:, KNEE] += motor.current_by_knee
    pace = y[:-1] + y[1:]
    lasted = 2 * _STEP_RAD / pace
    time = np.concatenate(([0.0], np.cumsum(lasted)))
    pace_by = response[:, 1, :] / (2 * y)[:, None]
    lasted_by = (-lasted / pace)[:, None] * (pace_by[:-1] + pace_by[1:])
    time_by = np.zeros_like(current_by)
    np.cumsum(lasted_by, axis=0, out=time_by[1:])
    passed = time / time[-1]
    passed_by = (time_by - passed[:, None] * time_by[-1]) / time[-1]
    # at a fixed time: current moves with its node, and the node moves in time
    m = profile.current.size
    grid = np.arange(m) / m
    at = np.clip(np.searchsorted(passed, grid, side="right") - 1, 0, STEPS - 1)
    part = (grid - passed[at]) / (passed[at + 1] - passed[at])
    slope = np.gradient(motor.current, passed)
    nodes = np.concatenate(
        (motor.current[:, None], current_by - slope[:, None] * passed_by), axis=1
    )
    both = nodes[at] + part[:, None] * (nodes[at + 1] - nodes[at])
    lines = np.fft.rfft(both, axis=0) * profile.pass_band[:, None]
    both = np.fft.irfft(lines, n=m, axis=0)
    return both[:, 0], both[:, 1:]
