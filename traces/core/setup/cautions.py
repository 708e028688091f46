"""What has to be said before anybody cranks an engine for a capture.

The one source of these sentences; `jobs` adds what belongs to other work. None gives a disabling
or high-voltage step, because those are the manufacturer's to give.
"""

from typing import Literal, TypeAlias

from traces.core.setup.analysis_setup import Fuel

Drive: TypeAlias = Literal["starter", "belt", "traction"]
"""What cranks the engine."""

DEFER = (
    "The manufacturer's procedure, local codes and licensed practice come first; where they "
    "differ from this, they win."
)
SECURE = "Parking brake on, neutral or park, wheels chocked; clear of belts and fans."
CRANK = (
    "Bursts of 4 to 5 seconds are enough (6 to 8 engine cycles), 10 to 15 seconds the most; rest "
    "30 seconds, two minutes after two long ones (typical; the starter manufacturer's limit wins)."
)
PETROL = (
    "Fuel disabled for every capture, as the manufacturer specifies: cranking with fuel on washes "
    "the bores and loads the catalyst. Ignition live only while it is the sync and every plug is "
    "in; with any plug hole open both are off. Fuel vapour ignites; coil and injector voltages "
    "injure."
)
SYNC_LOST = "A crank sensor or a wrong fuse taken out stops fuel and ignition alike: no sync."
PEDAL = (
    "Pedal to the floor cuts the fuel on some cars only, and it changes the throttle: keep it the "
    "same in the captures before and after."
)
DIESEL = (
    "Injection disabled as the manufacturer specifies before cranking; fuel under rail pressure "
    "goes through skin. Too much oil in a cylinder can lock the engine."
)
BATTERY_GAS = "Batteries give off explosive gas: no sparks near them, vent exhaust, mind hot parts."
REST_BATTERY = "Battery at rest at 12.4 V or more before a capture (typical); charger off."
HIGH_VOLTAGE = (
    "High voltage can kill and stays when switched off: orange cables are for trained and "
    "authorised people only, with the manufacturer's disconnect and waiting time."
)
BY_ITSELF = (
    "Stop-start may crank by itself, with an ordinary starter too: key out of range and the "
    "system inhibited while hands are in the engine."
)
HYBRID = (
    "Hybrid or electric: ask first, and until then do not crank and do not judge. Such an engine "
    "may start by itself and is often turned by a traction machine, so there is no 12 V starter "
    "current to measure."
)


def capture_cautions(fuel: Fuel | str | None, drive: Drive | str | None) -> tuple[str, ...]:
    """Return what to mind before a cranking capture is made on this vehicle.

    Parameters
    ----------
    fuel
        `petrol`, `gas` (as petrol) or `diesel`; None where it is not known, which gives both.
    drive
        `starter`, `belt` or `traction`; None where it is not known, which warns of hybrids.
    """
    found = [DEFER]
    if drive is None:
        found += [HYBRID, HIGH_VOLTAGE]
    elif drive in {"traction", "belt"}:
        found.append(HIGH_VOLTAGE)
    petrol, diesel = [PETROL, SYNC_LOST, PEDAL], [DIESEL]
    of_fuel = {"petrol": petrol, "gas": petrol, "diesel": diesel}
    found += of_fuel.get(fuel or "", petrol + diesel)
    return (*found, BY_ITSELF, SECURE, CRANK, REST_BATTERY, BATTERY_GAS)
