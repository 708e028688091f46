"""What has to be said wherever the work can hurt someone.

Cautions about cranking are those of a capture (`traces.core.setup.cautions`); here stand those
of the other work. None gives a disabling or high-voltage step: those are the manufacturer's to
give.
"""

from traces.core.setup import (
    BATTERY_GAS,
    BY_ITSELF,
    CRANK,
    DEFER,
    DIESEL,
    HIGH_VOLTAGE,
    PETROL,
    SECURE,
)

_HOLES = "Stay clear of open plug holes: hot liquid can jet out. Eye protection on."
_AIR = "Leak-down air turns the crank: hold it as specified, no tool left on its bolt, hands clear."
LIQUID = "Do not crank an engine that may hold liquid in a cylinder: it can bend a rod."

TIMING_CAUTION = (
    "Valve timing in doubt: do not crank before the engine was barred over by hand through two "
    "turns without contact."
)


def work_cautions(
    fuel: str, drive: str, *, any_high: bool = False, timing_in_doubt: bool = False
) -> tuple[str, ...]:
    """Return the cautions of a work order on this engine, the gravest first.

    Parameters
    ----------
    fuel
        `petrol`, `gas` or `diesel`.
    drive
        How the engine is cranked: `starter`, `belt` or `traction`.
    any_high
        Whether a cylinder stands high, which can mean liquid.
    timing_in_doubt
        Whether the engine must be barred over before it is cranked.
    """
    found = [DEFER]
    if any_high:
        found.append(LIQUID)
    if timing_in_doubt:
        found.append(TIMING_CAUTION)
    if drive in {"traction", "belt"}:
        found.append(HIGH_VOLTAGE)
    found.append(DIESEL if fuel == "diesel" else PETROL)
    found += [BY_ITSELF, SECURE, CRANK, _HOLES, _AIR, BATTERY_GAS]
    return tuple(found)


def method_notice(drive: str) -> str | None:
    """Return why a cranking capture may not be judged on this vehicle; None where it may."""
    if drive == "traction":
        return (
            "This method does not apply: the engine is cranked by its drive motor, so there is "
            "no starter current to read. Do not judge it from a capture; use the manufacturer's "
            "own cranking mode and an absolute gauge."
        )
    if drive == "belt":
        return (
            "Ask first: a belt starter-generator often cranks this engine without its starter, "
            "and then this method does not apply. Capture only if the manufacturer's procedure "
            "makes the 12 V starter crank it."
        )
    return None
