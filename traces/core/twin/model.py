"""The current that a set of parameters makes over a cycle, with its derivatives."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from traces.core.setup import Fuel
from traces.core.twin.drive import Linear, Orbit, Pair, TwinDrive, march, repeating
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
    DAMPING,
    DRAG,
    ENGINE,
    FRICTION,
    INERTIA,
    KNEE,
    LAG,
    LAG_UNIT_S,
    NATURAL,
    PHASE,
    PHASE_UNIT_DEG,
    PUMP,
    RATIO,
    REMANENCE,
    RIPPLES,
    SCALE,
    SHARE,
    SPLIT,
    STALL,
    STROKES,
    VACUUM,
    drive_of,
    logistic,
    pump_shapes,
    ripple_shapes,
    second_mass_of,
)
from traces.core.twin.second_mass import PULLS, Reaction, SecondMass, pull_shapes, reaction

Floats = NDArray[np.float64]

STEPS = 240
_STEP_DEG = 720 // STEPS
STEP_RAD = float(np.deg2rad(_STEP_DEG))
_FIRST_DEG = _STEP_DEG / 2
_ENTRY_DEG = 720 / ANGLES
_OFFSETS = np.arange(STEPS) * (_STEP_DEG / _ENTRY_DEG)
_LN_RATIO_STEP = float(np.log(RATIO_STEP))
_CLOSED = 1e-2
_MOST_ROUNDS = 4
_MOST_ROUNDS_PULLED = 6
_PULLED_ALIKE = 1e-2  # of the mean torque
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
    rows = np.arange(n)[:, None]
    after = (whole + 1) % ANGLES

    def sampled(values_by_deg: Floats) -> tuple[Floats, Floats]:
        here = values_by_deg[rows, whole]
        slope = values_by_deg[rows, after] - here
        return here + part * slope, slope

    scale = float(np.exp(values[SCALE]))
    torque, slope = sampled(lobes.torque)
    by_ratio = sampled(lobes.by_ratio)[0]
    slopes_by_vacuum = sampled(lobes.by_vacuum)[0]
    total = torque.sum(axis=0)
    slopes = np.zeros((STEPS, values.size))
    slopes[:, FRICTION] = 1.0
    slopes[:, PHASE] = -scale * PHASE_UNIT_DEG / _ENTRY_DEG * slope.sum(axis=0)
    slopes[:, SCALE] = scale * total
    slopes[:, RATIO] = scale * by_ratio.sum(axis=0)
    slopes[:, VACUUM] = scale * slopes_by_vacuum.sum(axis=0)
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
    shapes = ripple_shapes(n, STEPS)
    slopes[:, RIPPLES] = shapes
    load = values[FRICTION] + scale * total + shapes @ values[RIPPLES]
    if values[STROKES] > 0:
        strokes = pump_shapes(round(values[STROKES]), STEPS)
        slopes[:, PUMP] = strokes
        load += strokes @ values[PUMP]
    return load, slopes


def solve(
    profile: Profile, values: Floats, start: Pair | None = None, pulls: Floats = NO_PULLS
) -> TwinState:
    """Return the cycle near `start` that repeats, or nearly so.

    `pulls` is what the second mass of a flywheel is thought to do; without meaning where there is
    none.
    """
    load, slopes = load_of(profile, values)
    drive = drive_of(values)
    if start is None:
        energy = drive.motor.speed(1.0) ** 2
        start = (energy, energy)
    second = second_mass_of(values)
    if second is not None:
        pulled = pulls if pulls.size else np.zeros(PULLS)
        return _solve_pulled(profile, values, _Loaded(load, slopes, drive, second), start, pulled)
    for left in range(_MOST_ROUNDS, 0, -1):
        orbit = march(load, STEP_RAD, drive, start)
        linear = Linear.of(orbit, load, STEP_RAD, drive)
        if left == 1 or np.abs(orbit.gap).max() < _CLOSED * orbit.crank_sq[0]:
            break
        closing = repeating(linear.answers(np.zeros((STEPS, 2, 0))), orbit.gap)[1]
        start = moved(orbit, closing, drive.share)
    forcing = _forcing(linear, slopes, values)
    response, closing = repeating(linear.answers(forcing), orbit.gap)
    current, jacobian = profile.observe(orbit, response, values)
    return TwinState(values, current, jacobian, orbit, linear, slopes, closing, response[0])


@dataclass(frozen=True, slots=True, eq=False)
class _Loaded:
    """The load by step with its slopes, and what it loads."""

    load: Floats
    slopes: Floats
    drive: TwinDrive
    second: SecondMass


def _solve_pulled(
    profile: Profile, values: Floats, loaded: _Loaded, start: Pair, pulls: Floats
) -> TwinState:
    """Return the cycle in which crank and second mass agree, by Newton's method on both."""
    drive, second, shapes = loaded.drive, loaded.second, pull_shapes(STEPS)
    apparent = second.apparent(profile.cycle_s)

    def reacting(orbit: Orbit, response: Floats) -> Reaction:
        time, time_by = time_passed(np.sqrt(orbit.crank_sq), response)
        return reaction(time, time_by, STEP_RAD, second.inertia, apparent)

    for left in range(_MOST_ROUNDS_PULLED, 0, -1):
        load = loaded.load + shapes @ pulls
        orbit = march(load, STEP_RAD, drive, start)
        linear = Linear.of(orbit, load, STEP_RAD, drive)
        answers = linear.answers(linear.by_load[:, :, None] * shapes[:, None, :])
        by_pulls, closing = repeating(answers, orbit.gap)
        shift = answers[:, :, :2] @ closing
        found = reacting(orbit, np.concatenate((shift[:, :, None], by_pulls), axis=2))
        agreeing = np.linalg.inv(np.eye(PULLS) - found.pulls_by[:, 1:])
        step = agreeing @ (found.pulls + found.pulls_by[:, 0] - pulls)
        closing = closing + by_pulls[0] @ step
        closed = np.abs(orbit.gap).max() < _CLOSED * orbit.crank_sq[0]
        if left == 1 or (closed and np.abs(found.pulls - pulls).max() < _PULLED_ALIKE):
            break
        pulls = pulls + step
        start = moved(orbit, closing, drive.share)
    forcing = _forcing(linear, loaded.slopes, values)
    response = repeating(linear.answers(forcing), orbit.gap)[0]
    direct = reacting(orbit, response)
    wanted = direct.pulls_by
    by_split, by_natural, by_damping = (
        (direct.pulls_by_apparent @ slopes).real
        for slopes in second.apparent_slopes(profile.cycle_s)
    )
    wanted[:, INERTIA] += direct.pulls
    wanted[:, SHARE] -= logistic(float(values[SHARE])) * direct.pulls
    wanted[:, SPLIT] += direct.pulls / second.share + by_split
    wanted[:, NATURAL] += by_natural
    wanted[:, DAMPING] += by_damping
    pulls_slopes = agreeing @ wanted
    response = response + by_pulls @ pulls_slopes
    current, jacobian = profile.observe(orbit, response, values)
    return TwinState(
        values,
        current,
        jacobian,
        orbit,
        linear,
        loaded.slopes,
        closing,
        response[0],
        pulls + step,
        pulls_slopes,
    )


