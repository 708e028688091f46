"""Groups of faults beyond compression: what an order of each asks for first.

All sources are common practice in the trade where nothing else is named; what the manufacturer's
procedure says comes first.
"""

from collections.abc import Collection
from enum import StrEnum
from pathlib import Path

from engines.core.content import content, translated
from jobs.core.code_meaning import code_base, code_meaning
from jobs.core.request import LONGEST_REQUEST, named, request_of_high
from jobs.core.wanted_test_texts import (
    BACK_PRESSURE,
    BACK_PRESSURE_DIESEL,
    RUNNING,
    SWAP,
    SWAP_DIESEL,
    WantedTest,
)
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop


class FaultGroup(StrEnum):
    """Where the fault lies, as far as a diagnostician signed for it."""

    COMPRESSION = "compression"
    IGNITION = "ignition"
    FUEL = "fuel"
    AIR = "air"
    EXHAUST = "exhaust"
    ELECTRICAL = "electrical"
    VALVE_TRAIN = "valve_train"
    UNSETTLED = "unsettled"
    NONE_FOUND = "none_found"


GROUP_LABELS: dict[FaultGroup, str] = {
    FaultGroup.COMPRESSION: gettext_noop("Compression fault"),
    FaultGroup.IGNITION: gettext_noop("Ignition"),
    FaultGroup.FUEL: gettext_noop("Fuel"),
    FaultGroup.AIR: gettext_noop("Air"),
    FaultGroup.EXHAUST: gettext_noop("Exhaust"),
    FaultGroup.ELECTRICAL: gettext_noop("Electrical"),
    FaultGroup.VALVE_TRAIN: gettext_noop("Valve train"),
    FaultGroup.UNSETTLED: gettext_noop("Not settled"),
    FaultGroup.NONE_FOUND: gettext_noop("No fault found"),
}

# Not "elsewhere": a cylinder that stands high in the test may be high by its valves.
_FAULT_IS: dict[FaultGroup, str] = {
    FaultGroup.IGNITION: gettext_noop("The fault is in the ignition"),
    FaultGroup.FUEL: gettext_noop("The fault is in the fuel system"),
    FaultGroup.AIR: gettext_noop("The fault is in the intake air"),
    FaultGroup.EXHAUST: gettext_noop("The fault is in the exhaust"),
    FaultGroup.ELECTRICAL: gettext_noop("The fault is in the electrical system"),
    FaultGroup.VALVE_TRAIN: gettext_noop("The fault is in the valve train"),
}

EVEN_IN_TEST = gettext_noop(
    "The cylinders compare evenly in a cranking test; no mechanical fault showed in it."
)
UNSURE_IN_TEST = gettext_noop(
    "The cylinders compare evenly in a cranking test as far as the recording can tell; a weaker "
    "cylinder or bank is not excluded by it."
)
OPEN_IN_TEST = gettext_noop(
    "No mechanical fault showed in a cranking test of all cylinders but "
    "cylinder {cylinder}, whose plug was out: it was not tested."
)
BANK_IN_TEST = gettext_noop(
    "In a cranking test one bank of cylinders came out weaker than the other "
    "as a whole. That points to the timing of the valves; the test does not "
    "tell which of the two banks is wrong."
)
NOT_TESTED = gettext_noop("Cylinder {cylinder} was not tested: its plug was out.")
HIGH_IN_TEST = gettext_noop(
    "In a cranking test {cylinders} held the starter back more than the others. Liquid or "
    "deposits in a cylinder, a valve that does not open or something that binds can do that; the "
    "test does not tell which."
)
WATCH_IN_TEST = gettext_noop(
    "In a cranking test no cylinder came out clearly weak, but {cylinders} came out lower than "
    "the others."
)
EVEN_LEAVES_OPEN = gettext_noop(
    "Even excludes a large leak while cranking. It does not exclude equal "
    "wear, an exhaust valve that does not open, a worn lobe or a weak "
    "spring, a leak that opens hot or under combustion, deposits in the "
    "intake, a blocked exhaust or a small coolant leak."
)

