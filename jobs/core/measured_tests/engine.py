"""The figures of tests on air, exhaust, valve gear, cooling and wiring, and of counts."""

from collections.abc import Iterable

from jobs.core.measured_tests.entry import TypedTest
from jobs.core.measured_tests.figure import (
    COMMON,
    MAKER,
    Choice,
    Comparison,
    Figure,
    Kind,
    Limit,
    Scope,
    Values,
    number,
)
from jobs.core.measured_tests.judging import BAD, GOOD, OPEN, Given, Saying, still_lacking
from jobs.core.measured_tests.shown import KPA_PER_INHG
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

LEAST_VACUUM_KPA = 15 * KPA_PER_INHG
"""15 inches of mercury (NIST Special Publication 811, appendix B.8), the lower end of what a
maker's service text gives for a good engine."""
LEAST_CAP_MINUTES = 5.0
MOST_CAP_FALL_KPA = 7.0
"""About 1 psi over five minutes or more (common practice)."""
LEAST_CHARGING_V, MOST_CHARGING_V = 12.8, 15.5
"""Of a 12 V system (common practice): a full battery rests at 12.6 V, and what
stays below the least is not charged. A shop sets its own for 24 V."""
LEAST_MISFIRES = 20
MOST_SHARE = 0.5
"""From so many misfires, and with more than half of all, a cylinder is called (common practice)."""


def read_vacuum(given: Given) -> Iterable[Saying]:
    """Keep an intake from being called good by the recirculation alone."""
    for row, values in given.rows.items():
        if not any(values.get(name) for name in ("vacuum_idle_kpa", "needle", "smoke_at")):
            yield still_lacking(given, row, "vacuum_idle_kpa")


VACUUM = TypedTest(
    "vacuum",
    Scope.ENGINE,
    (
        Figure(
            "vacuum_idle_kpa",
            gettext_noop("Vacuum at idle"),
            gettext_noop("At idle"),
            kind=Kind.VACUUM,
            decimals=0,
            most=105.0,
            usual=(15.0, 80.0),
            limit=Limit(least=LEAST_VACUUM_KPA, source=MAKER),
            falls_with_altitude=True,
        ),
        Figure(
            "vacuum_snap_kpa",
            gettext_noop("Vacuum after a snap"),
            gettext_noop("After a snap"),
            kind=Kind.VACUUM,
            decimals=0,
            most=105.0,
            usual=(0.0, 100.0),
            help_text=gettext_noop("The highest after the throttle closed again."),
        ),
        Figure(
            "needle",
            gettext_noop("How the needle moves"),
            gettext_noop("Needle"),
            kind=Kind.CHOICE,
            choices=(
                Choice("steady", gettext_noop("Steady"), "good", source=MAKER),
                Choice(
                    "low",
                    gettext_noop("Steady but low"),
                    "bad",
                    gettext_noop("Late ignition or valve timing, or false air."),
                    MAKER,
                ),
                Choice(
                    "regular_flick",
                    gettext_noop("Flicks regularly"),
                    "bad",
                    gettext_noop("A burnt or leaking valve."),
                    MAKER,
                ),
                Choice(
                    "occasional_flick",
                    gettext_noop("Flicks now and then"),
                    "bad",
                    gettext_noop("A sticking valve, or a misfire that comes and goes."),
                    MAKER,
                ),
                Choice(
                    "drifting",
                    gettext_noop("Drifts"),
                    "bad",
                    gettext_noop("Mixture or ignition that is not steady."),
                ),
            ),
        ),
        Figure(
            "smoke_at",
            gettext_noop("Where smoke comes out of the intake"),
            gettext_noop("Smoke"),
            kind=Kind.CHOICE,
            choices=(
                Choice("nowhere", gettext_noop("Nowhere"), "good"),
                Choice(
                    "runner",
                    gettext_noop("At a runner, or a joint of one bank"),
                    "bad",
                    gettext_noop("False air for some cylinders."),
                ),
                Choice(
                    "common",
                    gettext_noop("At a hose, the booster or the plenum"),
                    "bad",
                    gettext_noop("False air for all cylinders."),
                ),
            ),
        ),
        Figure(
            "recirculation_closed",
            gettext_noop("Idle with the exhaust gas recirculation closed off"),
            gettext_noop("Recirculation closed"),
            kind=Kind.CHOICE,
            choices=(
                Choice("same", gettext_noop("No change"), "good"),
                Choice(
                    "better",
                    gettext_noop("Comes right"),
                    "bad",
                    gettext_noop("Its valve stands open."),
                ),
            ),
        ),
        Figure(
            "purge_closed",
            gettext_noop("Idle with the hose of the tank vent (purge) valve closed off"),
            gettext_noop("Tank vent closed"),
            kind=Kind.CHOICE,
            choices=(
                Choice("same", gettext_noop("No change"), "good"),
                Choice(
                    "better",
                    gettext_noop("Comes right"),
                    "bad",
                    gettext_noop("Its valve stands open."),
                ),
            ),
        ),
        Figure(
            "charge_hoses",
            gettext_noop("Charge air hoses and cooler under pressure"),
            gettext_noop("Charge air"),
            kind=Kind.CHOICE,
            choices=(
                Choice("tight", gettext_noop("Tight"), "good"),
                Choice(
                    "leak",
                    gettext_noop("Leak"),
                    "bad",
                    gettext_noop("Charge air is lost under load."),
                ),
            ),
        ),
    ),
    rules=(read_vacuum,),
    fuels=frozenset({"petrol"}),
)