def _forcing(linear: Linear, slopes: Floats, values: Floats) -> Floats:
    """Return what a change of each parameter does in each step, shape (STEPS, 2, P)."""
    drive = drive_of(values)
    whole, split = float(np.exp(values[INERTIA])), float(values[SPLIT])
    share = logistic(float(values[SHARE]))
    left = 1 - (1 - share) * split
    forcing = linear.by_load[:, :, None] * slopes[:, None, :]
    forcing[:, :, INERTIA] += linear.by_inertia * drive.inertia
    forcing[:, :, SHARE] += (share * (1 - share)) * (
        linear.by_inertia * (whole * split) + linear.by_share * ((1 - split) / left**2)
    )
    if split > 0:
        forcing[:, :, SPLIT] += (1 - share) * (
            linear.by_share * (share / left**2) - linear.by_inertia * whole
        )
    forcing[:, :, STALL] += linear.by_stall * drive.motor.stall_a
    forcing[:, :, KNEE] += linear.by_knee
    forcing[:, :, DRAG] += linear.by_drag
    forcing[:, :, REMANENCE] += linear.by_remanence
    return forcing


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
        current_by[:, REMANENCE] += motor.current_by_remanence
    time, time_by = time_passed(y, response)
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
    lagging = 2j * np.pi * np.arange(m // 2 + 1) / profile.cycle_s * LAG_UNIT_S
    lag = 1 / (1 + lagging * values[LAG])
    lines = np.fft.rfft(both, axis=0) * (profile.pass_band * lag)[:, None]
    if response.shape[2] == values.size:
        lines[:, 1 + LAG] = -lagging * lag * lines[:, 0]
    both = np.fft.irfft(lines, n=m, axis=0)
    return both[:, 0], both[:, 1:]


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
    pace_by = response[:, 1, :] / (2 * speed)[:, None]
    time_by = np.zeros((speed.size, response.shape[2]))
    np.cumsum((-lasted / pace)[:, None] * (pace_by[:-1] + pace_by[1:]), axis=0, out=time_by[1:])
    return time, time_by
