"""What has to be said wherever the work can hurt someone.

Cautions about cranking are those of a capture (`traces.core.setup.cautions`); here stand those
of the other work. None gives a disabling or high-voltage step: those are the manufacturer's to
give.
"""

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from engines.core.content import content
from shopdiag.people.core.words import gettext
from traces.core.setup import (
    BATTERY_GAS,
    CRANK,
    DEFER,
    DIESEL,
    HIGH_VOLTAGE,
    PETROL,
    SECURE,
    Caution,
    of_stop_start,
)

_TEXTS = content(Path(__file__).parent / "texts" / "cautions.toml", Caution)

OF_OPEN_HOLES = _HOLES = _TEXTS["plug_holes"].text
OF_LEAK_DOWN = _AIR = _TEXTS["leak_down_air"].text
OF_CRANKING = CRANK
LIQUID = _TEXTS["liquid"].text
TIMING_CAUTION = _TEXTS["timing"].text
_RUNNING = _TEXTS["running_engine"].text
_IGNITION = _TEXTS["ignition_voltage"].text
_FUEL = _TEXTS["fuel_under_pressure"].text
_RAIL = _TEXTS["rail_pressure"].text
_COOLED = _TEXTS["cooled_engine"].text
_BY_TEST: dict[str, tuple[str, ...]] = {
    "counts": (_TEXTS["test_drive"].text,),
    "plugs": (_COOLED, _HOLES),
    "coil": (_IGNITION, _RUNNING),
    "injector": (_FUEL, _RUNNING),
    "fuel_press": (_FUEL,),
    "trims": (_RUNNING,),
    "vacuum": (_TEXTS["intake_under_pressure"].text, _RUNNING),
    "exhaust": (_TEXTS["hot_exhaust"].text, _RUNNING),
    "running": (_IGNITION, _HOLES, _RUNNING),
    "cut_out": (_TEXTS["unburnt_fuel"].text, _IGNITION, _RUNNING),
    "coolant": (_TEXTS["hot_coolant"].text,),
    "valves": (_COOLED, _TEXTS["barred_by_hand"].text),
    "wiring": (_TEXTS["live_circuits"].text, _RUNNING),
    "air_meter": (_TEXTS["test_drive"].text,),
    "phaser": (_RUNNING,),
    "oxygen": (_TEXTS["hot_exhaust"].text, _RUNNING),
    "starter": (_TEXTS["live_circuits"].text, CRANK),
    "repeat": (CRANK,),
    "sync": (CRANK,),
    "cam_trace": (CRANK,),
    "borescope": (_COOLED, _HOLES),
}
_NOTICES = {"traction": _TEXTS["traction_drive"].text, "belt": _TEXTS["belt_drive"].text}


@dataclass(frozen=True, slots=True)
class Fluids:
    """What the initial checks say of oil and coolant; empty where nobody looked."""

    oil_level: str = ""
    fuel_in_oil: str = ""
    coolant_level: str = ""
    coolant_loss: str = ""


NOT_LOOKED_AT = Fluids()


def fluid_cautions(fluids: Fluids) -> tuple[str, ...]:
    """Return what oil and coolant ask for before the engine is cranked or run."""
    keys = []
    if fluids.oil_level == "high" and fluids.fuel_in_oil == "yes":
        keys.append("oil_high_with_fuel")
    elif fluids.oil_level == "high":
        keys.append("oil_high")
    elif fluids.fuel_in_oil == "yes":
        keys.append("fuel_in_oil")
    if fluids.oil_level == "low":
        keys.append("oil_low")
    if fluids.coolant_loss == "yes":
        keys.append("coolant_loss")
    elif fluids.coolant_level == "low":
        keys.append("coolant_low")
    return tuple(gettext(_TEXTS[key].text) for key in keys)


def cautions_of_test(test: str, fuel: str) -> tuple[str, ...]:
    """Return what to mind in one test, the gravest first; the manufacturer's procedure wins.

    Parameters
    ----------
    test
        As a finding names it.
    fuel
        `petrol` or `diesel`; a diesel has no ignition, and its rail is what cuts.
    """
    return tuple(map(gettext, _of_test(test, fuel)))


def _of_test(test: str, fuel: str) -> list[str]:
    found = _BY_TEST.get(test, ())
    if fuel != "diesel":
        return list(found)
    return [_RAIL if text is _FUEL else text for text in found if text is not _IGNITION]


def work_cautions(
    fuel: str,
    drive: str,
    *,
    stop_start: str = "",
    fluids: Fluids = NOT_LOOKED_AT,
    any_high: bool = False,
    timing_in_doubt: bool = False,
    tests: Collection[str] = (),
) -> tuple[str, ...]:
    """Return the cautions of a work order on this engine, the gravest first.

    Parameters
    ----------
    fuel
        `petrol`, `gas` or `diesel`.
    drive
        How the engine is cranked: `starter`, `belt` or `traction`.
    stop_start
        Whether it has stop-start: `yes`, `no`, or empty where nobody knows.
    fluids
        Oil and coolant as the initial checks found them.
    any_high
        Whether a cylinder stands high, which can mean liquid.
    timing_in_doubt
        Whether the engine must be barred over before it is cranked.
    tests
        Those the order asks for, as findings name them.
    """
    found = [DEFER]
    if any_high:
        found.append(LIQUID)
    if timing_in_doubt:
        found.append(TIMING_CAUTION)
    if drive in {"traction", "belt"}:
        found.append(HIGH_VOLTAGE)
    found.append(DIESEL if fuel == "diesel" else PETROL)
    by_itself = of_stop_start(stop_start, drive)
    found += [*by_itself, SECURE, CRANK, _HOLES, _AIR, BATTERY_GAS]
    found += [text for test in tests for text in _of_test(test, fuel)]
    first, *others = map(gettext, dict.fromkeys(found))
    return (first, *fluid_cautions(fluids), *others)


def method_notice(drive: str) -> str | None:
    """Return why a cranking capture may not be judged on this vehicle; None where it may."""
    notice = _NOTICES.get(drive)
    return notice and gettext(notice)