_TEXTS = content(Path(__file__).parent / "texts" / "tests_beyond_compression.toml", WantedTest)

COUNTS = _TEXTS["counts"]
PLUGS = _TEXTS["plugs"]
COIL = _TEXTS["coil"]
INJECTOR = _TEXTS["injector"]
FUEL_PRESSURE = _TEXTS["fuel_pressure"]
TRIMS = _TEXTS["trims"]
VACUUM = _TEXTS["vacuum"]
WIRING = _TEXTS["wiring"]
VALVES = _TEXTS["valves"]
CUT_OUT = _TEXTS["cut_out"]
FRAME = _TEXTS["frame"]
AIR_METER = _TEXTS["air_meter"]
PHASER = _TEXTS["phaser"]
OXYGEN = _TEXTS["oxygen"]
STARTER = _TEXTS["starter"]

ONLY_BEYOND = frozenset(
    {
        *("counts", "plugs", "coil", "injector", "fuel_press", "trims", "wiring", "cut_out"),
        *("frame", "air_meter", "oxygen", "starter"),
    }
)
"""Tests of a finding that only an order beyond compression offers."""

_TESTS: dict[FaultGroup, tuple[WantedTest, ...]] = {
    FaultGroup.IGNITION: (COUNTS, SWAP, PLUGS, COIL, WIRING),
    FaultGroup.FUEL: (COUNTS, TRIMS, SWAP, FUEL_PRESSURE, INJECTOR),
    FaultGroup.AIR: (COUNTS, TRIMS, VACUUM, AIR_METER, OXYGEN),
    FaultGroup.EXHAUST: (COUNTS, BACK_PRESSURE),
    FaultGroup.ELECTRICAL: (COUNTS, WIRING, SWAP),
    FaultGroup.VALVE_TRAIN: (COUNTS, RUNNING, VALVES),
    FaultGroup.NONE_FOUND: (COUNTS,),
    FaultGroup.UNSETTLED: (COUNTS, CUT_OUT, SWAP, PLUGS, TRIMS, RUNNING, BACK_PRESSURE),
}
_DIESEL_HAS_NOT = frozenset({PLUGS.key, COIL.key, TRIMS.key, RUNNING.key, OXYGEN.key})
_DIESEL_INSTEAD: dict[str, WantedTest] = {
    SWAP.key: SWAP_DIESEL,
    BACK_PRESSURE.key: BACK_PRESSURE_DIESEL,
    VACUUM.key: _TEXTS["vacuum_diesel"],
    INJECTOR.key: _TEXTS["injector_diesel"],
}
_NOZZLE = _TEXTS["injector_nozzle"]
_SWAPPED: dict[str, str] = {
    "yes": gettext_noop("The misfire followed the {part}: the {part} is at fault."),
    "no": gettext_noop("The misfire stayed: it lies in the cylinder or its wiring."),
    "changed": gettext_noop("The misfire changed: swap back and repeat before a part is bought."),
}


def group_tests(
    group: FaultGroup, fuel: str = "petrol", codes: Collection[str] = (), injection: str = ""
) -> tuple[WantedTest, ...]:
    """Return the tests that an order of a group beyond compression asks for.

    Parameters
    ----------
    group
        Any but `COMPRESSION`, whose tests follow from the pattern.
    fuel
        `petrol` or `diesel`; a diesel has no spark plugs, coils, petrol trims or throttle.
    codes
        Fault codes read on the visit; where the group is not settled they tell what comes first.
    injection
        Kind of injection; a pump with lines has nozzles that no scan tool reads.
    """
    tests = _TESTS[group]
    if group is FaultGroup.UNSETTLED:
        pointed = [t for t in (FUEL_PRESSURE, TRIMS, BACK_PRESSURE) if _points_at(codes, t)]
        tests = (COUNTS, *pointed, *(t for t in tests if t not in {COUNTS, *pointed}))
    if fuel == "diesel":
        kept = (t for t in tests if t.key not in _DIESEL_HAS_NOT)
        tests = tuple(in_diesel(t, fuel, injection) for t in kept)
    return tuple(map(translated, tests))


