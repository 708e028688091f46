"""The figures of the starter, a capture repeated, the sync and a borescope."""

from collections.abc import Iterable

from jobs.core.measured_tests.entry import TypedTest
from jobs.core.measured_tests.figure import (
    COMMON,
    Choice,
    Figure,
    Kind,
    Limit,
    Scope,
    Values,
    number,
)
from jobs.core.measured_tests.judging import NOTE, Given, Saying, missed, still_lacking
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

LEAST_CRANKING_RPM = 150.0
"""A sound engine at room temperature cranks at 180 to 300 rpm (common practice)."""
LEAST_CRANKING_V = 9.6
"""At the battery of a 12 V system at room temperature (common practice)."""
MOST_STARTER_DROP_V = 1.0
"""Both sides together (common practice: half a volt each)."""


def _starter_drop(values: Values) -> float | None:
    battery, starter = number(values, "starter_battery_v"), number(values, "starter_v")
    return None if battery is None or starter is None else battery - starter


def read_starter(given: Given) -> Iterable[Saying]:
    """Say whether a slow starter gets its voltage; without its speed it is not called good."""
    figures = {figure.name: figure for figure in given.figures}
    for row, values in given.rows.items():
        if number(values, "starter_rpm") is None:
            yield still_lacking(given, row, "starter_rpm")
            continue
        sides = {
            name: missed(figures[name], limit, value, given.unit)
            for name in ("starter_rpm", "starter_battery_v", "starter_drop_v")
            if (limit := given.limits.get(name)) is not None
            and isinstance(value := figures[name].of(values), int | float)
        }
        if sides.get("starter_rpm") != "low":
            continue
        if sides.get("starter_battery_v") == "low":
            code, words = "battery", _("{whose}: slow with a low battery: charge or test it first.")
        elif sides.get("starter_drop_v") == "high":
            code, words = "cables", _("{whose}: slow, and voltage is lost in the starter's cables.")
        elif len(sides) == len(("rpm", "battery", "drop")):
            code = "drags"
            words = _(
                "{whose}: slow with full voltage at the starter: the starter drags, or the engine "
                "turns hard. Bar it over by hand."
            )
        else:
            continue
        yield Saying(
            row, "starter_rpm", NOTE, code, words.format(whose=given.whose(row)), _(COMMON)
        )


STARTER = TypedTest(
    "starter",
    Scope.ENGINE,
    (
        Figure(
            "starter_a",
            gettext_noop("Starter current, cranking steadily"),
            gettext_noop("Current"),
            "A",
            decimals=0,
            most=3000.0,
            usual=(50.0, 600.0),
            usual_by_fuel={"diesel": (80.0, 1200.0)},
        ),
        Figure(
            "starter_rpm",
            gettext_noop("Cranking speed"),
            gettext_noop("Speed"),
            "rpm",
            decimals=0,
            most=600.0,
            usual=(40.0, 350.0),
            limit=Limit(least=LEAST_CRANKING_RPM),
            help_text=gettext_noop("As a capture or the scan tool tells it."),
        ),
        Figure(
            "starter_battery_v",
            gettext_noop("Battery while cranking"),
            gettext_noop("Battery"),
            "V",
            decimals=1,
            most=32.0,
            usual=(6.0, 13.0),
            limit=Limit(least=LEAST_CRANKING_V),
        ),
        Figure(
            "starter_v",
            gettext_noop("Voltage at the starter while cranking"),
            gettext_noop("Starter"),
            "V",
            decimals=1,
            most=32.0,
            usual=(4.0, 13.0),
            help_text=gettext_noop("From its terminal to its housing, at the same time."),
        ),
        Figure(
            "starter_drop_v",
            gettext_noop("Lost in the starter's cables"),
            gettext_noop("Lost"),
            "V",
            decimals=1,
            least=-32.0,
            most=32.0,
            limit=Limit(most=MOST_STARTER_DROP_V),
            derived=_starter_drop,
        ),
    ),
    rules=(read_starter,),
)

