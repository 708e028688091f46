"""Compression and leak-down of the twin and of both families of the simulator, and real air.

Reference: CoolProp's equation of state of air and SciPy's solver (`real_air`). All three models
take air with one ratio of heats for what is a slowly falling one; the tolerances are for that.
"""

from functools import cache

import numpy as np
import pytest

from tests.traces.core.outside.real_air import flux_kg_s_m2, pressures_pa
from tests.traces.properties import PropsSI
from tests.traces.simulator.closed_engine import LINK, gas_of, single, turn
from traces.core.compression.slider_crank import SliderCrank
from traces.core.twin import lobes
from traces.simulator import gas_b
from traces.simulator.engine import Cylinder, GasModel
from traces.simulator.orifice import AIR_J_KGK, nozzle_kg_s

COLD_K = 310.0
CYCLE_S = 0.5
DEG_S = 720 / CYCLE_S
STILL = GasModel(
    ambient_kpa=100.0,
    ambient_k=COLD_K,
    wall_k=COLD_K,
    wall_w_m2k=0.0,
    laminar_share=0.0,
    exponent=gas_b.GAMMA,
)


def cranked(link, degrees, leak_mm2):
    """Return real air's pressure at crank angles after firing top dead centre."""
    first = degrees[0]

    def at(time_s):
        return first + DEG_S * time_s

    return pressures_pa(
        (degrees - first) / DEG_S,
        lambda t: float(link.volume_m3(at(t))),
        lambda t: float(link.dvolume_m3_per_rad(at(t))) * np.deg2rad(DEG_S),
        start_pa=1e5,
        start_k=COLD_K,
        leak_m2=leak_mm2 * 1e-6,
        outside_k=COLD_K,
    )


STEPS = 3200
KEPT = slice(0, None, 40)
LEAKS_MM2 = (0.0, 1.0, 6.0)


@cache
def compressed(leak_mm2):
    """Return real air's pressure where both families are asked for theirs."""
    edges_deg = np.linspace(540, 860, STEPS + 1)
    return cranked(LINK, ((edges_deg[1:] + edges_deg[:-1]) / 2)[KEPT] - 720, leak_mm2)


@cache
def turned(family, leak_mm2):
    """Return the simulator's pressure over the same stroke."""
    gas = gas_of(single(family, Cylinder(leak_mm2=leak_mm2), gas=STILL, start_deg=540.0))
    return turn(gas, 540, 860, 320 / DEG_S, STEPS)[1][:, 0]


@pytest.mark.parametrize("leak_mm2", LEAKS_MM2)
@pytest.mark.parametrize("family", ["a", "b"])
def test_compression_and_expansion_of_the_simulator(family, leak_mm2):
    pressure, real = turned(family, leak_mm2), compressed(leak_mm2)
    assert pressure[KEPT] == pytest.approx(real, rel=0.03, abs=1.5e3)
    assert pressure.max() == pytest.approx(real.max(), rel=0.02)


@pytest.mark.parametrize("leak_mm2", [0.0, 6.0])
def test_compression_and_expansion_of_the_twin(monkeypatch, leak_mm2):
    # the twin's exponent stands for heat to the walls too; here there is none
    monkeypatch.setattr(lobes, "EXPONENT", gas_b.GAMMA)
    ratio = 10.0
    link = SliderCrank(0.086, 0.086, lobes.ROD_OVER_CRANK * 0.043, ratio)
    closing_m3 = float(link.volume_m3(-180 + lobes.CLOSES_ABDC_DEG))
    speed_rad_s = np.deg2rad(DEG_S)
    leak = leak_mm2 * 1e-6 * np.sqrt(AIR_J_KGK * COLD_K) / (closing_m3 * speed_rad_s)
    degrees, pressure = lobes.leaking_pressure(np.array([leak]), np.array([ratio]))
    kept = slice(0, None, 4)
    real = cranked(link, degrees[kept], leak_mm2)
    # air drawn back through the leak late in the expansion warms the cylinder, which the twin
    # leaves out: up to 4 kPa of a peak of several bar
    assert 1e5 * pressure[kept, 0] == pytest.approx(real, rel=0.03, abs=4e3)
    assert 1e5 * pressure.max() == pytest.approx(real.max(), rel=0.02)


@pytest.mark.parametrize("family", ["a", "b"])
def test_leak_down_of_a_standing_cylinder(family):
    # compressed first, so fast that nothing is lost, then left standing at top dead centre
    gas = gas_of(single(family, Cylinder(leak_mm2=1.0), gas=STILL, start_deg=540.0))
    turn(gas, 540, 720, 1e-7, 4000)
    start_pa = float(gas.pressure_pa[0, 0])
    start_k = start_pa * LINK.clearance_m3 / (float(gas.mass_kg[0, 0]) * AIR_J_KGK)
    _, pressure, _ = turn(gas, 720, 720, 0.09, 900)
    times = np.linspace(0, 0.09, 31)
    real = pressures_pa(
        times,
        lambda _t: LINK.clearance_m3,
        lambda _t: 0.0,
        start_pa=start_pa,
        start_k=start_k,
        leak_m2=1e-6,
        outside_k=COLD_K,
    )
    assert real[-1] < 0.6 * start_pa
    seen = np.interp(times[1:], (np.arange(900) + 0.5) * 1e-4, pressure[:, 0])
    assert seen == pytest.approx(real[1:], rel=0.02)


@pytest.mark.parametrize(("held_psi", "lost"), [(76, 0.05), (60, 0.25)])
def test_leak_down_tester_of_two_orifices(held_psi, lost):
    # FAA AC 43.13-1B ch. 8: 80 psi through an orifice of 0.040 in, and 60/80 is the limit. What
    # runs through the tester's orifice runs out through the leak; area by our nozzle relation
    # and by real air.
    assert 1 - held_psi / 80 == pytest.approx(lost)
    psi_pa, kelvin = 6894.76, 293.15
    regulated, held = ((psi + 14.696) * psi_pa for psi in (80, held_psi))
    orifice_m2 = np.pi * (0.040 * 0.0254) ** 2 / 4
    outside = 14.696 * psi_pa
    ours = nozzle_kg_s(orifice_m2, regulated, kelvin, held) / nozzle_kg_s(
        1.0, held, kelvin, outside
    )
    real = orifice_m2 * flux_kg_s_m2(regulated, kelvin, held) / flux_kg_s_m2(held, kelvin, outside)
    assert ours == pytest.approx(real, rel=0.01)
    # both orifices near choking: the limit is a leak about as large as the tester's own
    assert (0.9 < ours / orifice_m2 < 1.15) == (held_psi == 60)


def test_air_under_sixteen_bar_is_still_an_ideal_gas():
    # p = density R T, which twin and simulator take for granted: CoolProp's air at the end of
    # a petrol and of a diesel engine's compression
    for bar, kelvin, off in ((18, 640, 0.008), (37, 780, 0.015)):
        density = PropsSI("D", "P", bar * 1e5, "T", kelvin, "Air")
        assert density * AIR_J_KGK * kelvin == pytest.approx(bar * 1e5, rel=off)


def test_the_families_lose_the_more_the_larger_the_leak_as_real_air_does():
    peaks = {mm2: turned("b", mm2).max() - 1e5 for mm2 in LEAKS_MM2}
    real = {mm2: compressed(mm2).max() - 1e5 for mm2 in LEAKS_MM2}
    # relative compression is what the service tells: within a point of real air's
    for mm2 in LEAKS_MM2[1:]:
        assert peaks[mm2] / peaks[0.0] == pytest.approx(real[mm2] / real[0.0], abs=0.01)
