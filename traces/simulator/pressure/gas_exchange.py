"""One cylinder motored through its four strokes: gas exchange, heat loss and leaks.

First law for an open system with an ideal gas whose heat capacity rises with temperature; nozzle
flow through valves and leaks (Saint-Venant and Wantzel); heat to the wall after Woschni (SAE
670931) or Annand (Proc. IMechE 177, 1963); all as told in Heywood, Internal Combustion Engine
Fundamentals, ch. 4, 6, 12 and appendix C (from memory). It shares nothing with the analysis but
the slider-crank linkage.
"""

import math
from dataclasses import dataclass

import numpy as np

from traces.core.compression import Array, SliderCrank
from traces.simulator.pressure.case import PressureCase

R_J_KGK = 287.05
_CP0, _CP1 = 948.0, 0.175
"""Heat capacity of air at constant pressure, J/(kg K) and per kelvin: 1000 at 300 K, 1070 at 700 K
(tables of air: 1005 and 1075)."""
STEP_DEG = 0.5
_FIRST_DEG = -180.0
_CYCLES = 3
_TAU_SHARE = 0.25
_MOST_SUBSTEPS = 60
_DISCHARGE_SEAT, _DISCHARGE_PORT = 0.62, 0.60


@dataclass(frozen=True, slots=True, eq=False)
class MotoredCycle:
    """A cycle that repeats itself.

    Parameters
    ----------
    angle_deg
        From -180 to 540, shape (1441,); 0 is the firing top dead centre.
    pressure_kpa, temperature_k, mass_kg
        In the cylinder, absolute, same shape.
    exhaust_kpa
        Behind the exhaust valve, same shape.
    """

    angle_deg: Array
    pressure_kpa: Array
    temperature_k: Array
    mass_kg: Array
    exhaust_kpa: Array


def heat_capacity(temperature_k: float) -> float:
    """Return cv of air, J/(kg K)."""
    return _CP0 + _CP1 * temperature_k - R_J_KGK


def inner_energy(temperature_k: float) -> float:
    """Return the inner energy of air over that at 0 K by the same law, J/kg."""
    return (_CP0 - R_J_KGK) * temperature_k + 0.5 * _CP1 * temperature_k**2


def enthalpy(temperature_k: float) -> float:
    """Return the enthalpy of air by the same law, J/kg."""
    return inner_energy(temperature_k) + R_J_KGK * temperature_k


def speed_factor(case: PressureCase, angle_deg: Array) -> Array:
    """Return crank speed over its mean: slowest shortly after each compression."""
    after_deg = 0.12 * 720.0 / case.swings
    turns = np.deg2rad((angle_deg - after_deg) * case.swings / 2)
    # the starter lets go behind a compression, so that it is no plain cosine
    return np.asarray(1 - case.swing * (np.cos(turns) + 0.25 * np.cos(2 * turns + 0.5)))


def linkage_of(case: PressureCase) -> SliderCrank:
    """Return its slider-crank."""
    return SliderCrank(
        case.bore_m,
        case.stroke_m,
        case.rod_over_crank * case.stroke_m / 2,
        case.compression_ratio,
    )


def motored_cycle(case: PressureCase) -> MotoredCycle:
    """March through cycles until they repeat and return the last."""
    angle = np.arange(_FIRST_DEG, 540.0 + STEP_DEG / 2, STEP_DEG)
    linkage = linkage_of(case)
    volume = linkage.volume_m3(angle)
    omega = case.rpm * math.pi / 30 * speed_factor(case, angle)
    seconds = math.radians(STEP_DEG) / omega
    wall_m2 = 2 * linkage.piston_m2 + 4 * (volume - linkage.clearance_m3) / case.bore_m
    wall_m2 = wall_m2 + 0.15 * linkage.piston_m2
    intake_m2 = _valve_area(
        angle, case.timing.intake_opens_deg, case.timing.intake_closes_deg, case, case.intake_bore_m
    )
    exhaust_m2 = _valve_area(
        angle,
        case.timing.exhaust_opens_deg,
        case.timing.exhaust_closes_deg,
        case,
        case.exhaust_bore_m,
    )
    waves = np.deg2rad(angle * case.swings / 2)
    intake_pa = 1e3 * case.intake_kpa * (1 + case.intake_ripple * np.cos(waves + 0.9))
    exhaust_pa = 1e3 * case.exhaust_kpa * (1 + case.exhaust_ripple * np.cos(waves - 0.7))
    temperature, pressure = case.intake_k + 15.0, 1e3 * case.intake_kpa
    mass = pressure * volume[0] / (R_J_KGK * temperature)
    kept = np.empty((3, angle.size))
    for _ in range(_CYCLES):
        for i in range(angle.size):
            pressure = mass * R_J_KGK * temperature / volume[i]
            kept[:, i] = pressure, temperature, mass
            if i + 1 == angle.size:
                break
            openings = (
                (float(intake_m2[i]) + case.intake_leak_m2, float(intake_pa[i]), case.intake_k),
                (float(exhaust_m2[i]) + case.exhaust_leak_m2, float(exhaust_pa[i]), case.exhaust_k),
                (case.ring_leak_m2, 1e3 * case.air_kpa, case.wall_k),
            )
            mass, temperature = _stepped(
                case,
                mass,
                temperature,
                volumes_m3=(float(volume[i]), float(volume[i + 1])),
                seconds=float(seconds[i]),
                wall_m2=float(wall_m2[i]),
                openings=openings,
            )
    return MotoredCycle(angle, kept[0] / 1e3, kept[1], kept[2], exhaust_pa / 1e3)


