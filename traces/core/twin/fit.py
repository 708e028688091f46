"""Fit of the twin to one mean engine cycle of cranking current."""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from traces.core.twin.drive import Linear, Orbit, orbit
from traces.core.twin.lobes import ANGLES, SHARES, lobe_table
from traces.core.twin.motor import Motor

Floats = NDArray[np.float64]

STEPS = 360
_STEP_DEG = 720.0 / STEPS
_STEP_RAD = float(np.deg2rad(_STEP_DEG))
_MIDDLES_DEG = (np.arange(STEPS) + 0.5) * _STEP_DEG

INERTIA, SHARE, STALL, FRICTION, DRAG, KNEE, PHASE, SCALE, RATIO = range(9)
SHARED = 9
PHASE_UNIT_DEG = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """The mean cycle to fit.

    Parameters
    ----------
    current_a
        Shape (M,): mean current at equal shares of the cycle's time.
    cycle_s
        Length of the cycle.
    tdc_deg
        Firing top dead centres in the cycle, shape (n,), without the unknown phase.
    cut_off_hz
        Of the zero-phase low-pass that the current went through.
    """

    current_a: Floats
    cycle_s: float
    tdc_deg: Floats
    cut_off_hz: float
    fuel: str

    @property
    def mean_a(self) -> float:
        return float(self.current_a.mean())


@dataclass(frozen=True, slots=True, eq=False)
class Priors:
    centre: Floats
    spread: Floats
    low: Floats
    high: Floats


def priors(n: int, *, stall: float | None, phase_deg: float, phase_spread_deg: float) -> Priors:
    centre = np.zeros(SHARED + 2 * n)
    spread = np.ones_like(centre)
    low, high = np.full_like(centre, -np.inf), np.full_like(centre, np.inf)

    def put(i, c, s, lo=-np.inf, hi=np.inf):
        centre[i], spread[i], low[i], high[i] = c, s, lo, hi

    put(INERTIA, np.log(7.0), 0.8, np.log(1.0), np.log(60.0))
    put(SHARE, 0.0, 0.8, -2.5, 2.5)
    if stall is None:
        put(STALL, np.log(4.2), 0.35, np.log(1.6), np.log(15.0))
    else:
        put(STALL, np.log(max(1.1 * stall, 1.8)), 0.25, np.log(1.6), np.log(15.0))
    put(FRICTION, 0.35, 0.3, 0.0, 1.0)
    put(DRAG, 0.10, 0.10, 0.0, 0.6)
    put(KNEE, 0.0, 0.5, 0.0, 4.0)
    put(PHASE, phase_deg / PHASE_UNIT_DEG, phase_spread_deg / PHASE_UNIT_DEG)
    put(SCALE, np.log(7.0), 1.0, np.log(0.5), np.log(60.0))
    put(RATIO, 1.5, 1.0, 0.0, 3.0)
    for k in range(n):
        put(SHARED + k, 0.9, 1.0, 0.0, 1.0)
        put(SHARED + n + k, 0.0, 0.04, -0.3, 0.3)
    return Priors(centre, spread, low, high)


@dataclass(frozen=True, slots=True, eq=False)
class State:
    values: Floats
    model_a: Floats
    jacobian: Floats
    orbit: Orbit
    linear: Linear
    load_columns: Floats
    time_node: Floats


