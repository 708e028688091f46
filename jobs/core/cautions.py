"""What has to be said wherever the work can hurt someone.

Sentences for people; none gives a disabling or high-voltage step, because those are the
maker's to give.
"""

from typing import Literal, TypeAlias

Drive: TypeAlias = Literal["starter", "belt", "traction"]

DEFER = (
    "The maker's procedure, local codes and licensed practice come first; where they differ "
    "from this sheet, they win."
)
_SECURE = (
    "Parking brake on, neutral or park, wheels chocked, keys with you; clear of belts and fans."
)
_CRANK = "Crank in bursts of 10 to 15 seconds with rests, never past the starter maker's limit."
_PETROL = (
    "Make fuel and ignition safe the maker's way before cranking; for open plug holes both. "
    "Fuel vapour ignites; coil and injector voltages injure."
)
_DIESEL = (
    "Make injection safe the maker's way before cranking; fuel under rail pressure goes "
    "through skin. Too much oil in a cylinder can lock the engine."
)
_HOLES = "Stay clear of open plug holes: hot liquid can jet out. Eye protection on."
_AIR = "Leak-down air can turn the crank: no tool left on the crank bolt, hands clear."
_BATTERY = "Batteries give off explosive gas: no sparks near them, vent exhaust, mind hot parts."
_HIGH_VOLTAGE = (
    "High voltage can kill and stays when switched off: orange cables are for trained and "
    "authorised people only, with the maker's disconnect and waiting time."
)
_BY_ITSELF = "This engine may start by itself: have its stop-start made safe the maker's way."
_LIQUID = "Do not crank an engine that may hold liquid in a cylinder: it can bend a rod."


def work_cautions(fuel: str, drive: str, *, any_high: bool = False) -> tuple[str, ...]:
    """Return the cautions of a work order on this engine, the gravest first.

    Parameters
    ----------
    fuel
        `petrol` or `diesel`.
    drive
        How the engine is cranked: `starter`, `belt` or `traction`.
    any_high
        Whether a cylinder stands high, which can mean liquid.
    """
    found = [DEFER]
    if any_high:
        found.append(_LIQUID)
    if drive in {"traction", "belt"}:
        found += [_HIGH_VOLTAGE, _BY_ITSELF]
    found.append(_DIESEL if fuel == "diesel" else _PETROL)
    found += [_SECURE, _CRANK, _HOLES, _AIR, _BATTERY]
    return tuple(found)


def capture_cautions(fuel: str, drive: str) -> tuple[str, ...]:
    """Return what to mind before a cranking capture is made on this vehicle."""
    found = [DEFER]
    if drive in {"traction", "belt"}:
        found += [_HIGH_VOLTAGE, _BY_ITSELF]
    found.append(_DIESEL if fuel == "diesel" else _PETROL)
    return (*found, _SECURE, _CRANK, _BATTERY)


def method_notice(drive: str) -> str | None:
    """Return why a cranking capture may not be judged on this vehicle; None where it may."""
    if drive == "traction":
        return (
            "This method does not apply: the engine is cranked by its drive motor, so there is "
            "no starter current to read. Do not judge it from a capture; use the maker's own "
            "cranking mode and an absolute gauge."
        )
    if drive == "belt":
        return (
            "Ask first: a belt starter-generator often cranks this engine without its starter, "
            "and then this method does not apply. Capture only if the maker's procedure makes "
            "the 12 V starter crank it."
        )
    return None
