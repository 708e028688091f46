"""Idling by cylinder pressure: compression, a Wiebe burn and gas exchange on a rigid crank.

Pressure follows the first law with a constant ratio of specific heats; the burn is Wiebe's
(Heywood, Internal Combustion Engine Fundamentals, ch. 9; from memory). Pistons and rods add the
inertia that comes and goes with the crank angle.
"""

import numpy as np

from traces.core.compression import Array, SliderCrank, travel
from traces.simulator.running.idle import Idle, IdleTruth, contributions, works_drawn

_GAMMA = 1.31
_CYCLE = 720
_EXHAUST_KPA, _CRANKCASE_KPA = 103.0, 100.0
_WIEBE_M, _WIEBE_A = 2.0, 6.9
_GOVERNOR_P, _GOVERNOR_I = 0.6, 0.03
_COAST_SHARE = 0.72
_FILLED, _STALLED = 3, 0.02
_PISTON_KG_A_LITRE = 1.1


def turn_by_gas(idle: Idle) -> IdleTruth:  # noqa: PLR0915 - one march through the cycles
    """Return how the crank turns."""
    count = len(idle.order)
    cycles = int(idle.lasts_s * idle.rpm * 1.8 / 120) + 4
    linkage = _linkage(idle)
    cold, hot, worth_j = _torques(idle, linkage)
    works = works_drawn(idle, cycles)
    rng = idle.rng(2)
    offset = [round(a) for a in idle.order.tdc_angles_deg]
    inertia = _inertia(idle, linkage, offset)
    friction_nm = idle.friction_kpa * 1e3 * linkage.swept_m3 * count / (4 * np.pi)
    # work that a cylinder has to give for the speed to stay
    needed_j = friction_nm * 4 * np.pi / count - float(cold.sum()) * np.pi / 180
    torque = np.zeros((cycles + 3) * _CYCLE)
    energy = np.empty((cycles + 1) * _CYCLE)
    wanted = idle.rpm * np.pi / 30
    stored = 0.5 * inertia[0] * wanted**2
    summed, speed = 0.0, wanted
    given = count / max(0.5, float(works.mean(axis=0).sum()))
    wave = rng.uniform(0.02, 0.05)
    pace, phase = rng.uniform(0.02, 0.08), rng.uniform(0, 2 * np.pi)
    off_at = _FILLED + int(_COAST_SHARE * idle.lasts_s * idle.rpm / 120)
    off_from = off_at if idle.course == "coast" else cycles
    cut = _cut(idle)
    fired = np.zeros_like(works)
    last = cycles
    for cycle in range(cycles):
        aimed = wanted * _course(idle, cycle)
        off = (aimed - speed) / wanted
        summed = float(np.clip(summed + _GOVERNOR_I * off, -0.5, 0.5))
        push = given * (1 + _GOVERNOR_P * off + summed)
        if idle.course == "snap":
            push = given * (2.5 if _snaps(idle, cycle) else 1.0 + off)
        push = 0.0 if cycle >= off_from else max(0.0, push)
        for j, at in enumerate(offset):
            start = cycle * _CYCLE + at + cut
            shift = round(float(rng.normal(0, 2.5)))
            heat = push * works[cycle, j] * needed_j / worth_j
            fired[cycle, j] = push * works[cycle, j]
            torque[start : start + _CYCLE] += cold + heat * np.roll(hot, shift)
        first = cycle * _CYCLE
        load = (
            friction_nm * (1 + wave * np.sin(phase + pace * cycle)) * (0.75 + 0.25 * speed / wanted)
        )
        step = (torque[first : first + _CYCLE] - load) * np.pi / 180
        energy[first : first + _CYCLE] = stored + np.concatenate(([0.0], np.cumsum(step)[:-1]))
        if cycle < _FILLED:
            # the torque of firings before the first is missing
            continue
        stored += float(step.sum())
        within = energy[first : first + _CYCLE]
        if min(stored, float(within.min())) < _STALLED * 0.5 * inertia[0] * wanted**2:
            last = cycle
            break
        speed = float(np.sqrt(2 * within / inertia).mean())
    first, end = _FILLED * _CYCLE, last * _CYCLE
    omega = np.sqrt(2 * energy[first:end] / np.tile(inertia, last - _FILLED))
    angle_deg = np.arange(first, end, dtype=np.float64) - cut - 360
    time_s = np.concatenate(([0.0], np.cumsum(np.deg2rad(1.0) * 2 / (omega[:-1] + omega[1:]))))
    inside = time_s < idle.lasts_s
    return IdleTruth(
        time_s[inside],
        angle_deg[inside],
        contributions(idle, fired[_FILLED : min(last, off_from)]),
    )


