"""Groups of faults beyond compression: what an order of each asks for first.

All sources are common practice in the trade where nothing else is named; what the manufacturer's
procedure says comes first.
"""

from collections.abc import Collection
from dataclasses import replace
from enum import StrEnum

from jobs.core.code_meaning import code_base, code_meaning
from jobs.core.request import LONGEST_REQUEST, named
from jobs.core.wanted_test_texts import (
    BACK_PRESSURE,
    BACK_PRESSURE_DIESEL,
    COMMON,
    RUNNING,
    SWAP,
    SWAP_DIESEL,
    WantedTest,
)


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


GROUP_LABELS: dict[FaultGroup, str] = {
    FaultGroup.COMPRESSION: "Compression fault",
    FaultGroup.IGNITION: "Ignition",
    FaultGroup.FUEL: "Fuel",
    FaultGroup.AIR: "Air",
    FaultGroup.EXHAUST: "Exhaust",
    FaultGroup.ELECTRICAL: "Electrical",
    FaultGroup.VALVE_TRAIN: "Valve train",
    FaultGroup.UNSETTLED: "Not settled",
}

EVEN_IN_TEST = "The cylinders compare evenly in a cranking test; no mechanical fault showed in it."
OPEN_IN_TEST = (
    "No mechanical fault showed in a cranking test of all cylinders but cylinder {cylinder}, "
    "whose plug was out: it was not tested."
)
BANK_IN_TEST = (
    "In a cranking test one bank of cylinders came out weaker than the other as a whole. That "
    "points to the timing of the valves; the test does not tell which of the two banks is wrong."
)
EVEN_LEAVES_OPEN = (
    "Even excludes a large leak while cranking. It does not exclude equal wear, an exhaust valve "
    "that does not open, a worn lobe or a weak spring, a leak that opens hot or under combustion, "
    "deposits in the intake, a blocked exhaust or a small coolant leak."
)

COUNTS = WantedTest(
    "counts",
    "Write down the misfire counts of every cylinder over a stated drive.",
    "The same drive after the repair is the proof.",
    COMMON,
)
PLUGS = WantedTest(
    "plugs",
    "Take the plugs out in cylinder order, photograph them so, and compare colour and gap.",
    "One that looks different names its cylinder.",
    COMMON,
)
COIL = WantedTest(
    "coil",
    "Coil of the misfiring cylinder: current ramp or spark duration beside a good one.",
    "A weak coil shows beside a good one of the same engine.",
    COMMON,
)
INJECTOR = WantedTest(
    "injector",
    "Injector of the misfiring cylinder beside the others: resistance, current ramp, then flow or "
    "pressure-drop balance.",
    "One that drops more or less than the others is rich, lean or stuck.",
    COMMON,
)
FUEL_PRESSURE = WantedTest(
    "fuel_pressure",
    "Fuel pressure at rest, under load, and how long it holds.",
    "Low under load is supply; one that falls at rest is a leak.",
    COMMON,
)
TRIMS = WantedTest(
    "trims",
    "Read the fuel trims of each bank at idle and at 2500 rpm.",
    "High at idle only: false air. High under load: supply. One bank only: that bank.",
    COMMON,
)
VACUUM = WantedTest(
    "vacuum",
    "Intake: look for false air with smoke, and read the vacuum at idle and at a snap.",
    "False air leans out the cylinders next to it.",
    COMMON,
)
WIRING = WantedTest(
    "wiring",
    "Supply and ground of the misfiring cylinder's coil and injector: voltage drop under load, "
    "and move the harness.",
    "A drop or an interruption is the wiring and not the part.",
    COMMON,
)
VALVES = WantedTest(
    "valve_lift",
    "Rocker cover off: lift and clearance of each valve beside another cylinder's.",
    "A worn lobe or a weak spring cranks evenly and breathes badly.",
    COMMON,
)
CUT_OUT = WantedTest(
    "cut_out",
    "Cut one cylinder after the other out at idle and note which one changes nothing.",
    "It names the cylinder that adds nothing.",
    COMMON,
)

ONLY_BEYOND = frozenset(
    {"counts", "plugs", "coil", "injector", "fuel_press", "trims", "wiring", "cut_out"}
)
"""Tests of a finding that only an order beyond compression offers."""