EXHAUST = TypedTest(
    "exhaust",
    Scope.ENGINE,
    (
        Figure(
            "back_idle_kpa",
            gettext_noop("Back pressure at idle"),
            gettext_noop("At idle"),
            kind=Kind.PRESSURE,
            decimals=1,
            most=400.0,
            usual=(0.0, 80.0),
            limit=Limit(most=8.6, source=MAKER),
        ),
        Figure(
            "back_fast_kpa",
            gettext_noop("Back pressure at 2000 rpm"),
            gettext_noop("At 2000 rpm"),
            kind=Kind.PRESSURE,
            decimals=1,
            most=400.0,
            usual=(0.0, 150.0),
            limit=Limit(most=20.7, source=MAKER),
        ),
    ),
)

CUT_OUT = TypedTest(
    "cut_out",
    Scope.CYLINDER,
    (
        Figure(
            "rpm_drop",
            gettext_noop("Drop in idle speed"),
            gettext_noop("Drop"),
            "rpm",
            decimals=0,
            least=-200.0,
            most=1500.0,
            usual=(-20.0, 400.0),
            comparison=Comparison(0.70, 0.45, is_high_bad=False),
            help_text=gettext_noop("Idle control held still, as the manufacturer specifies."),
        ),
    ),
)


def _cap_fall(values: Values) -> float | None:
    start, end = number(values, "cap_start_kpa"), number(values, "cap_end_kpa")
    return None if start is None or end is None else start - end


def read_cap(given: Given) -> Iterable[Saying]:
    """Keep a cooling system from being called tight before it stood long enough."""
    for row, values in given.rows.items():
        minutes = number(values, "cap_minutes")
        is_short = minutes is None or minutes < LEAST_CAP_MINUTES
        if _cap_fall(values) is not None and is_short:
            words = _("{whose}: a slow leak shows after {minutes:.0f} minutes; note how long.")
            yield Saying(
                row,
                "cap_minutes",
                OPEN,
                "too-short",
                words.format(whose=given.whose(row), minutes=LEAST_CAP_MINUTES),
                _(COMMON),
            )


COOLANT = TypedTest(
    "coolant",
    Scope.ENGINE,
    (
        Figure(
            "cap_start_kpa",
            gettext_noop("Pressure put on"),
            gettext_noop("Put on"),
            kind=Kind.PRESSURE,
            decimals=0,
            most=400.0,
            usual=(30.0, 220.0),
            help_text=gettext_noop("No more than the cap is marked with."),
        ),
        Figure(
            "cap_end_kpa",
            gettext_noop("Pressure left"),
            gettext_noop("Remaining"),
            kind=Kind.PRESSURE,
            decimals=0,
            most=400.0,
        ),
        Figure(
            "cap_minutes",
            gettext_noop("Minutes under pressure"),
            gettext_noop("Minutes"),
            "min",
            decimals=0,
            most=1440.0,
            usual=(1.0, 240.0),
        ),
        Figure(
            "gas",
            gettext_noop("Test fluid for combustion gas"),
            gettext_noop("Test fluid"),
            kind=Kind.CHOICE,
            choices=(
                Choice(
                    "changed",
                    gettext_noop("Changed colour"),
                    "bad",
                    gettext_noop("Combustion gas is in the coolant."),
                ),
                Choice("unchanged", gettext_noop("Did not change"), "good"),
            ),
        ),
        Figure(
            "cap_fall_kpa",
            gettext_noop("Fall under pressure"),
            gettext_noop("Fall"),
            kind=Kind.PRESSURE,
            decimals=0,
            least=-400.0,
            most=400.0,
            limit=Limit(most=MOST_CAP_FALL_KPA),
            derived=_cap_fall,
        ),
    ),
    rules=(read_cap,),
)