def _snaps(idle: Idle, cycle: int) -> bool:
    return 0.4 < (cycle - _FILLED) * 120 / idle.rpm / idle.lasts_s < 0.45


def _cut(idle: Idle) -> int:
    return int(idle.rng(3).integers(0, _CYCLE))


def _linkage(idle: Idle) -> SliderCrank:
    bore = (4 * idle.cylinder_l * 1e-3 / np.pi) ** (1 / 3)
    return SliderCrank(bore, bore, idle.rod_over_crank * bore / 2, idle.compression_ratio)


def _torques(idle: Idle, linkage: SliderCrank) -> tuple[Array, Array, float]:
    """Return a cylinder's torque without fire and that of a joule of heat, and its work.

    By degree from 360 before to 360 after firing top dead centre, shape (720,).
    """
    deg = np.arange(-360, 360, dtype=np.float64)
    volume = linkage.volume_m3(deg)
    slope = linkage.dvolume_m3_per_rad(deg)
    starts = idle.burn_late_deg - 0.45 * idle.burn_lasts_deg
    x = np.clip((deg - starts) / idle.burn_lasts_deg, 0, None)
    burnt = 1 - np.exp(-_WIEBE_A * x ** (_WIEBE_M + 1))
    cold_kpa = np.full(deg.size, idle.manifold_kpa)
    hot_kpa = np.zeros(deg.size)
    closed = np.flatnonzero((deg >= -150) & (deg <= 130))
    for i in closed[1:]:
        ratio = (volume[i - 1] / volume[i]) ** _GAMMA
        cold_kpa[i] = cold_kpa[i - 1] * ratio
        gained = (burnt[i] - burnt[i - 1]) * (_GAMMA - 1) / volume[i] / 1e3
        hot_kpa[i] = hot_kpa[i - 1] * ratio + gained
    out = deg > 130
    fading = np.exp(-(deg[out] - 130) / 18)
    cold_kpa[out] = _EXHAUST_KPA + (cold_kpa[closed[-1]] - _EXHAUST_KPA) * fading
    hot_kpa[out] = hot_kpa[closed[-1]] * fading
    cold = (cold_kpa - _CRANKCASE_KPA) * 1e3 * slope
    hot = hot_kpa * 1e3 * slope
    return cold, hot, float(hot.sum() * np.pi / 180)


def _inertia(idle: Idle, linkage: SliderCrank, offset: list[int]) -> Array:
    """Return the inertia by crank angle as the torque is laid, shape (720,)."""
    deg = np.arange(_CYCLE, dtype=np.float64)
    mass_kg = _PISTON_KG_A_LITRE * idle.cylinder_l
    total = np.full(_CYCLE, idle.inertia_kg_m2)
    for at in offset:
        slope = travel(np.deg2rad(deg - at - _cut(idle)), linkage.stroke_m / 2, linkage.rod_m)[1]
        total += mass_kg * slope**2
    return total


def _course(idle: Idle, cycle: int) -> float:
    if idle.course == "hunting":
        return 1 + 0.18 * float(np.sin(2 * np.pi * cycle / 9))
    return 1.0
