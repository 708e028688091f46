"""What has to be said wherever the work can hurt someone.

Cautions about cranking are those of a capture (`traces.core.setup.cautions`); here stand those
of the other work. None gives a disabling or high-voltage step: those are the manufacturer's to
give.
"""

from pathlib import Path

from engines.core.content import content
from shopdiag.people.core.words import gettext
from traces.core.setup import (
    BATTERY_GAS,
    BY_ITSELF,
    CRANK,
    DEFER,
    DIESEL,
    HIGH_VOLTAGE,
    PETROL,
    SECURE,
    Caution,
)

_TEXTS = content(Path(__file__).parent / "texts" / "cautions.toml", Caution)

_HOLES = _TEXTS["plug_holes"].text
_AIR = _TEXTS["leak_down_air"].text
LIQUID = _TEXTS["liquid"].text
TIMING_CAUTION = _TEXTS["timing"].text
_NOTICES = {"traction": _TEXTS["traction_drive"].text, "belt": _TEXTS["belt_drive"].text}


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
    return tuple(map(gettext, found))


def method_notice(drive: str) -> str | None:
    """Return why a cranking capture may not be judged on this vehicle; None where it may."""
    notice = _NOTICES.get(drive)
    return notice and gettext(notice)
