"""What has to be said before anybody cranks an engine for a capture.

The one source of these sentences; `jobs` adds what belongs to other work. None gives a disabling
or high-voltage step, because those are the manufacturer's to give.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeAlias

from engines.core.content import content
from shopdiag.people.core.words import gettext
from traces.core.setup.analysis_setup import Fuel

Drive: TypeAlias = Literal["starter", "belt", "traction"]
"""What cranks the engine."""


@dataclass(frozen=True, slots=True)
class Caution:
    """What to mind, in a sentence or two."""

    text: str


_TEXTS = content(Path(__file__).parent / "texts" / "cautions.toml", Caution)

DEFER = _TEXTS["defer"].text
SECURE = _TEXTS["secure"].text
CRANK = _TEXTS["crank"].text
PETROL = _TEXTS["petrol"].text
SYNC_LOST = _TEXTS["sync_lost"].text
PEDAL = _TEXTS["pedal"].text
DIESEL = _TEXTS["diesel"].text
BATTERY_GAS = _TEXTS["battery_gas"].text
REST_BATTERY = _TEXTS["rest_battery"].text
HIGH_VOLTAGE = _TEXTS["high_voltage"].text
BY_ITSELF = _TEXTS["by_itself"].text
STOP_START = _TEXTS["stop_start"].text
HYBRID = _TEXTS["hybrid"].text
EXHAUST = _TEXTS["exhaust"].text
TURNING = _TEXTS["turning"].text
TAP = _TEXTS["tap"].text
CATALYST = _TEXTS["catalyst"].text
PLUG_OUT = _TEXTS["plug_out"].text
HOT_PLUG = _TEXTS["hot_plug"].text
HOSE = _TEXTS["hose"].text
ONE_CUT_OUT = _TEXTS["one_cut_out"].text


def of_stop_start(stop_start: str, drive: Drive | str | None) -> tuple[str, ...]:
    """Return what to mind of an engine that may start by itself.

    Parameters
    ----------
    stop_start
        `yes`, `no`, or empty where nobody knows.
    drive
        What cranks the engine; only an ordinary starter without stop-start waits for the key.
    """
    if stop_start == "yes":
        return (STOP_START,)
    return () if stop_start == "no" and drive == "starter" else (BY_ITSELF,)


def capture_cautions(
    fuel: Fuel | str | None, drive: Drive | str | None, stop_start: str = ""
) -> tuple[str, ...]:
    """Return what to mind before a cranking capture is made on this vehicle.

    Parameters
    ----------
    fuel
        `petrol`, `gas` (as petrol) or `diesel`; None where it is not known, which gives both.
    drive
        `starter`, `belt` or `traction`; None where it is not known, which warns of hybrids.
    stop_start
        `yes`, `no`, or empty where nobody knows.
    """
    found = [DEFER]
    if drive is None:
        found += [HYBRID, HIGH_VOLTAGE]
    elif drive in {"traction", "belt"}:
        found.append(HIGH_VOLTAGE)
    petrol, diesel = [PETROL, SYNC_LOST, PEDAL], [DIESEL]
    of_fuel = {"petrol": petrol, "gas": petrol, "diesel": diesel}
    found += of_fuel.get(fuel or "", petrol + diesel)
    found += [*of_stop_start(stop_start, drive), SECURE, CRANK, REST_BATTERY, BATTERY_GAS]
    return tuple(map(gettext, found))


def running_cautions(drive: Drive | str | None, stop_start: str = "") -> tuple[str, ...]:
    """Return what to mind before an idling engine is recorded.

    Parameters
    ----------
    drive, stop_start
        As in `capture_cautions`.
    """
    high_voltage = () if drive == "starter" else (HIGH_VOLTAGE,)
    by_itself = of_stop_start(stop_start, drive)
    found = (DEFER, EXHAUST, TURNING, SECURE, TAP, CATALYST, *high_voltage, *by_itself)
    return tuple(map(gettext, found))


def transducer_cautions(
    fuel: Fuel | str | None, drive: Drive | str | None, stop_start: str = ""
) -> tuple[str, ...]:
    """Return what to mind before a transducer takes a plug's place.

    Parameters
    ----------
    fuel, drive, stop_start
        As in `capture_cautions`.
    """
    found = [DEFER, HOT_PLUG, PLUG_OUT]
    if drive != "starter":
        found.append(HIGH_VOLTAGE)
    if fuel in {None, "", "diesel"}:
        found.append(DIESEL)
    found += [HOSE, SECURE, CRANK, ONE_CUT_OUT, EXHAUST, TURNING, CATALYST]
    return tuple(map(gettext, [*found, *of_stop_start(stop_start, drive)]))