def in_diesel(test: WantedTest, fuel: str, injection: str = "") -> WantedTest:
    """Return a test in the words of the engine's fuel and injection."""
    if fuel == "diesel" and injection == "pump_line" and test.key == INJECTOR.key:
        return _NOZZLE
    return _DIESEL_INSTEAD.get(test.key, test) if fuel == "diesel" else test


def _points_at(codes: Collection[str], test: WantedTest) -> bool:
    """Return whether a code asks for a test: rail pressure, mixture of a bank, catalyst."""
    if test is FUEL_PRESSURE:
        return any(code_base(code) == "P0087" for code in codes)
    group = {TRIMS.key: "mixture", BACK_PRESSURE.key: "exhaust"}[test.key]
    return any(code_meaning(code).group == group for code in codes)


def group_request(
    group: FaultGroup,
    cylinders: Collection[int],
    *,
    may_hold_liquid: bool = False,
    high: Collection[int] = (),
    high_are_companions: bool = False,
    timing_in_doubt: bool = False,
    is_shown_even: bool = True,
) -> str:
    """Return the one-line request of an order of a group beyond compression.

    Parameters
    ----------
    may_hold_liquid
        Whether a cylinder stands high: that is looked into before all else.
    high
        Which one, as far as the capture tells.
    high_are_companions
        Whether they are two, 360 degrees apart: a bind once a turn is then likelier than liquid.
    timing_in_doubt
        Whether the engine must be barred over before it is cranked.
    is_shown_even
        Whether a capture showed nothing; else it is the diagnostician's word alone.
    """
    parts = []
    if high:
        parts.append(request_of_high((), high, binds=high_are_companions))
    elif may_hold_liquid:
        parts.append(_("Look for liquid before cranking again."))
    if timing_in_doubt:
        parts.append(_("Bar over before cranking: valve timing first."))
    shown = _("cranking shows no compression fault") if is_shown_even else ""
    found = _find_line(group, cylinders)
    parts.append(f"{found}; {shown}." if shown else f"{found}.")
    return " ".join(parts)[:LONGEST_REQUEST]


def _find_line(group: FaultGroup, cylinders: Collection[int]) -> str:
    """Return what an order of a group beyond compression is to find."""
    where, label = named(cylinders), _(GROUP_LABELS[group]).lower()
    if group is FaultGroup.NONE_FOUND:
        return _("Check over a stated drive that no fault shows")
    if group is FaultGroup.UNSETTLED and cylinders:
        line = _("Find why the engine misfires on {where}")
    elif group is FaultGroup.UNSETTLED:
        line = _("Find why the engine misfires")
    elif cylinders:
        line = _("Find the fault on {where}: {label}")
    else:
        line = _("Find the fault: {label}")
    return line.format(where=where, label=label)


def group_words(group: FaultGroup, cylinders: Collection[int]) -> str:
    """Return where the fault lies, in words for the customer; empty while it is not settled."""
    if group in {FaultGroup.UNSETTLED, FaultGroup.COMPRESSION}:
        return ""
    if group is FaultGroup.NONE_FOUND:
        return _("No fault was found in the tests that were made.")
    fault = _(_FAULT_IS[group])
    if cylinders:
        fault = _("{fault}, on {cylinders}").format(fault=fault, cylinders=named(cylinders))
    return _("{sentence}.").format(sentence=fault)


def swap_reading(part: str, followed: str) -> str:
    """Return what a swap test says.

    Parameters
    ----------
    part
        What was swapped, as a word: `coil`, `plug`, `injector`.
    followed
        Whether the misfire followed it: `yes`, `no` or `changed`.
    """
    return _(_SWAPPED[followed]).format(part=part)
