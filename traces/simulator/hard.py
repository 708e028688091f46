"""Engines, instruments and pick-ups that make a capture hard to judge, one thing at a time.

None of these is a fault of the engine or a flaw of the recording: a sound method either judges
such a capture rightly or says why it cannot. Ranges are of the magnitude that the trade meets;
where no source is named they are assumptions.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import numpy as np

from traces.simulator.engine import Cylinder, PumpLobes, TorqueRipple, TwoMass
from traces.simulator.recorder import PickUp
from traces.simulator.scenario import Scenario

Maker = Callable[[Scenario, np.random.Generator], Scenario]


def harden(kind: str, scenario: Scenario, rng: np.random.Generator) -> Scenario:
    """Return the scenario made hard by `kind`.

    Raises
    ------
    ValueError
        If there is no such kind, or this engine cannot have it.
    """
    if kind not in HARD:
        raise ValueError(f"there is no hard “{kind}”; take one of {', '.join(HARD)}")
    if not fits(kind, scenario):
        raise ValueError(f"an engine {scenario.engine.firing_order} cannot have “{kind}”")
    return replace(_MAKERS[kind](scenario, rng), hard=kind)


def fits(kind: str, scenario: Scenario) -> bool:
    """Return whether an engine can have what makes a capture hard."""
    sparks = scenario.engine.fuel == "petrol"
    if kind == "waste-spark":
        # a coil that serves two cylinders needs a pair that fires one turn apart
        order = scenario.engine.firing_order
        return sparks and all(order.companion_of(c) is not None for c in order.sequence)
    if kind in {"decompression", "decompression-by-weights", "sparks-in-the-clamp"}:
        return sparks
    if kind in {"sync-neighbours", "sync-ringing"}:
        return sparks
    return True


def _engine(scenario: Scenario, **changes: Any) -> Scenario:  # noqa: ANN401 - any field's
    return replace(scenario, engine=replace(scenario.engine, **changes))


def _sync(scenario: Scenario, **changes: Any) -> Scenario:  # noqa: ANN401 - any field's
    return replace(scenario, sync=replace(scenario.sync or PickUp(), **changes))


def _litres(scenario: Scenario) -> float:
    return scenario.engine.linkage.swept_m3 * 1e3


def _decompression(scenario: Scenario, rng: np.random.Generator) -> Scenario:
    timing = replace(
        scenario.engine.timing,
        decompression_mm2=2 * _litres(scenario) * float(rng.uniform(8, 18)),
        decompression_closes_btdc_deg=float(rng.uniform(55, 85)),
    )
    return _engine(scenario, timing=timing)


def _by_weights(scenario: Scenario, rng: np.random.Generator) -> Scenario:
    held = _decompression(scenario, rng)
    # somewhere in the speeds that a crank runs through
    timing = replace(held.engine.timing, decompression_below_rpm=float(rng.uniform(120, 320)))
    return _engine(held, timing=timing)


def _accessories(scenario: Scenario, rng: np.random.Generator) -> Scenario:
    turns = TorqueRipple(
        order=int(rng.integers(3, 12)),
        amplitude_nm=float(rng.uniform(3, 9)),
        phase_deg=float(rng.uniform(0, 360)),
    )
    return _engine(
        scenario,
        accessory_nm=float(rng.uniform(10, 25)),
        ripples=(*scenario.engine.ripples, turns),
    )


def _pump(scenario: Scenario, rng: np.random.Generator) -> Scenario:
    # a lobe of 3 to 6 mm lift under some 50 to 150 bar gives 5 to 20 newton metres at the crank
    pump = PumpLobes(
        lobes=int(rng.integers(2, 5)),
        peak_nm=float(rng.uniform(6, 20)),
        phase_deg=float(rng.uniform(0, 360)),
    )
    return _engine(scenario, pump=pump)


def _two_mass(scenario: Scenario, rng: np.random.Generator) -> Scenario:
    return _engine(
        scenario,
        two_mass=TwoMass(
            frequency_hz=float(np.exp(rng.uniform(np.log(6), np.log(20)))),
            share=float(rng.uniform(0.25, 0.5)),
            damping=float(rng.uniform(0.03, 0.15)),
        ),
    )


def _cold(scenario: Scenario, rng: np.random.Generator) -> Scenario:
    rub = scenario.engine.friction
    factor = float(rng.uniform(1.8, 3.0))
    friction = replace(rub, dry_nm=factor * rub.dry_nm, viscous_nms=factor * rub.viscous_nms)
    gas = replace(scenario.engine.gas, ambient_k=258.0, wall_k=260.0)
    return _engine(scenario, friction=friction, gas=gas)


def _geometry(scenario: Scenario, rng: np.random.Generator) -> Scenario:
    def spread(cylinder: Cylinder) -> Cylinder:
        return replace(
            cylinder,
            clearance_factor=cylinder.clearance_factor * float(rng.uniform(0.94, 1.06)),
            intake_area_factor=float(rng.uniform(0.85, 1.15)),
            leak_mm2=cylinder.leak_mm2 * float(np.exp(rng.normal(0, 0.35))),
        )

    return _engine(scenario, cylinders=tuple(spread(c) for c in scenario.engine.cylinders))


def _weak_battery(scenario: Scenario, rng: np.random.Generator) -> Scenario:
    # sags all through the crank and still turns the engine
    battery = scenario.battery
    weak = replace(
        battery,
        resistance_ohm=1.4 * battery.resistance_ohm,
        sag_v_per_as=float(rng.uniform(5, 9)) * battery.sag_v_per_as,
        polarisation_ohm=float(rng.uniform(2, 4)) * battery.polarisation_ohm,
        polarisation_s=float(rng.uniform(1.0, 2.5)),
    )
    return replace(scenario, battery=weak)


def _clamp(make: Callable[[Scenario, np.random.Generator], dict[str, Any]]) -> Maker:
    def put_in(scenario: Scenario, rng: np.random.Generator) -> Scenario:
        return replace(scenario, clamp=replace(scenario.clamp, **make(scenario, rng)))

    return put_in


def _slow_clamp(_scenario: Scenario, rng: np.random.Generator) -> dict[str, Any]:
    return {"bandwidth_hz": float(rng.uniform(25, 60))}


def _coarse(scenario: Scenario, rng: np.random.Generator) -> dict[str, Any]:
    # eight bits over a range that the inrush fills to a quarter: a few amps a step
    factor = float(rng.choice([2.0, 4.0]))
    return {"bits": 8, "range_v": factor * scenario.clamp.range_v}


def _struck(scenario: Scenario, rng: np.random.Generator) -> dict[str, Any]:
    # as high as 20 to 80 amperes would be
    return {"spark_v": float(rng.uniform(20, 80)) * scenario.clamp.mv_per_a / 1000}


def _sync_of(**ranges: Any) -> Maker:  # noqa: ANN401 - any field's
    """Return a maker that sets the sync's fields: a pair is a range, a list a choice.

    Where it changes the event, the person knows no angle of it.
    """

    def put_in(scenario: Scenario, rng: np.random.Generator) -> Scenario:
        changes: dict[str, Any] = {"entered_angle_deg": None} if "event" in ranges else {}
        for name, values in ranges.items():
            if isinstance(values, tuple):
                changes[name] = float(rng.uniform(*values))
            elif isinstance(values, list):
                changes[name] = values[int(rng.integers(len(values)))]
            else:
                changes[name] = values
        return _sync(scenario, **changes)

    return put_in


_SPARK: Mapping[str, Any] = MappingProxyType(
    {"event": "ignition", "every_deg": 720, "angle_deg": (-12.0, -2.0)}
)

_MAKERS: Mapping[str, Maker] = MappingProxyType(
    {
        "decompression": _decompression,
        "decompression-by-weights": _by_weights,
        "accessories": _accessories,
        "pump-lobes": _pump,
        "cold": _cold,
        "geometry": _geometry,
        "weak-battery": _weak_battery,
        "slow-clamp": _clamp(_slow_clamp),
        "coarse": _clamp(_coarse),
        "sparks-in-the-clamp": _clamp(_struck),
        "sync-neighbours": _sync_of(**_SPARK, leakage=(0.10, 0.30)),
        "sync-ringing": _sync_of(**_SPARK, ring_hz=(150.0, 600.0), ring_decay_s=(4e-3, 1e-2)),
        "sync-first-missing": _sync_of(every_deg=720, missing_first=[2, 3, 4]),
        "sync-negative": _sync_of(every_deg=720, polarity=-1),
        "waste-spark": _sync_of(event="ignition", every_deg=360, angle_deg=(-12.0, -2.0)),
        "sync-injector": _sync_of(event="injector", every_deg=720, angle_deg=(-12.0, 2.0)),
        "sync-cam": _sync_of(event="cam", every_deg=720),
        "two-mass": _two_mass,
    }
)

HARD = tuple(_MAKERS)
"""What can make a capture hard."""
