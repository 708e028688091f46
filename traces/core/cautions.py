"""What has to be said before anybody cranks an engine for a capture.

The one source of these sentences; `jobs` adds what belongs to other work. None gives a disabling
or high-voltage step, because those are the maker's to give.
"""

from typing import Literal, TypeAlias

from traces.core.setup import Fuel

Drive: TypeAlias = Literal["starter", "belt", "traction"]
"""What cranks the engine."""

DEFER = (
    "The maker's procedure, local codes and licensed practice come first; where they differ "
    "from this, they win."
)
SECURE = (
    "Parking brake on, neutral or park, wheels chocked, keys with you; clear of belts and fans."
)
CRANK = "Crank in bursts of 10 to 15 seconds with rests, never past the starter maker's limit."
PETROL = (
    "Make fuel and ignition safe the maker's way before cranking; for open plug holes both. "
    "Fuel vapour ignites; coil and injector voltages injure."
)
DIESEL = (
    "Make injection safe the maker's way before cranking; fuel under rail pressure goes "
    "through skin. Too much oil in a cylinder can lock the engine."
)
BATTERY = "Batteries give off explosive gas: no sparks near them, vent exhaust, mind hot parts."
HIGH_VOLTAGE = (
    "High voltage can kill and stays when switched off: orange cables are for trained and "
    "authorised people only, with the maker's disconnect and waiting time."
)
BY_ITSELF = "This engine may start by itself: have its stop-start made safe the maker's way."
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
        `petrol` or `diesel`; None where it is not known, which gives both.
    drive
        `starter`, `belt` or `traction`; None where it is not known, which warns of hybrids.
    """
    found = [DEFER]
    if drive is None:
        found += [HYBRID, HIGH_VOLTAGE]
    elif drive in {"traction", "belt"}:
        found += [HIGH_VOLTAGE, BY_ITSELF]
    found += {"petrol": [PETROL], "diesel": [DIESEL]}.get(fuel or "", [PETROL, DIESEL])
    return (*found, SECURE, CRANK, BATTERY)
