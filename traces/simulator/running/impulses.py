"""Idling by impulses: a push for each firing and a swing for each compression, on two inertias.

Nothing is known here of pistons and pressures: a firing is a raised cosine of some area, a
compression a sine that gives back what it took. The crank drives a gearbox's input through a
spring with damping; friction acts on both.
"""

import numpy as np

from traces.core.compression import Array
from traces.simulator.running.idle import Idle, IdleTruth, contributions, works_drawn

_STEP_S = 1e-4
_CYCLE = 720
_GOVERNOR_A_S, _GOVERNOR_P = 0.6, 0.8
_DAMPING = 0.12
_DRAG_BEHIND = 0.08
_COAST_SHARE = 0.72


def turn_by_impulses(idle: Idle) -> IdleTruth:  # noqa: PLR0915 - one march through time
    """Return how the crank turns."""
    count = len(idle.order)
    cycles = int(idle.lasts_s * idle.rpm * 1.8 / 120) + 4
    works = works_drawn(idle, cycles)
    rng = idle.rng(2)
    swept_m3 = idle.cylinder_l * 1e-3
    friction_nm = idle.friction_kpa * 1e3 * swept_m3 * count / (4 * np.pi)
    firing_j = friction_nm * 4 * np.pi / count
    push = firing_j * count / max(0.5, float(works.mean(axis=0).sum()))
    swing, fire = _tables(idle, works, rng, cycles)
    front = idle.inertia_kg_m2
    behind = idle.driveline_share * front
    spring = (2 * np.pi * idle.driveline_hz) ** 2 / (1 / front + 1 / behind)
    damper = 2 * _DAMPING * np.sqrt(spring / (1 / front + 1 / behind))
    steps = int(idle.lasts_s / _STEP_S)
    angle = float(rng.uniform(0, 720))
    wanted = idle.rpm * np.pi / 30
    speed = other = wanted
    twist = friction_nm * _DRAG_BEHIND / spring
    gain, summed, smooth = 1.0, 0.0, wanted
    angles = np.empty(steps)
    wave, pace = rng.uniform(0.02, 0.05), rng.uniform(0.8, 4.0)
    off_s = idle.lasts_s * _COAST_SHARE if idle.course == "coast" else idle.lasts_s
    stopped = steps
    swing_at, fire_at = swing.tolist(), fire.tolist()
    most = len(swing_at) - 2
    for n in range(steps):
        angles[n] = angle
        at = int(angle)
        part = angle - at
        if at >= most or speed <= 4.0:
            stopped = n
            break
        gas = swing_at[at] + part * (swing_at[at + 1] - swing_at[at])
        burn = fire_at[at] + part * (fire_at[at + 1] - fire_at[at])
        now_s = n * _STEP_S
        smooth += (speed - smooth) * _STEP_S / 0.1
        aimed = wanted
        if idle.course == "hunting":
            aimed *= 1 + 0.18 * np.sin(2 * np.pi * now_s / 1.3)
        off = (aimed - smooth) / wanted
        summed = min(0.5, max(-0.5, summed + _GOVERNOR_A_S * off * _STEP_S))
        gain = max(0.0, 1 + _GOVERNOR_P * off + summed)
        if idle.course == "snap" and 0.4 < now_s / idle.lasts_s < 0.45:
            gain = 2.5
        if now_s >= off_s:
            gain = 0.0
        through = spring * twist + damper * (speed - other)
        load = friction_nm * (1 + wave * np.sin(pace * now_s)) * (0.7 + 0.3 * speed / wanted)
        speed += (gas + push * gain * burn - (1 - _DRAG_BEHIND) * load - through) / front * _STEP_S
        other += (through - _DRAG_BEHIND * load) / behind * _STEP_S
        twist += (speed - other) * _STEP_S
        angle += np.rad2deg(speed) * _STEP_S
    time_s = np.arange(stopped, dtype=np.float64) * _STEP_S
    first = int(angles[0] // _CYCLE) + 1
    last = int(np.interp(off_s, time_s, angles[:stopped]) // _CYCLE)
    turned = np.asarray(angles[:stopped], dtype=np.float64)
    return IdleTruth(time_s, turned, contributions(idle, works[first:last]))


def _tables(idle: Idle, works: Array, rng: np.random.Generator, cycles: int) -> tuple[Array, Array]:
    """Return torque of compressions in newton metres and of firings in 1 J each, by degree."""
    swept_m3 = idle.cylinder_l * 1e-3
    # what is put into the gas and comes back, of a ratio of ten some three times p V
    swung_j = 3.2 * idle.manifold_kpa * 1e3 * swept_m3
    half = 80.0
    u = np.arange(-half, half + 1) / half
    swing_shape = np.sin(np.pi * u) * (1 - np.abs(u)) ** 0.6
    swing_shape *= swung_j / (np.abs(swing_shape).sum() / 2 * np.pi / 180)
    swing, fire = np.zeros((cycles + 2) * _CYCLE), np.zeros((cycles + 2) * _CYCLE)
    for cycle in range(cycles):
        for j, tdc in enumerate(idle.order.tdc_angles_deg):
            at = cycle * _CYCLE + round(tdc)
            height = 1 + 0.02 * rng.normal()
            low = max(0, at - int(half))
            swing[low : at + int(half) + 1] += height * swing_shape[low - at + int(half) :]
            lasts = idle.burn_lasts_deg * 1.3
            begins = at + idle.burn_late_deg - 0.3 * lasts + 3.0 * rng.normal()
            deg = np.arange(int(begins), int(begins + lasts) + 2)
            bump = 1 - np.cos(2 * np.pi * np.clip((deg - begins) / lasts, 0, 1))
            bump /= bump.sum() * np.pi / 180
            inside = deg >= 0
            fire[deg[inside]] += works[cycle, j] * bump[inside]
    return swing, fire
