"""The current that a set of parameters makes over a cycle, with its derivatives."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from traces.core.setup import Fuel
from traces.core.twin.drive import Linear, Orbit
from traces.core.twin.lobes import (
    ANGLES,
    RATIO_NODES,
    RATIO_STEP,
    Lobes,
    compressed_again,
    lobe_table,
    lobes_at,
)
from traces.core.twin.parameters import (
    ENGINE,
    FRICTION,
    KNEE,
    LAG,
    LAG_UNIT_S,
    PHASE,
    PHASE_UNIT_DEG,
    PUMP,
    RATIO,
    REMANENCE,
    RIPPLES,
    SCALE,
    STALL,
    STROKES,
    VACUUM,
    drive_of,
    pump_shapes,
    ripple_shapes,
)

Floats = NDArray[np.float64]

STEPS = 240
_STEP_DEG = 720 // STEPS
STEP_RAD = float(np.deg2rad(_STEP_DEG))
_FIRST_DEG = _STEP_DEG / 2
_ENTRY_DEG = 720 / ANGLES
_OFFSETS = np.arange(STEPS) * (_STEP_DEG / _ENTRY_DEG)
_LN_RATIO_STEP = float(np.log(RATIO_STEP))
NO_PULLS = np.zeros(0)


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
    again
        Place of the cylinder whose exhaust valve stays shut, so that its gas is compressed again a
        crank turn later; None where every valve opens.
    """

    current: Floats
    cycle_s: float
    tdc_deg: Floats
    cut_off_hz: float
    fuel: Fuel
    again: int | None = None

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
class TwinState:
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
    pulls, pulls_slopes
        Torque of the second mass of a flywheel by `pull_shapes`, shape (PULLS,), and its slopes by
        parameter, shape (PULLS, P); empty where there is none.
    """

    values: Floats
    current: Floats
    jacobian: Floats
    orbit: Orbit
    linear: Linear
    loads: Floats
    closing: Floats
    start_slopes: Floats
    pulls: Floats = field(default_factory=lambda: NO_PULLS)
    pulls_slopes: Floats = field(default_factory=lambda: NO_PULLS)

    @property
    def gap(self) -> float:
        """How far the cycle is from repeating, as a share of the crank's energy."""
        return float(np.abs(self.orbit.gap).max() / self.orbit.crank_sq.mean())


def lobes_of(profile: Profile, values: Floats) -> Lobes:
    """Return the lobes that a set of parameters means."""
    n = profile.cylinders
    shares, masses, clearances = values[ENGINE:].reshape(3, n)
    ratios_at = np.clip(values[RATIO] - clearances / _LN_RATIO_STEP, 0.0, RATIO_NODES - 1.0)
    vacuum = float(values[VACUUM])
    lobes = lobes_at(lobe_table(profile.fuel), ratios_at, shares, masses, vacuum)
    return lobes if profile.again is None else compressed_again(lobes, profile.again)


def load_of(profile: Profile, values: Floats) -> tuple[Floats, Floats]:
    """Return the load in the middle of each step, (STEPS,), and its slopes, (STEPS, P)."""
    n = profile.cylinders
    lobes = lobes_of(profile, values)
    start = _FIRST_DEG - profile.tdc_deg - values[PHASE] * PHASE_UNIT_DEG
    fine = (start / _ENTRY_DEG + ANGLES / 2) % ANGLES
    places = (fine[:, None] + _OFFSETS) % ANGLES
    whole = places.astype(np.intp)
    part = places - whole
    first = np.arange(0, n * ANGLES, ANGLES)[:, None]
    kinds = (lobes.torque, lobes.by_ratio, lobes.by_vacuum, lobes.by_share, lobes.by_mass)
    by_deg = np.stack(kinds).reshape(len(kinds), -1)
    here = by_deg.take(first + whole, axis=1)
    slope = by_deg.take(first + (whole + 1) % ANGLES, axis=1) - here
    torque, by_ratio, by_vacuum, by_share, by_mass = here + part * slope

    scale = float(np.exp(values[SCALE]))
    total = torque.sum(axis=0)
    slopes = np.zeros((STEPS, values.size))
    slopes[:, FRICTION] = 1.0
    slopes[:, PHASE] = -scale * PHASE_UNIT_DEG / _ENTRY_DEG * slope[0].sum(axis=0)
    slopes[:, SCALE] = scale * total
    slopes[:, RATIO] = scale * by_ratio.sum(axis=0)
    slopes[:, VACUUM] = scale * by_vacuum.sum(axis=0)
    by_cylinder = np.concatenate((by_share, by_mass, by_ratio / -_LN_RATIO_STEP))
    slopes[:, ENGINE:] = scale * by_cylinder.T
    shapes = ripple_shapes(n, STEPS)
    slopes[:, RIPPLES] = shapes
    load = values[FRICTION] + scale * total + shapes @ values[RIPPLES]
    if values[STROKES] > 0:
        strokes = pump_shapes(round(values[STROKES]), STEPS)
        slopes[:, PUMP] = strokes
        load += strokes @ values[PUMP]
    return load, slopes


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
    # by parameter first: nodes lie side by side, as everything here runs along them
    current_by = response[:, 0, :].T * (motor.current_by_speed / (2 * x))
    whole = response.shape[2] == values.size
    if whole:
        current_by[STALL] += motor.current_by_stall * drive.motor.stall_a
        current_by[KNEE] += motor.current_by_knee
        current_by[REMANENCE] += motor.current_by_remanence
    time, time_by = time_passed(y, response)
    passed = time / time[-1]
    passed_by = (time_by.T - time_by[-1][:, None] * passed) / time[-1]
    # at a fixed time: current moves with its node, and the node moves in time
    m = profile.current.size
    grid = np.arange(m) / m
    at = np.clip(np.searchsorted(passed, grid, side="right") - 1, 0, STEPS - 1)
    part = (grid - passed[at]) / (passed[at + 1] - passed[at])
    slope = np.gradient(motor.current, passed)
    nodes = np.concatenate((motor.current[None, :], current_by - passed_by * slope))
    here = nodes.take(at, axis=1)
    both = here + (nodes.take(at + 1, axis=1) - here) * part
    lagging = 2j * np.pi * np.arange(m // 2 + 1) / profile.cycle_s * LAG_UNIT_S
    lag = 1 / (1 + lagging * values[LAG])
    lines = np.fft.rfft(both) * (profile.pass_band * lag)
    if whole:
        lines[1 + LAG] = -lagging * lag * lines[0]
    both = np.fft.irfft(lines, n=m)
    return both[0], both[1:].T


def angles_deg(state: TwinState, points: int) -> Floats:
    """Return the crank angle at equal shares of the fitted cycle's time, shape (points,)."""
    time = time_passed(np.sqrt(state.orbit.crank_sq), np.zeros((STEPS + 1, 2, 0)))[0]
    nodes_deg = np.arange(STEPS + 1, dtype=np.float64) * _STEP_DEG
    return np.interp(np.arange(points) / points, time / time[-1], nodes_deg)


def time_passed(speed: Floats, response: Floats) -> tuple[Floats, Floats]:
    """Return the time at each node and its slopes."""
    pace = speed[:-1] + speed[1:]
    lasted = 2 * STEP_RAD / pace
    time = np.concatenate(([0.0], np.cumsum(lasted)))
    pace_by = response[:, 1, :].T / (2 * speed)
    time_by = np.zeros((response.shape[2], speed.size))
    np.cumsum((pace_by[:, :-1] + pace_by[:, 1:]) * (-lasted / pace), axis=1, out=time_by[:, 1:])
    return time, time_by.T
