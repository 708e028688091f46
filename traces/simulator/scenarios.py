"""Draw a whole capture from a seed: engine, starter, battery, clamp, sync, fault and flaw.

Starter and battery are made to fit the engine: the speed at which it shall crank is drawn, and
the motor's constant follows from the mean load, as a maker chooses a starter for an engine.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from engines.core.firing import FiringOrder
from traces.core.compression import SliderCrank
from traces.core.setup import SyncEvent
from traces.simulator import faults, flaws
from traces.simulator.electrics import BatteryModel, StarterModel
from traces.simulator.engine import (
    Cylinder,
    EngineModel,
    Friction,
    GasModel,
    TorqueRipple,
    ValveTiming,
)
from traces.simulator.faults import DRAWN_FAULTS, FAULTS
from traces.simulator.flaws import FLAWS
from traces.simulator.hard import HARD, harden
from traces.simulator.layouts import LAYOUTS, SimulatedLayout
from traces.simulator.recorder import Clamp, PickUp
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios_c import third_physics

__all__ = ["FAULTS", "FLAWS", "HARD", "LAYOUTS", "draw"]

SyncKind = Literal["720", "360", "none"]

_RATES_HZ = (500, 1_000, 2_000, 5_000, 10_000, 20_000, 50_000, 100_000, 1_000_000)
_RATE_SHARES = (0.04, 0.14, 0.20, 0.20, 0.16, 0.14, 0.07, 0.04, 0.01)
_RANGES_V = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
_FAULT_SHARES = {"none": 5.0, "one": 4.0, "two": 2.0}


@dataclass(frozen=True, slots=True)
class _Fit:
    """What starter and battery are made to fit."""

    load_nm: float
    peak_nm: float
    speed_rad_s: float


def draw(
    seed: int,
    layout: str | None = None,
    fault: str | None = None,
    flaw: str | None = None,
    family: Family = "a",
    *,
    sync: SyncKind | None = None,
    hard: str | None = None,
) -> Scenario:
    """Return the scenario of a seed.

    Parameters
    ----------
    seed
        Same arguments, same scenario. Parts have random streams of their own: another fault
        with the same seed and layout is in the same engine with the same starter.
    layout
        A key of `LAYOUTS`; drawn if None.
    fault
        One of `FAULTS`; drawn from `DRAWN_FAULTS` that the engine can have if None.
    flaw
        One of `FLAWS`; None for none.
    family
        Which physics, see `Scenario`.
    sync
        Every 720 or 360 degrees, or none; drawn if None, mostly 720.
    hard
        One of `HARD`; None leaves engine, instrument and pick-up as they were drawn.

    Raises
    ------
    ValueError
        If there is no such layout, fault, flaw or hard kind, or the engine cannot have it.
    """
    name = layout or str(_stream(seed, 0).choice(list(LAYOUTS)))
    if name not in LAYOUTS:
        raise ValueError(f"there is no layout “{name}”; take one of {', '.join(LAYOUTS)}")
    kind = LAYOUTS[name]
    at = int(_stream(seed, 1).integers(len(kind.orders)))
    engine, fit = _engine(kind, at, family, _stream(seed, 2))
    subject = faults.Subject.of(kind, at, engine.cylinders, engine.linkage.swept_m3 * 1e3)
    fault = fault or _fault(subject, _stream(seed, 3))
    cylinders, gasket = faults.put(fault, subject, _stream(seed, 4))
    engine = replace(engine, cylinders=cylinders, gasket=gasket)
    starter, battery, mean_a = _electrics(fit, family, kind, _stream(seed, 5))
    rng = _stream(seed, 7)
    scenario = Scenario(
        engine=engine,
        starter=starter,
        battery=battery,
        clamp=_clamp(
            battery.emf_v / (battery.resistance_ohm + starter.resistance_ohm), family, rng
        ),
        sync=_sync(engine, sync, _stream(seed, 6)),
        family=family,
        rate_hz=float(rng.choice(_RATES_HZ, p=_RATE_SHARES)),
        before_s=float(rng.uniform(0.15, 0.7)),
        crank_s=float(rng.uniform(3.2, 5.5)),
        after_s=float(rng.uniform(0.1, 0.6)),
        start_deg=float(rng.uniform(0, 720)),
        layout=name,
        fault=fault,
        seed=seed,
        banks=subject.banks if len(subject.banks) > 1 else (),
    )
    if family == "c":
        scenario = third_physics(scenario, mean_a, _stream(seed, 10))
    if hard:
        scenario = harden(hard, scenario, _stream(seed, 9))
    return flaws.apply(flaw or "none", scenario, mean_a, _stream(seed, 8))


def _stream(seed: int, part: int) -> np.random.Generator:
    return np.random.default_rng([seed, 100 + part])


def _fault(subject: faults.Subject, rng: np.random.Generator) -> str:
    kinds = [kind for kind in DRAWN_FAULTS if faults.possible(kind, subject)]
    shares = np.array([_FAULT_SHARES.get(kind, 1.0) for kind in kinds])
    return str(rng.choice(kinds, p=shares / shares.sum()))


def _engine(
    layout: SimulatedLayout, at: int, family: Family, rng: np.random.Generator
) -> tuple[EngineModel, _Fit]:
    order = layout.order(at)
    litres = float(rng.uniform(*layout.cylinder_l))
    ratio = float(rng.uniform(*layout.compression_ratio))
    # stroke over bore from 0.85 to 1.15
    bore_m = float((litres * 1e-3 * 4 / np.pi / rng.uniform(0.85, 1.15)) ** (1 / 3))
    stroke_m = litres * 1e-3 / (np.pi * bore_m**2 / 4)
    linkage = SliderCrank(bore_m, stroke_m, stroke_m * float(rng.uniform(1.5, 1.85)), ratio)
    count = len(order)
    mean_pressure_pa = rng.uniform(0.9e5, 2.2e5) * (1.25 if layout.fuel == "diesel" else 1.0)
    friction_nm = float(mean_pressure_pa * litres * 1e-3 * count / (4 * np.pi))
    accessory_nm = float(rng.uniform(0.5, 5.0))
    speed_rad_s = float(rng.uniform(170, 285) * np.pi / 30)
    size = litres / 0.5
    engine = EngineModel(
        firing_order=order,
        linkage=linkage,
        cylinders=tuple(_sound(size, rng) for _ in range(count)),
        timing=_timing(size, layout, count, rng),
        gas=_gas(litres * count, layout, rng),
        friction=Friction(
            dry_nm=0.55 * friction_nm,
            viscous_nms=0.45 * friction_nm / 25,
            breakaway_nm=friction_nm * float(rng.uniform(0.1, 0.5)),
            ring_share=float(rng.uniform(0.005, 0.03)),
        ),
        inertia_kg_m2=float(rng.uniform(*layout.inertia_kg_m2)),
        accessory_nm=accessory_nm,
        ripples=_ripples(order, rng),
        fuel=layout.fuel,
    )
    # half a litre at 10.5 : 1 resists with about 121 N m; what leaks, heat and pumping take of
    # it is about 1 N m on the mean, twice that with heat to the walls
    peak_nm = 121 * size * (ratio / 10.5) ** 0.92
    lost_nm = (0.9 if family == "a" else 2.0) * size * count * ratio / 10.5
    load_nm = friction_nm + accessory_nm + lost_nm
    return engine, _Fit(load_nm, peak_nm, speed_rad_s)


def _sound(size: float, rng: np.random.Generator) -> Cylinder:
    return Cylinder(
        leak_mm2=size * float(np.exp(rng.normal(np.log(0.22), 0.22))),
        clearance_factor=float(np.clip(rng.normal(1, 0.010), 0.97, 1.03)),
        intake_area_factor=float(rng.uniform(0.95, 1.05)),
        mass_factor=float(np.clip(rng.normal(1, 0.006), 0.98, 1.02)),
    )


def _timing(
    size: float, layout: SimulatedLayout, count: int, rng: np.random.Generator
) -> ValveTiming:
    held = rng.random() < (0.5 if count == 2 else 0.04)
    late = layout.fuel == "petrol" and rng.random() < 0.1
    decompression = size * float(rng.uniform(8, 18))
    return ValveTiming(
        intake_opens_btdc_deg=float(rng.uniform(0, 15)),
        intake_closes_abdc_deg=float(rng.uniform(75, 95) if late else rng.uniform(35, 62)),
        exhaust_opens_bbdc_deg=float(rng.uniform(35, 55)),
        exhaust_closes_atdc_deg=float(rng.uniform(0, 15)),
        intake_area_mm2=size * float(rng.uniform(420, 700)),
        exhaust_area_mm2=size * float(rng.uniform(350, 560)),
        decompression_mm2=decompression if held and layout.fuel == "petrol" else 0.0,
        decompression_closes_btdc_deg=float(rng.uniform(60, 85)),
    )


def _gas(litres: float, layout: SimulatedLayout, rng: np.random.Generator) -> GasModel:
    ambient_kpa = float(rng.uniform(88, 103))
    open_throttle = layout.fuel == "diesel" or rng.random() < 0.4
    fill = float(rng.uniform(0.96, 0.995) if open_throttle else rng.uniform(0.75, 0.95))
    throttle_mm2 = float(rng.uniform(500, 1500) if open_throttle else rng.uniform(22, 80) * litres)
    return GasModel(
        ambient_kpa=ambient_kpa,
        ambient_k=float(rng.uniform(268, 313)),
        wall_k=float(rng.uniform(280, 355)),
        manifold_kpa=ambient_kpa * fill,
        exponent=float(rng.uniform(1.24, 1.34)),
        wall_w_m2k=float(rng.uniform(25, 90)),
        laminar_share=float(rng.uniform(0.2, 0.9)),
        throttle_mm2=throttle_mm2,
        plenum_l=litres * float(rng.uniform(1.0, 2.0)) + 1.0,
    )


def _ripples(order: FiringOrder, rng: np.random.Generator) -> tuple[TorqueRipple, ...]:
    valves = TorqueRipple(len(order), float(rng.uniform(0.5, 2.5)), float(rng.uniform(0, 360)))
    ripples = [valves]
    if rng.random() < 0.3:
        lobes = int(rng.integers(2, 5))
        ripples.append(TorqueRipple(lobes, float(rng.uniform(1, 5)), float(rng.uniform(0, 360))))
    if rng.random() < 0.25:
        ripples.append(TorqueRipple(2, float(rng.uniform(0.5, 2)), float(rng.uniform(0, 360))))
    return tuple(ripples)


def _electrics(
    fit: _Fit, family: Family, layout: SimulatedLayout, rng: np.random.Generator
) -> tuple[StarterModel, BatteryModel, float]:
    """Return starter and battery that crank the engine at about the speed wanted."""
    emf_v = float(rng.uniform(12.1, 12.8))
    brush_v = 0.0 if family == "a" else float(rng.uniform(0.6, 1.3))
    drag_nm, drag_nms = float(rng.uniform(5, 13)), float(rng.uniform(0.05, 0.2))
    load_nm = fit.load_nm + drag_nm + drag_nms * fit.speed_rad_s
    # a running starter takes a fifth to a third of its stall current
    share = float(rng.uniform(0.15, 0.28))
    torque_per_a = (1 - share) * (emf_v - brush_v) / fit.speed_rad_s
    mean_a = load_nm / torque_per_a
    stall_a = max(mean_a / share, 1.3 * (fit.peak_nm + load_nm) / torque_per_a, 330.0)
    total_ohm = (emf_v - brush_v) / stall_a
    battery_share = float(rng.uniform(0.3, 0.5))
    is_series = rng.random() < (0.7 if family == "b" else 0.2)
    over = float(rng.uniform(0.6, 1.6))
    knee_a = mean_a * over
    if not is_series and family == "b":
        knee_a = mean_a * float(rng.uniform(8, 20))
    starter = StarterModel(
        kind="series" if is_series else "permanent-magnet",
        torque_nm_per_a=torque_per_a / _field_share(family, is_series, mean_a / knee_a),
        knee_a=knee_a,
        resistance_ohm=total_ohm * (1 - battery_share),
        inductance_h=float(rng.uniform(1.5e-3, 6e-3)) * total_ohm,
        brush_drop_v=brush_v,
        gear_ratio=float(rng.uniform(10, 15) * rng.choice([1.0, rng.uniform(3, 5)])),
        inertia_kg_m2=float(rng.uniform(0.05, 0.28)) * (1.5 if layout.fuel == "diesel" else 1.0),
        drag_nm=drag_nm,
        drag_nms=drag_nms,
        commutator_bars=int(rng.integers(19, 31)),
        ripple_share=float(rng.uniform(0.004, 0.03)),
        clutch_nm_per_rad=float(np.exp(rng.uniform(np.log(4e3), np.log(3e4)))),
        clutch_nms=float(rng.uniform(6, 25)),
        hold_a=float(rng.uniform(6, 14)),
    )
    battery = BatteryModel(
        emf_v=emf_v,
        resistance_ohm=total_ohm * battery_share,
        sag_v_per_as=float(rng.uniform(0.2, 1.0)) / (mean_a * 6),
        polarisation_ohm=total_ohm * float(rng.uniform(0.05, 0.15)),
        polarisation_s=float(rng.uniform(0.2, 1.0)),
    )
    return starter, battery, mean_a


def _field_share(family: Family, is_series: bool, over: float) -> float:
    """Return the motor's field at its mean current over the constant of its model."""
    if family == "a":
        return over / (over + 1) if is_series else 1.0
    if family == "c":
        # its field is settled when the rest of its physics is drawn
        return 1.0
    return 0.12 + 0.88 * float(np.tanh(over)) if is_series else 1 / (1 + over)