_TESTS: dict[FaultGroup, tuple[WantedTest, ...]] = {
    FaultGroup.IGNITION: (COUNTS, SWAP, PLUGS, COIL, WIRING),
    FaultGroup.FUEL: (COUNTS, TRIMS, SWAP, FUEL_PRESSURE, INJECTOR),
    FaultGroup.AIR: (COUNTS, TRIMS, VACUUM),
    FaultGroup.EXHAUST: (COUNTS, BACK_PRESSURE),
    FaultGroup.ELECTRICAL: (COUNTS, WIRING, SWAP),
    FaultGroup.VALVE_TRAIN: (COUNTS, RUNNING, VALVES),
    FaultGroup.UNSETTLED: (COUNTS, CUT_OUT, SWAP, PLUGS, TRIMS, RUNNING, BACK_PRESSURE),
}
_DIESEL_HAS_NOT = frozenset({PLUGS.key, COIL.key, TRIMS.key, RUNNING.key})
_DIESEL_INSTEAD: dict[str, WantedTest] = {
    SWAP.key: SWAP_DIESEL,
    BACK_PRESSURE.key: BACK_PRESSURE_DIESEL,
    VACUUM.key: replace(
        VACUUM,
        words="Intake and charge air: pressure-test for leaks, and read the boost under load "
        "against the manufacturer's figure.",
        why="Lost charge air takes power from every cylinder and smokes.",
    ),
    INJECTOR.key: replace(
        INJECTOR,
        words="Injector of the misfiring cylinder beside the others: correction quantities at "
        "idle, then leak-off.",
        why="One that leaks off or is corrected more than the others names its cylinder.",
    ),
}
_SWAPPED: dict[str, tuple[str, str]] = {
    "yes": ("The misfire followed the {part}", "the {part} is at fault"),
    "no": ("The misfire stayed", "it lies in the cylinder or its wiring"),
    "changed": ("The misfire changed", "swap back and repeat before a part is bought"),
}


def group_tests(
    group: FaultGroup, fuel: str = "petrol", codes: Collection[str] = ()
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
    """
    tests = _TESTS[group]
    if group is FaultGroup.UNSETTLED:
        pointed = [t for t in (FUEL_PRESSURE, TRIMS, BACK_PRESSURE) if _points_at(codes, t)]
        tests = (COUNTS, *pointed, *(t for t in tests if t not in {COUNTS, *pointed}))
    if fuel != "diesel":
        return tests
    return tuple(_DIESEL_INSTEAD.get(t.key, t) for t in tests if t.key not in _DIESEL_HAS_NOT)


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
    timing_in_doubt: bool = False,
) -> str:
    """Return the one-line request of an order of a group beyond compression.

    Parameters
    ----------
    may_hold_liquid
        Whether a cylinder stands high: that is looked into before all else.
    timing_in_doubt
        Whether the engine must be barred over before it is cranked.
    """
    first = "Look for liquid before cranking again. " if may_hold_liquid else ""
    first += "Bar over before cranking: valve timing first. " if timing_in_doubt else ""
    where = f" on {named(cylinders)}" if cylinders else ""
    if group is FaultGroup.UNSETTLED:
        line = f"Find why the engine misfires{where}; cranking shows no compression fault."
    else:
        label = GROUP_LABELS[group].lower()
        line = f"Find the fault{where}: {label}; cranking shows no compression fault."
    return f"{first}{line}"[:LONGEST_REQUEST]


def group_words(group: FaultGroup, cylinders: Collection[int]) -> str:
    """Return where the fault lies, in words for the customer; empty while it is not settled."""
    if group in {FaultGroup.UNSETTLED, FaultGroup.COMPRESSION}:
        return ""
    where = f", on {named(cylinders)}" if cylinders else ""
    return f"The fault lies elsewhere: {GROUP_LABELS[group].lower()}{where}."


def swap_reading(part: str, followed: str) -> str:
    """Return what a swap test says.

    Parameters
    ----------
    part
        What was swapped, as a word: `coil`, `plug`, `injector`.
    followed
        Whether the misfire followed it: `yes`, `no` or `changed`.
    """
    seen, means = _SWAPPED[followed]
    return f"{seen.format(part=part)}: {means.format(part=part)}."
