"""A cylinder of real air, by CoolProp's equation of state and SciPy's solver.

First law of an open system without heat: dU = -p dV + h dm. Flow through the leak is the largest
mass flux along the isentrope from the state inside down to the pressure outside, which is what
choking means (gas-dynamics textbooks).
"""

import numpy as np
from scipy.integrate import solve_ivp

from tests.traces.properties import PropsSI

AMBIENT_PA = 1.0e5


def flux_kg_s_m2(pressure_pa, kelvin, outside_pa=AMBIENT_PA):
    """Return the mass flux of real air from rest into a lower pressure."""
    entropy = PropsSI("S", "P", pressure_pa, "T", kelvin, "Air")
    enthalpy = PropsSI("H", "P", pressure_pa, "T", kelvin, "Air")
    # choked air stands at about half the pressure in the throat
    lowest = max(outside_pa, 0.45 * pressure_pa)
    throat = np.linspace(lowest, 0.9999 * pressure_pa, 40)
    dropped = np.maximum(enthalpy - PropsSI("H", "P", throat, "S", entropy, "Air"), 0)
    flux = PropsSI("D", "P", throat, "S", entropy, "Air") * np.sqrt(2 * dropped)
    return float(flux.max())


def pressures_pa(times_s, volume_m3, slope_m3_s, *, start_pa, start_k, leak_m2, outside_k):
    """Return the pressure in a leaking cylinder whose volume is a function of time.

    Parameters
    ----------
    volume_m3, slope_m3_s
        Volume and its slope by time, functions.
    outside_k
        Temperature of the air that comes back where the cylinder is under atmosphere.
    """
    state: dict[str, float] = {}

    def look(mass, inner, volume):
        density, energy = mass / volume, inner / mass
        state["p"] = PropsSI("P", "D", density, "U", energy, "Air")
        state["T"] = PropsSI("T", "D", density, "U", energy, "Air")
        return state["p"], state["T"]

    def rates(time_s, y):
        mass, inner = y
        p, kelvin = look(mass, inner, volume_m3(time_s))
        if p > AMBIENT_PA:
            out = leak_m2 * flux_kg_s_m2(p, kelvin)
            carried = out * PropsSI("H", "P", p, "T", kelvin, "Air")
        else:
            out = -leak_m2 * flux_kg_s_m2(AMBIENT_PA, outside_k, p)
            carried = out * PropsSI("H", "P", AMBIENT_PA, "T", outside_k, "Air")
        return [-out, -carried - p * slope_m3_s(time_s)]

    mass = PropsSI("D", "P", start_pa, "T", start_k, "Air") * volume_m3(times_s[0])
    inner = mass * PropsSI("U", "P", start_pa, "T", start_k, "Air")
    told = solve_ivp(
        rates,
        (times_s[0], times_s[-1]),
        [mass, inner],
        t_eval=times_s,
        rtol=1e-5,
        atol=[1e-10, 1e-3],
        first_step=(times_s[-1] - times_s[0]) / 200,
    )
    assert told.success
    return np.array([look(m, u, volume_m3(t))[0] for t, m, u in zip(told.t, *told.y, strict=True)])
