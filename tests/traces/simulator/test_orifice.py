"""Nozzle and slot flow against gas-dynamics tables and real-gas air."""

import numpy as np
import pytest

from tests.traces.properties import PropsSI
from traces.simulator.orifice import critical_ratio, nozzle_kg_s, slot_conductance


def test_critical_ratio_of_air():
    # 0.5283 for g = 1.4: gas-dynamics tables, from memory
    assert critical_ratio(1.4) == pytest.approx(0.5283, abs=1e-4)


def test_choked_flow_of_air():
    # m' = 0.0404 A p / sqrt(T) in SI units for air: gas-dynamics textbooks, from memory
    flow = nozzle_kg_s(1e-6, 1e6, 600.0, 1e5)
    assert flow == pytest.approx(0.0404 * 1e-6 * 1e6 / np.sqrt(600.0), rel=2e-3)


@pytest.mark.parametrize(("pressure_pa", "kelvin"), [(2e5, 300.0), (1e6, 450.0), (2e6, 600.0)])
def test_choked_flow_against_real_air(pressure_pa, kelvin):
    # the largest mass flux along an isentrope of CoolProp's air
    entropy = PropsSI("S", "P", pressure_pa, "T", kelvin, "Air")
    enthalpy = PropsSI("H", "P", pressure_pa, "T", kelvin, "Air")
    throat = np.linspace(0.4, 0.7, 301) * pressure_pa
    dropped = enthalpy - PropsSI("H", "P", throat, "S", entropy, "Air")
    flux = np.max(PropsSI("D", "P", throat, "S", entropy, "Air") * np.sqrt(2 * dropped))
    # ideal air with a constant ratio of heats: within 1.5 %
    assert nozzle_kg_s(1.0, pressure_pa, kelvin, 1e4) == pytest.approx(flux, rel=0.015)


@pytest.mark.parametrize("ratio", [0.6, 0.8, 0.95])
def test_subsonic_flow_against_real_air(ratio):
    entropy = PropsSI("S", "P", 2e5, "T", 350.0, "Air")
    enthalpy = PropsSI("H", "P", 2e5, "T", 350.0, "Air")
    dropped = enthalpy - PropsSI("H", "P", ratio * 2e5, "S", entropy, "Air")
    flux = PropsSI("D", "P", ratio * 2e5, "S", entropy, "Air") * np.sqrt(2 * dropped)
    assert nozzle_kg_s(1.0, 2e5, 350.0, ratio * 2e5) == pytest.approx(flux, rel=0.01)


def test_flow_stops_between_equal_pressures_and_stays_choked_below():
    pressures = np.array([0.0, 2e5, 5e5, 1e6])
    flow = nozzle_kg_s(1e-6, 1e6, 300.0, pressures)
    assert flow[0] == flow[1] == flow[2]
    assert flow[3] == 0


def test_flow_uphill_is_refused():
    with pytest.raises(ValueError, match="higher pressure"):
        nozzle_kg_s(1e-6, 1e5, 300.0, 2e5)


def test_slot_leaks_as_the_nozzle_at_its_reference_and_more_steeply():
    def slot(p_pa):
        return slot_conductance(1e-6) * (p_pa**2 - 1e5**2) / 450.0

    assert slot(6e5) == pytest.approx(nozzle_kg_s(1e-6, 6e5, 450.0, 1e5))
    # viscous flow of a gas goes with the square of pressure, choked flow with pressure
    assert slot(12e5) / slot(6e5) == pytest.approx(143 / 35)