def _valve_area(
    angle_deg: Array, opens_deg: float, closes_deg: float, case: PressureCase, seat_m: float
) -> Array:
    """Return the effective area of a valve by crank angle, m2: curtain or port, the smaller."""
    area = np.zeros(angle_deg.size)
    for turn in (-720.0, 0.0, 720.0):
        share = (angle_deg - opens_deg - turn) / (closes_deg - opens_deg)
        inside = (share > 0) & (share < 1)
        lift_m = case.lift_m * np.sin(np.pi * share[inside]) ** 2
        curtain = _DISCHARGE_SEAT * math.pi * seat_m * lift_m
        port = _DISCHARGE_PORT * math.pi / 4 * (0.9 * seat_m) ** 2
        area[inside] = np.minimum(curtain, port)
    return area


def _stepped(
    case: PressureCase,
    mass: float,
    temperature: float,
    *,
    volumes_m3: tuple[float, float],
    seconds: float,
    wall_m2: float,
    openings: tuple[tuple[float, float, float], ...],
) -> tuple[float, float]:
    """Return mass and temperature a step later, in as many parts as the openings ask for."""
    area = sum(opening[0] for opening in openings)
    tau = volumes_m3[0] / (area * math.sqrt(1.4 * R_J_KGK * temperature) + 1e-12)
    parts = min(_MOST_SUBSTEPS, max(1, math.ceil(seconds / (_TAU_SHARE * tau))))
    dt = seconds / parts
    grow = (volumes_m3[1] - volumes_m3[0]) / parts
    volume = volumes_m3[0]
    for _ in range(parts):
        pressure = mass * R_J_KGK * temperature / volume
        inner, flown = 0.0, 0.0
        for opening_m2, port_pa, port_k in openings:
            if opening_m2 <= 0.0:
                continue
            if pressure >= port_pa:
                out = dt * opening_m2 * _flux(pressure, temperature, port_pa)
                # it never runs past the pressure on the other side
                out = min(out, 0.7 * mass * (1 - port_pa / pressure))
                flown -= out
                inner -= out * enthalpy(temperature)
            else:
                into = dt * opening_m2 * _flux(port_pa, port_k, pressure)
                into = min(into, 0.7 * (port_pa - pressure) * volume / (1.3 * R_J_KGK * port_k))
                flown += into
                inner += into * enthalpy(port_k)
        inner -= dt * wall_m2 * _film(case, pressure, temperature) * (temperature - case.wall_k)
        # work against the pressure in the middle of the step, by an adiabatic guess
        gamma = 1 + R_J_KGK / heat_capacity(temperature)
        middle = pressure * (1 - 0.5 * gamma * grow / volume)
        energy = mass * inner_energy(temperature) + inner - middle * grow
        mass += flown
        volume += grow
        temperature = _temperature_of(energy / mass)
    return mass, temperature


def _temperature_of(inner_j_kg: float) -> float:
    """Return the temperature at an inner energy: the root of its quadratic."""
    a, b = 0.5 * _CP1, _CP0 - R_J_KGK
    return (-b + math.sqrt(b * b + 4 * a * inner_j_kg)) / (2 * a)


def _flux(upstream_pa: float, upstream_k: float, downstream_pa: float) -> float:
    """Return the mass flow through an opening of one square metre, kg/(s m2)."""
    gamma = 1.4
    ratio = max(downstream_pa / upstream_pa, (2 / (gamma + 1)) ** (gamma / (gamma - 1)))
    factor = ratio ** (2 / gamma) - ratio ** ((gamma + 1) / gamma)
    speed = math.sqrt(R_J_KGK * upstream_k)
    return upstream_pa / speed * math.sqrt(max(0.0, 2 * gamma / (gamma - 1) * factor))


def _film(case: PressureCase, pressure_pa: float, temperature_k: float) -> float:
    """Return the heat transfer coefficient, W/(m2 K)."""
    if case.heat == "none":
        return 0.0
    piston_m_s = 2 * case.stroke_m * case.rpm / 60
    if case.heat == "annand":
        conductivity = 0.026 * (temperature_k / 300) ** 0.75
        viscosity = 1.85e-5 * (temperature_k / 300) ** 0.7
        density = pressure_pa / (R_J_KGK * temperature_k)
        reynolds = density * piston_m_s * case.bore_m / viscosity
        return float(0.5 * conductivity / case.bore_m * reynolds**0.7)
    gas_m_s = max(2.28 * piston_m_s, 0.8)
    return float(
        3.26 * case.bore_m**-0.2 * (pressure_pa / 1e3) ** 0.8 * temperature_k**-0.55 * gas_m_s**0.8
    )
