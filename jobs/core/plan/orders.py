"""The plan's tests as a work order asks for them."""

from collections.abc import Sequence

from jobs.core import groups
from jobs.core import wanted_test_texts as texts
from jobs.core.patterns import Pattern
from jobs.core.plan.plan import Plan
from jobs.core.plug_access import by_access
from jobs.core.tests_wanted import Circumstances, as_done_on, recorded_as
from jobs.core.wanted_test_texts import WantedTest

_WANTED: dict[str, WantedTest] = {
    "counts": groups.COUNTS,
    "cut_out": groups.CUT_OUT,
    "swap_coil": texts.SWAP,
    "swap_plug": texts.SWAP,
    "swap_injector": texts.SWAP,
    "plugs": groups.PLUGS,
    "coil": groups.COIL,
    "injector": groups.INJECTOR,
    "fuel_press": groups.FUEL_PRESSURE,
    "trims": groups.TRIMS,
    "vacuum": groups.VACUUM,
    "charge_air": groups.VACUUM,
    "exhaust": texts.BACK_PRESSURE,
    "running": texts.RUNNING,
    "valves": groups.VALVES,
    "leak_down": texts.LEAK,
    "borescope": texts.SCOPE,
    "gauge_dry": texts.DRY,
    "gauge_wet": texts.WET,
    "seats": texts.SEATS,
    "repeat": texts.REPEAT_ONCE,
    "repeat_warm": texts.REPEAT,
    "sync": texts.RESYNC,
    "bind": texts.BAR_FOR_TIMING,
    "timing": texts.TIMING,
    "cam_trace": texts.CAM_TRACE,
    "wash": texts.WASH,
    "coolant": texts.COOLANT,
    "wiring": groups.WIRING,
    "leads": groups.WIRING,
    "frame": groups.FRAME,
    "air_meter": groups.AIR_METER,
    "phaser": groups.PHASER,
    "oxygen": groups.OXYGEN,
    "starter": groups.STARTER,
    "repeat_cold": texts.REPEAT,
}
"""What an order asks for by each test of the plan; a diesel's own words are put in later."""
ASKED_FOR = 4
"""How many of the plan's tests an order takes in beside those of its group."""
MOST_ASKED = 8
"""More tests than these are read by nobody; those of the group that the plan ranks last go."""


def by_plan(
    tests: Sequence[WantedTest], plan: Plan, on: Circumstances, *, takes_in: bool
) -> tuple[WantedTest, ...]:
    """Return an order's tests in the plan's order.

    Parameters
    ----------
    tests
        As the order's group asks for them; counts stay first, as the proof compares with them.
    takes_in
        Whether the plan's own first tests are added where the group does not ask for them, as
        where the group is not settled.
    """
    if not plan.has_records:
        return tuple(tests)
    turn = [t.recorded for t in plan.tests]
    found = list(tests)
    if takes_in:
        known = {recorded_as(t.key) for t in tests}
        missing = [t.key for t in plan.tests[:ASKED_FOR] if t.recorded not in known]
        wanted = dict.fromkeys(_WANTED[key] for key in missing)
        fitted = (
            as_done_on(groups.in_diesel(t, on.fuel, on.injection), Pattern.NONE, on) for t in wanted
        )
        found += by_access([t for t in fitted if t is not None], on.access)
    found.sort(key=lambda t: _place(recorded_as(t.key), turn))
    return tuple(found[:MOST_ASKED]) if takes_in else tuple(found)


def _place(test: str, turn: Sequence[str]) -> int:
    if test == "counts":
        return -1
    return turn.index(test) if test in turn else len(turn)
