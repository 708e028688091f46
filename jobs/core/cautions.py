"""What has to be said wherever the work can hurt someone.

Cautions about cranking are those of a capture (`traces.core.cautions`); here stand those of the
other work. None gives a disabling or high-voltage step, because those are the maker's to give.
"""

from traces.core.cautions import (
    BATTERY,
    BY_ITSELF,
    CRANK,
    DEFER,
    DIESEL,
    HIGH_VOLTAGE,
    PETROL,
    SECURE,
)

_HOLES = "Stay clear of open plug holes: hot liquid can jet out. Eye protection on."
_AIR = "Leak-down air can turn the crank: no tool left on the crank bolt, hands clear."
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
        found += [HIGH_VOLTAGE, BY_ITSELF]
    found.append(DIESEL if fuel == "diesel" else PETROL)
    found += [SECURE, CRANK, _HOLES, _AIR, BATTERY]
    return tuple(found)


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
