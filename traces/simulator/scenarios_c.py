"""What a capture of family c has besides: where leaks lead, field, flywheel, pump, clamp, sync.

Ranges are of the magnitude that the trade meets; where no source is named they are assumptions.
"""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from traces.simulator.drive_c import field_over_constant
from traces.simulator.electrics import StarterModel
from traces.simulator.engine import Cylinder, EngineModel, PumpLobes, TwoMass
from traces.simulator.recorder import Clamp, PickUp
from traces.simulator.scenario import Scenario

_ORIFICE_PAST_RINGS_MM2 = 12.0
"""More than that past the rings of half a litre is a hole; a seat lets it through."""

_ANGLE_KNOWN_WITHIN_DEG = 8.0
_SYNC_KINDS: Mapping[str, float] = MappingProxyType(
    {"as-drawn": 0.62, "pairs-then-single": 0.1, "injector": 0.12, "cam": 0.16}
)


def third_physics(scenario: Scenario, mean_a: float, rng: np.random.Generator) -> Scenario:
    """Return a drawn scenario with what only family c knows.

    Parameters
    ----------
    mean_a
        About what the starter draws; the field is made to give there what was wanted of it.
    """
    return replace(
        scenario,
        engine=_engine(scenario.engine, scenario.fault, rng),
        starter=_starter(scenario.starter, mean_a, rng),
        clamp=_clamp(scenario.clamp, rng),
        sync=_sync(scenario, rng),
    )


def wound_starter(starter: StarterModel, mean_a: float, wound_share: float) -> StarterModel:
    """Return the starter with another make of field that is as strong at its mean current."""
    over = np.array(mean_a / starter.knee_a)
    was = field_over_constant(over, np.array(starter.wound_share))
    now = field_over_constant(over, np.array(wound_share))
    constant = starter.torque_nm_per_a * float(was / now)
    return replace(starter, torque_nm_per_a=constant, wound_share=wound_share)


def petrol_injector(sync: PickUp, rng: np.random.Generator) -> PickUp:
    """Return the pick-up on a petrol injector: open in the exhaust stroke to late compression."""
    return replace(
        sync, event="injector", every_deg=720, angle_deg=float(rng.uniform(-400, -60)), leakage=0.05
    )


def cam_edges(sync: PickUp, rng: np.random.Generator) -> PickUp:
    """Return the pick-up on a cam wheel of one to three windows, wherever its maker put them."""
    extra = int(rng.choice(3, p=[0.6, 0.2, 0.2]))
    width_deg = float(rng.uniform(25, 70))
    gaps = rng.permutation([width_deg + 60, width_deg + 110][:extra])
    return replace(
        sync,
        event="cam",
        every_deg=720,
        angle_deg=float(rng.uniform(-360, 360)),
        width_deg=width_deg,
        more_edges_deg=tuple(float(v) for v in np.cumsum(gaps)),
    )


def with_angle(sync: PickUp, rng: np.random.Generator) -> PickUp:
    """Return the sync with its angle entered as well as a person knows it."""
    off_deg = float(rng.uniform(-_ANGLE_KNOWN_WITHIN_DEG, _ANGLE_KNOWN_WITHIN_DEG))
    return replace(sync, entered_angle_deg=sync.angle_deg + off_deg)


def _engine(engine: EngineModel, fault: str, rng: np.random.Generator) -> EngineModel:
    litres = engine.linkage.swept_m3 * 1e3
    cylinders = tuple(_placed(c, litres, rng) for c in engine.cylinders)
    if fault == "all":
        # wear is past the rings in all of them
        cylinders = engine.cylinders
    two_mass = TwoMass(
        frequency_hz=float(rng.uniform(8, 20)),
        share=float(rng.uniform(0.25, 0.55)),
        damping=float(rng.uniform(0.03, 0.15)),
    )
    has_one = rng.random() < 0.25 and len(engine.cylinders) > 2
    pump = PumpLobes.of_energy(
        int(rng.integers(2, 6)), float(rng.uniform(3, 15)), float(rng.uniform(0, 360))
    )
    pumps = rng.random() < 0.25
    return replace(
        engine,
        cylinders=cylinders,
        two_mass=two_mass if has_one else None,
        pump=pump if pumps else None,
    )


def _placed(cylinder: Cylinder, litres: float, rng: np.random.Generator) -> Cylinder:
    """Return the cylinder with its fault where such a fault sits."""
    past_rings, at_intake = rng.random(), rng.random()
    lift = float(np.exp(rng.uniform(np.log(0.008), np.log(0.03))))
    if not cylinder.faulty:
        return cylinder
    if cylinder.mass_factor < 0.9:
        return replace(cylinder, mass_factor=1.0, intake_lift=lift)
    if cylinder.fault_leak_mm2 > 2 * litres * _ORIFICE_PAST_RINGS_MM2 or past_rings < 0.6:
        is_intake = at_intake < 0.35
        return replace(cylinder, intake_share=float(is_intake), exhaust_share=float(not is_intake))
    return cylinder


def _starter(starter: StarterModel, mean_a: float, rng: np.random.Generator) -> StarterModel:
    compound = float(rng.uniform(0.1, 0.9))
    wound = float((0.0, compound, 1.0)[int(rng.choice(3, p=[0.5, 0.25, 0.25]))])
    drawn = replace(
        starter,
        # as drawn, its constant is what it gives at the mean current
        torque_nm_per_a=starter.torque_nm_per_a
        / float(field_over_constant(np.array(mean_a / starter.knee_a), np.array(0.0))),
        lash_deg=float(rng.uniform(0.1, 0.8)),
        slip_rad_s_per_nm=float(np.exp(rng.uniform(np.log(1e-4), np.log(4e-3)))),
        heating_k_per_j=float(rng.uniform(1.5e-3, 5e-3)),
    )
    return wound_starter(drawn, mean_a, wound)


def _clamp(clamp: Clamp, rng: np.random.Generator) -> Clamp:
    return replace(
        clamp,
        bandwidth_hz=float(np.exp(rng.uniform(np.log(20), np.log(20_000)))),
        hysteresis_a=float(rng.uniform(0, 3)),
        drift_settle_a=float(rng.normal(0, 1.5)),
    )


def _sync(scenario: Scenario, rng: np.random.Generator) -> PickUp | None:
    kind = str(rng.choice(list(_SYNC_KINDS), p=list(_SYNC_KINDS.values())))
    pairs, known = int(rng.integers(1, 4)), rng.random() < 0.5
    drawn = scenario.sync
    if drawn is None or drawn.every_deg == 360 or scenario.engine.fuel == "diesel":
        return drawn
    sync = replace(drawn, entered_angle_deg=None)
    if kind in {"injector", "cam"}:
        sync = petrol_injector(sync, rng) if kind == "injector" else cam_edges(sync, rng)
        return with_angle(sync, rng) if known else sync
    # what families a and b draw near a firing is an ignition here
    angle_deg = sync.angle_deg if sync.event == "ignition" else float(rng.uniform(-12, -2))
    sync = replace(sync, event="ignition", angle_deg=angle_deg)
    return replace(sync, pairs_first=pairs) if kind == "pairs-then-single" else sync