REPEAT = TypedTest(
    "repeat",
    Scope.ENGINE,
    (
        Figure(
            "repeat_shows",
            gettext_noop("What the repeated capture shows"),
            gettext_noop("Shows"),
            kind=Kind.CHOICE,
            choices=(
                Choice("even", gettext_noop("No weak cylinder"), "good"),
                Choice("same", gettext_noop("The same cylinder is weak"), "bad"),
                Choice(
                    "new",
                    gettext_noop("One is weak that was good before"),
                    "bad",
                    gettext_noop("Look at what changed: the temperature, the battery, the sync."),
                ),
                Choice(
                    "some_cycles",
                    gettext_noop("One is weak in single cycles only"),
                    "bad",
                    gettext_noop("A valve that sticks, or a weak spring."),
                    gettext_noop("a trade article on intermittent misfires"),
                ),
            ),
        ),
        Figure(
            "repeat_sync",
            gettext_noop("Sync in the repeated capture"),
            gettext_noop("Sync"),
            kind=Kind.CHOICE,
            choices=(
                Choice("proved", gettext_noop("Proved on its cylinder")),
                Choice("not_proved", gettext_noop("Not proved")),
            ),
        ),
    ),
)

SYNC = TypedTest(
    "sync",
    Scope.ENGINE,
    (
        Figure(
            "sync_shows",
            gettext_noop("What the sync check shows"),
            gettext_noop("Shows"),
            kind=Kind.CHOICE,
            choices=(
                Choice("proved", gettext_noop("The sync is right"), "good"),
                Choice(
                    "other",
                    gettext_noop("It is another cylinder"),
                    "bad",
                    gettext_noop("Enter the right cylinder in the set-up and analyse again."),
                ),
            ),
        ),
    ),
)


def read_scope(given: Given) -> Iterable[Saying]:
    """Keep a cylinder from being called good of which only a half was looked at."""
    for row, values in given.rows.items():
        lacking = [f.name for f in given.figures if not values.get(f.name)]
        if lacking:
            yield still_lacking(given, row, lacking[0])


BORESCOPE = TypedTest(
    "borescope",
    Scope.CYLINDER,
    (
        Figure(
            "scope_valves",
            gettext_noop("Valves, seats and stems"),
            gettext_noop("Valves"),
            kind=Kind.CHOICE,
            choices=(
                Choice("clean", gettext_noop("Clean and even"), "good"),
                Choice(
                    "deposits",
                    gettext_noop("Thick deposits on intake valves"),
                    "bad",
                    gettext_noop("They soak up fuel cold and leave less way for the air."),
                ),
                Choice(
                    "oily",
                    gettext_noop("Oil on the stems"),
                    "bad",
                    gettext_noop("Stem seals, where the leak-down is good."),
                ),
                Choice(
                    "burnt",
                    gettext_noop("Edge burnt or broken out"),
                    "bad",
                    gettext_noop("The valve does not seal."),
                ),
                Choice(
                    "struck",
                    gettext_noop("Struck by the piston"),
                    "bad",
                    gettext_noop("The valve timing was out. Do not crank."),
                ),
            ),
        ),
        Figure(
            "scope_chamber",
            gettext_noop("Crown, chamber and bore"),
            gettext_noop("Chamber"),
            kind=Kind.CHOICE,
            choices=(
                Choice("dry", gettext_noop("Dry, bore even"), "good"),
                Choice(
                    "liquid",
                    gettext_noop("Liquid stands in it"),
                    "bad",
                    gettext_noop("Do not crank: a rod bends."),
                ),
                Choice(
                    "carbon",
                    gettext_noop("Heavy carbon"),
                    "bad",
                    gettext_noop("It fills the chamber and raises the compression."),
                ),
                Choice(
                    "washed",
                    gettext_noop("Crown washed clean by coolant"),
                    "bad",
                    gettext_noop("Coolant enters there: test the cooling system."),
                ),
                Choice("fuel", gettext_noop("Bore wet with fuel"), "bad"),
                Choice(
                    "scored",
                    gettext_noop("Bore scored, piston broken"),
                    "bad",
                    gettext_noop("Rings, piston or bore."),
                ),
            ),
        ),
    ),
    rules=(read_scope,),
)