def _clamp(stall_a: float, family: Family, rng: np.random.Generator) -> Clamp:
    mv_per_a = float(rng.choice([1, 2, 10, 10, 10, 100]))
    volts = stall_a * mv_per_a / 1000
    enough = [r for r in _RANGES_V if r >= volts * 1.05] or [_RANGES_V[-1]]
    return Clamp(
        mv_per_a=mv_per_a,
        bandwidth_hz=float(np.exp(rng.uniform(np.log(150), np.log(20_000)))),
        offset_a=float(rng.normal(0, 2.5)),
        drift_a_per_s=float(rng.normal(0, 0.4)),
        drift_settle_a=float(rng.normal(0, 1.5)) if family == "b" else 0.0,
        inverted=bool(rng.random() < 0.15),
        noise_v=float(rng.uniform(0.3, 2.5)) * mv_per_a / 1000,
        bits=int(rng.choice([8, 8, 10, 12, 12, 14, 16])),
        range_v=enough[0],
    )


def _sync(engine: EngineModel, kind: SyncKind | None, rng: np.random.Generator) -> PickUp | None:
    kind = kind or ("720", "360", "none")[int(rng.choice(3, p=[0.76, 0.12, 0.12]))]
    order = engine.firing_order
    number = int(rng.choice(order.sequence))
    events: list[SyncEvent] = ["ignition", "injector", "cam"]
    shares = [0.0, 0.85, 0.15] if engine.fuel == "diesel" else [0.8, 0.08, 0.12]
    event = events[int(rng.choice(3, p=shares))]
    reach_deg = 0.25 * min(order.intervals_deg)
    angles: dict[SyncEvent, float] = {
        "ignition": -float(rng.uniform(2, 12)),
        "injector": float(rng.uniform(-12, 2)),
        "cam": float(rng.uniform(-reach_deg, reach_deg)),
    }
    sync = PickUp(
        cylinder=number,
        event=event,
        angle_deg=angles[event],
        entered_angle_deg=_entered_angle_deg(event, angles[event], engine),
        amplitude_v=float(rng.uniform(1.2, 4.5)),
        polarity=int(rng.choice([-1, 1])),
        leakage=float(rng.uniform(0.03, 0.3)),
        missing_first=int(rng.choice(4, p=[0.55, 0.2, 0.15, 0.1])),
        ring_hz=float(rng.uniform(300, 2500)),
        ring_decay_s=float(rng.uniform(6e-4, 2e-3)),
        width_deg=float(rng.uniform(25, 160)),
        width_s=float(rng.uniform(1.2e-3, 4e-3)),
        noise_v=float(rng.uniform(0.01, 0.06)),
        bits=int(rng.choice([8, 12, 12, 16])),
    )
    if kind == "none":
        return None
    if kind == "360":
        return replace(
            sync,
            every_deg=360,
            event="ignition",
            angle_deg=angles["ignition"],
            entered_angle_deg=None,
        )
    return sync


def _entered_angle_deg(event: SyncEvent, angle_deg: float, engine: EngineModel) -> float | None:
    """Return what the person at the tablet knows: an angle to 5 degrees where it is needed."""
    if event == "ignition" or (event == "injector" and engine.fuel == "diesel"):
        return None
    return 5.0 * round(angle_deg / 5.0)
