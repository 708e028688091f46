"""A single cylinder turned at a steady speed, for tests of the gas alone."""

from dataclasses import replace

import numpy as np

from engines.core.firing import FiringOrder
from traces.core.compression.slider_crank import SliderCrank
from traces.simulator.engine import Cylinder, EngineModel, GasModel, ValveTiming
from traces.simulator.gas_a import PolytropicGas
from traces.simulator.gas_b import WallHeatGas
from traces.simulator.gas_c import ValveGas
from traces.simulator.packing import pack
from traces.simulator.scenario import Scenario

LINK = SliderCrank(bore_m=0.086, stroke_m=0.086, rod_m=0.144, compression_ratio=10.5)
NO_VALVES = ValveTiming(intake_area_mm2=0.0, exhaust_area_mm2=0.0)
GASES = {"a": PolytropicGas, "b": WallHeatGas, "c": ValveGas}


def single(family, cylinder=None, *, timing=NO_VALVES, gas=None, start_deg=180.0, link=LINK):
    """Return the scenario of a one-cylinder engine; valves stay shut unless `timing` is given."""
    engine = EngineModel(
        firing_order=FiringOrder.even((1,)),
        linkage=link,
        cylinders=(cylinder or Cylinder(leak_mm2=0.0),),
        timing=timing,
        gas=gas or GasModel(),
    )
    return Scenario(engine, sync=None, family=family, start_deg=start_deg)


def gas_of(*scenarios):
    """Return the gas of engines of one family; leaks without scatter from cycle to cycle."""
    packed = pack(scenarios, [np.random.default_rng(0) for _ in scenarios])
    first = scenarios[0].engine.cylinders[0]
    if len(scenarios) == 1:
        area = (first.leak_mm2 + first.fault_leak_mm2) * 1e-6
        packed = replace(packed, leak_m2=np.full(packed.leak_m2.shape, area))
    start_rad = np.deg2rad([s.start_deg for s in scenarios])
    return GASES[scenarios[0].family](packed, list(scenarios), start_rad)


def turn(gas, from_deg, to_deg, seconds, steps):
    """Turn the crank evenly; return angles in the middle of steps, pressures and torque."""
    edges = np.deg2rad(np.linspace(from_deg, to_deg, steps + 1))
    middles = (edges[1:] + edges[:-1]) / 2
    step_s = seconds / steps
    pressure, torque = [], []
    for n, angle in enumerate(middles):
        nm, _ = gas.step(np.array([angle]), (n + 0.5) * step_s, step_s)
        pressure.append(gas.pressure_pa[0].copy())
        torque.append(nm[0])
    return np.rad2deg(middles), np.array(pressure), np.array(torque)