def _lift(name: str, label: str, head: str) -> Figure:
    return Figure(
        name,
        label,
        head,
        "mm",
        least=0.0,
        most=30.0,
        usual=(3.0, 16.0),
        comparison=Comparison(0.10, 0.06, is_high_bad=False),
    )


def _clearance(name: str, label: str, head: str) -> Figure:
    return Figure(name, label, head, "mm", least=0.0, most=3.0, usual=(0.0, 0.8))


VALVES = TypedTest(
    "valves",
    Scope.CYLINDER,
    (
        _lift("intake_lift_mm", gettext_noop("Lift, intake valve"), gettext_noop("Lift intake")),
        _lift("exhaust_lift_mm", gettext_noop("Lift, exhaust valve"), gettext_noop("Lift exhaust")),
        _clearance(
            "intake_clearance_mm",
            gettext_noop("Clearance, intake valve"),
            gettext_noop("Clearance intake"),
        ),
        _clearance(
            "exhaust_clearance_mm",
            gettext_noop("Clearance, exhaust valve"),
            gettext_noop("Clearance exhaust"),
        ),
        Figure(
            "valve_return",
            gettext_noop("How the valves close when pushed open"),
            gettext_noop("Closing"),
            kind=Kind.CHOICE,
            choices=(
                Choice("quick", gettext_noop("At once, alike")),
                Choice(
                    "slow",
                    gettext_noop("One closes slowly or hangs"),
                    "bad",
                    gettext_noop("A valve that sticks in its guide."),
                ),
            ),
        ),
    ),
)

WIRING = TypedTest(
    "wiring",
    Scope.CYLINDER,
    (
        Figure(
            "supply_drop_v",
            gettext_noop("Voltage drop, supply side"),
            gettext_noop("Supply drop"),
            "V",
            most=60.0,
            usual=(0.0, 14.5),
            limit=Limit(most=0.5),
            help_text=gettext_noop("From battery plus to the part, under load."),
        ),
        Figure(
            "ground_drop_v",
            gettext_noop("Voltage drop, ground side"),
            gettext_noop("Ground drop"),
            "V",
            most=60.0,
            usual=(0.0, 14.5),
            limit=Limit(most=0.2),
            help_text=gettext_noop("From the part to battery minus, under load."),
        ),
        Figure(
            "charging_v",
            gettext_noop("Battery voltage, engine running, loads on"),
            gettext_noop("Charging"),
            "V",
            decimals=1,
            most=60.0,
            usual=(11.0, 32.0),
            limit=Limit(least=LEAST_CHARGING_V, most=MOST_CHARGING_V),
            help_text=gettext_noop(
                "Lights, blower and heated window on. Charging that is controlled may rest lower."
            ),
        ),
        Figure(
            "connected_to",
            gettext_noop("Leads and connectors, followed by the firing order"),
            gettext_noop("Connected"),
            kind=Kind.CHOICE,
            choices=(
                Choice("own", gettext_noop("On its own cylinder"), "good"),
                Choice(
                    "another",
                    gettext_noop("On another cylinder"),
                    "bad",
                    gettext_noop("It fires or injects at the wrong time."),
                ),
            ),
        ),
    ),
)


def read_counts(given: Given) -> Iterable[Saying]:
    """Say which cylinder counts most of the misfires, once several are counted."""
    figure = given.figures[0]
    taken = given.taken(figure)
    total = sum(taken.values())
    limit = given.limits.get(figure.name)
    if len(taken) < 2 or (limit is not None and limit.is_set):
        return
    for row, count in taken.items():
        about = {"whose": given.whose(row), "count": f"{count:.0f}", "total": f"{total:.0f}"}
        words = _("{whose}: {count} of {total} misfires.").format(**about)
        if count >= LEAST_MISFIRES and count > MOST_SHARE * total:
            yield Saying(row, figure.name, BAD, "most", words, _(COMMON))
        elif count == 0:
            yield Saying(row, figure.name, GOOD, "none", words, _(COMMON))


COUNTS = TypedTest(
    "counts",
    Scope.CYLINDER,
    (
        Figure(
            "misfires",
            gettext_noop("Misfires counted"),
            gettext_noop("Misfires"),
            decimals=0,
            most=10_000_000.0,
            usual=(0.0, 20_000.0),
            help_text=gettext_noop("Say below over which drive."),
        ),
    ),
    rules=(read_counts,),
)