def _load(profile: Profile, values: Floats):
    """Return load at the middle of each step and its derivatives by parameter."""
    n = profile.tdc_deg.size
    table = lobe_table(profile.fuel)
    c = min(max(values[RATIO], 0.0), table.ratios.size - 1 - 1e-9)
    c0 = int(c)
    cf = c - c0
    share = values[SHARED : SHARED + n]
    mass = values[SHARED + n :]
    step = SHARES[1]
    s = np.clip(share / step, 0.0, SHARES.size - 1 - 1e-9)
    s0 = s.astype(int)
    sf = (s - s0)[:, None]
    lower = [table.torque[c0 + d, s0] for d in (0, 1)]
    upper = [table.torque[c0 + d, s0 + 1] for d in (0, 1)]
    mlower = [table.mass_torque[c0 + d, s0] for d in (0, 1)]
    mupper = [table.mass_torque[c0 + d, s0 + 1] for d in (0, 1)]
    at = [lower[d] + sf * (upper[d] - lower[d]) for d in (0, 1)]
    mat = [mlower[d] + sf * (mupper[d] - mlower[d]) for d in (0, 1)]
    m_ = mass[:, None]
    mlobe = mat[0] + cf * (mat[1] - mat[0])
    full = [at[d] + m_ * mat[d] for d in (0, 1)]
    lobe = full[0] + cf * (full[1] - full[0])
    by_ratio = full[1] - full[0]
    by_share = [(upper[d] - lower[d]) + m_ * (mupper[d] - mlower[d]) for d in (0, 1)]
    by_share = (by_share[0] + cf * (by_share[1] - by_share[0])) / step
    # sample at alpha = theta - tdc - phase
    start = (
        _MIDDLES_DEG[0] - profile.tdc_deg - values[PHASE] * PHASE_UNIT_DEG + ANGLES / 2
    ) % ANGLES
    i0 = np.floor(start).astype(int)
    f = (start - i0)[:, None]
    idx = (i0[:, None] + np.arange(0, ANGLES, int(_STEP_DEG))[None, :]) % ANGLES
    idx1 = (idx + 1) % ANGLES
    rows = np.arange(n)[:, None]

    def sample(x):
        lo = x[rows, idx]
        return lo + f * (x[rows, idx1] - lo)

    scale = np.exp(values[SCALE])
    lo, hi = lobe[rows, idx], lobe[rows, idx1]
    lobes = lo + f * (hi - lo)
    total = lobes.sum(axis=0)
    friction = values[FRICTION]
    load = friction + scale * total
    columns = np.zeros((STEPS, values.size))
    columns[:, FRICTION] = 1.0
    columns[:, PHASE] = -scale * (hi - lo).sum(axis=0) * PHASE_UNIT_DEG
    columns[:, SCALE] = scale * total
    columns[:, RATIO] = scale * sample(by_ratio).sum(axis=0)
    columns[:, SHARED : SHARED + n] = scale * sample(by_share).T
    columns[:, SHARED + n :] = scale * sample(mlobe).T
    return load, columns


def motor_of(values: Floats) -> Motor:
    return Motor(float(np.exp(values[STALL])), float(values[KNEE]), float(values[DRAG]))


def logistic(x: float) -> float:
    return float(1 / (1 + np.exp(-x)))


def solve(profile: Profile, values: Floats, start: tuple[float, float] | None) -> State:
    """Current of the periodic cycle over the mean current, with derivatives (unfiltered)."""
    m = profile.current_a.size
    load, columns = _load(profile, values)
    motor = motor_of(values)
    inertia = float(np.exp(values[INERTIA]))
    share = logistic(values[SHARE])
    if start is None:
        x = float((1 - 1 / motor.stall_a) * (1 + motor.knee_a))
        start = (x * x, x * x)
    found, linear = orbit(load, _STEP_RAD, inertia, share, motor, start)
    forcing = linear.by_load[:, :, None] * columns[:, None, :]
    forcing[:, :, INERTIA] += linear.by_inertia * inertia
    forcing[:, :, SHARE] += linear.by_share * share * (1 - share)
    forcing[:, :, STALL] += linear.by_stall * motor.stall_a
    forcing[:, :, KNEE] += linear.by_knee
    forcing[:, :, DRAG] += linear.by_drag
    response = linear.periodic(forcing)
    return observe(profile, values, found, linear, columns, response, motor)


def observe(profile, values, found, linear, columns, response, motor, shared=True) -> State:
    m = profile.current_a.size
    x, y = np.sqrt(found.starter_sq), np.sqrt(found.crank_sq)
    by = motor.derivatives(x)
    i_nodes = by["current"]
    di = by["i_speed"][:, None] / (2 * x[:, None]) * response[:, 0, :]
    if shared:
        di[:, STALL] += by["i_stall"] * motor.stall_a
        di[:, KNEE] += by["i_knee"]
    # time at the nodes
    both = y[:-1] + y[1:]
    dt = 2 * _STEP_RAD / both
    t = np.concatenate(([0.0], np.cumsum(dt)))
    dy = response[:, 1, :] / (2 * y[:, None])
    ddt = -dt[:, None] / both[:, None] * (dy[:-1] + dy[1:])
    dtn = np.concatenate((np.zeros((1, ddt.shape[1])), np.cumsum(ddt, axis=0)))
    tau = t / t[-1]
    dtau = (dtn - tau[:, None] * dtn[-1]) / t[-1]
    grid = np.arange(m) / m
    at = np.clip(np.searchsorted(tau, grid, side="right") - 1, 0, STEPS - 1)
    w = (grid - tau[at]) / (tau[at + 1] - tau[at])
    slope = np.diff(i_nodes) / np.diff(tau)
    model = i_nodes[at] + w * (i_nodes[at + 1] - i_nodes[at])
    move = di[:-1] - slope[:, None] * dtau[:-1]
    move1 = di[1:] - slope[:, None] * dtau[1:]
    jac = move[at] + w[:, None] * (move1[at] - move[at])
    both_ = np.concatenate((model[:, None], jac), axis=1)
    gain = low_pass_gain(m, profile.cycle_s, profile.cut_off_hz)
    both_ = np.fft.irfft(np.fft.rfft(both_, axis=0) * gain[:, None], n=m, axis=0)
    return State(values, both_[:, 0], both_[:, 1:], found, linear, columns, tau)


def low_pass_gain(m: int, cycle_s: float, cut_off_hz: float) -> Floats:
    f = np.arange(m // 2 + 1) / cycle_s
    return 1 / (1 + (f / cut_off_hz) ** 8)


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    state: State
    cost: float
    rms: float
    rounds: int
    sigma: float
    priors: Priors
    profile: Profile
    hessian: Floats


def fit(
    profile: Profile, prior: Priors, values: Floats, *, rounds: int = 40, sigma: float = 0.02
) -> Fit:
    target = profile.current_a / profile.mean_a
    weight = 1 / prior.spread**2
    m = target.size

    def cost_of(s: State) -> float:
        r = target - s.model_a
        q = s.values - prior.centre
        return float((r @ r) / sigma**2 + (q * q) @ weight)

    state = solve(profile, values, None)
    cost = cost_of(state)
    damping = 1e-2
    used = 0
    for used in range(1, rounds + 1):
        r = target - state.model_a
        h = state.jacobian.T @ state.jacobian / sigma**2 + np.diag(weight)
        g = state.jacobian.T @ r / sigma**2 - weight * (state.values - prior.centre)
        free = ~(
            ((state.values <= prior.low + 1e-12) & (g < 0))
            | ((state.values >= prior.high - 1e-12) & (g > 0))
        )
        improved = False
        for _ in range(6):
            step = np.zeros_like(g)
            hh = h[np.ix_(free, free)]
            step[free] = np.linalg.solve(hh + damping * np.diag(np.diag(hh)), g[free])
            step = np.clip(
                step,
                -STEP_LIMIT_SPREADS * np.maximum(prior.spread, 0.1),
                STEP_LIMIT_SPREADS * np.maximum(prior.spread, 0.1),
            )
            trial = np.clip(state.values + step, prior.low, prior.high)
            begin = (state.orbit.starter_sq[0], state.orbit.crank_sq[0])
            try:
                new = solve(profile, trial, begin)
            except (np.linalg.LinAlgError, ZeroDivisionError, ValueError):
                damping *= 8
                continue
            c = cost_of(new)
            if c < cost and np.isfinite(c):
                improved = True
                break
            damping *= 8
        if not improved:
            break
        done = cost - c < 1e-3 * (1 + 1e-3 * cost)
        state, cost = new, c
        damping = max(damping / 6, 1e-6)
        if done:
            break
    r = target - state.model_a
    return Fit(state, cost, float(np.sqrt(r @ r / m)), used, sigma, prior, profile, h)


STEP_LIMIT_SPREADS = 1.0


def one_cycle_design(state: State, profile: Profile) -> Floats:
    """How one cycle's current answers to changes within it: shares (n), friction, start (2)."""
    n = profile.tdc_deg.size
    columns = np.zeros((STEPS, n + 1))
    columns[:, :n] = state.load_columns[:, SHARED : SHARED + n]
    columns[:, n] = 1.0
    forcing = state.linear.by_load[:, :, None] * columns[:, None, :]
    answer = state.linear.forced(forcing)
    response = np.concatenate((answer[:, :, 2:], answer[:, :, :2]), axis=2)
    return observe(profile, state.values, state.orbit, state.linear, state.load_columns, response, motor_of(state.values), shared=False).jacobian
