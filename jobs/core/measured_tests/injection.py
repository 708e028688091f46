"""The figures of tests on injectors, fuel pressure and mixture."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from types import MappingProxyType

from jobs.core.measured_tests.entry import TypedTest
from jobs.core.measured_tests.figure import (
    COMMON,
    Comparison,
    Figure,
    Kind,
    Limit,
    Scope,
    Values,
    number,
)
from jobs.core.measured_tests.judging import NOTE, OPEN, Given, Saying, missed
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

BALANCE_SOURCE = gettext_noop(
    "a published injector balance: pressure drops may lie 20 kPa from their mean"
)
_MOST_RAIL_KPA = MappingProxyType({"diesel": 300_000.0})
_USUAL_RAIL_KPA = MappingProxyType({"diesel": (100.0, 270_000.0)})
"""Common rails run up to 300 MPa, direct petrol injection up to some 50 MPa."""
_RAIL_FROM_KPA = 1500.0
"""Above this it is a rail of direct injection, which gives its pressure away when it stands and
gets more under load."""
LEAST_HELD_MINUTES = 5.0
"""A leak that matters shows within five minutes (common practice)."""
LEAN_PERCENT = 10.0
"""Sum of short and long trim from which a bank is called lean, or rich below zero."""
_CLEARLY_LESS_POINTS = 8.0
"""By how much trims at idle and at 2500 rpm, or of two banks, differ before that means
something (common practice)."""

INJECTOR = TypedTest(
    "injector",
    Scope.CYLINDER,
    (
        Figure(
            "resistance_ohm",
            gettext_noop("Injector resistance"),
            gettext_noop("Resistance"),
            "Ω",
            least=0.0,
            most=2000.0,
            usual=(0.1, 200.0),
            comparison=Comparison(0.10, 0.06),
        ),
        Figure(
            "peak_a",
            gettext_noop("Peak injector current"),
            gettext_noop("Peak current"),
            "A",
            decimals=1,
            least=0.0,
            most=60.0,
            usual=(0.5, 35.0),
            comparison=Comparison(0.15, 0.10),
        ),
        Figure(
            "opening_ms",
            gettext_noop("Opening time of the injector"),
            gettext_noop("Opening"),
            "ms",
            least=0.0,
            most=30.0,
            usual=(0.1, 10.0),
            comparison=Comparison(0.20, 0.12),
            help_text=gettext_noop("From switching on to the kink of the pintle."),
        ),
        Figure(
            "drop_kpa",
            gettext_noop("Pressure drop of one pulse"),
            gettext_noop("Drop"),
            kind=Kind.PRESSURE,
            decimals=0,
            least=0.0,
            most=1000.0,
            usual=(5.0, 300.0),
            limit=Limit(apart=20.0, source=BALANCE_SOURCE),
            help_text=gettext_noop("The same pulse and the same starting pressure for each."),
        ),
        Figure(
            "leak_off_ml",
            gettext_noop("Leak-off quantity"),
            gettext_noop("Leak-off"),
            "ml",
            decimals=1,
            least=0.0,
            most=1000.0,
            usual=(0.0, 200.0),
            comparison=Comparison(1.0, 0.5, is_low_bad=False),
            help_text=gettext_noop("Over the same time for all cylinders."),
        ),
        Figure(
            "correction_mg",
            gettext_noop("Correction quantity at idle"),
            gettext_noop("Correction"),
            "mg",
            decimals=1,
            least=-30.0,
            most=30.0,
            usual=(-12.0, 12.0),
            limit=Limit(least=-4.0, most=4.0, source=COMMON),
        ),
    ),
)


def _load_fall(values: Values) -> float | None:
    """Return by how many per cent of the pressure at rest it falls under load; None for a rail.

    A rail's pressure is raised for the load: only its specified pressure tells.
    """
    if _is_rail(values):
        return None
    return _fall_percent(values, "load_kpa")


def _held_fall(values: Values) -> float | None:
    """Return by how many per cent it falls after the pump stopped; None for a rail."""
    return None if _is_rail(values) else _fall_percent(values, "held_kpa")


def _is_rail(values: Values) -> bool:
    read = (number(values, "rest_kpa"), number(values, "load_kpa"))
    return any(value is not None and value > _RAIL_FROM_KPA for value in read)


def _fall_percent(values: Values, name: str) -> float | None:
    rest, then = number(values, "rest_kpa"), number(values, name)
    if rest is None or then is None or rest <= 0:
        return None
    return 100 * (rest - then) / rest


def read_held(given: Given) -> Iterable[Saying]:
    """Keep a pressure that held from being called good before it stood long enough."""
    for row, values in given.rows.items():
        minutes = number(values, "held_minutes")
        is_short = minutes is None or minutes < LEAST_HELD_MINUTES
        if number(values, "held_kpa") is not None and is_short:
            words = _("{whose}: a leak shows after {minutes:.0f} minutes; note how long it held.")
            yield Saying(
                row,
                "held_minutes",
                OPEN,
                "too-short",
                words.format(whose=given.whose(row), minutes=LEAST_HELD_MINUTES),
                _(COMMON),
            )


FUEL_PRESSURE = TypedTest(
    "fuel_press",
    Scope.ENGINE,
    (
        Figure(
            "rest_kpa",
            gettext_noop("Fuel pressure at rest"),
            gettext_noop("At rest"),
            kind=Kind.PRESSURE,
            decimals=0,
            most=60_000.0,
            usual=(100.0, 50_000.0),
            most_by_fuel=_MOST_RAIL_KPA,
            usual_by_fuel=_USUAL_RAIL_KPA,
            help_text=gettext_noop("Pump running, engine at idle or off: as the limit says."),
        ),
        Figure(
            "load_kpa",
            gettext_noop("Fuel pressure under load"),
            gettext_noop("Under load"),
            kind=Kind.PRESSURE,
            decimals=0,
            most=60_000.0,
            usual=(20.0, 50_000.0),
            most_by_fuel=_MOST_RAIL_KPA,
            usual_by_fuel=_USUAL_RAIL_KPA,
        ),
        Figure(
            "held_kpa",
            gettext_noop("Fuel pressure held"),
            gettext_noop("Held"),
            kind=Kind.PRESSURE,
            decimals=0,
            most=60_000.0,
            most_by_fuel=_MOST_RAIL_KPA,
        ),
        Figure(
            "held_minutes",
            gettext_noop("Minutes after the pump stopped"),
            gettext_noop("Minutes"),
            "min",
            decimals=0,
            most=600.0,
            usual=(1.0, 60.0),
        ),
        Figure(
            "load_fall_percent",
            gettext_noop("Fall under load"),
            gettext_noop("Fall under load"),
            "%",
            decimals=0,
            least=-100.0,
            most=100.0,
            limit=Limit(most=10.0),
            derived=_load_fall,
        ),
        Figure(
            "held_fall_percent",
            gettext_noop("Fall while it stood"),
            gettext_noop("Fall standing"),
            "%",
            decimals=0,
            least=-100.0,
            most=100.0,
            limit=Limit(most=20.0),
            derived=_held_fall,
        ),
    ),
    rules=(read_held,),
)


def _added(*names: str) -> Callable[[Values], float | None]:
    """Return what adds short and long trim up; None where one of them was not read."""

    def total(values: Values) -> float | None:
        read = [number(values, name) for name in names]
        return None if None in read else sum(value for value in read if value is not None)

    return total


def _trim(name: str, label: str, head: str) -> Figure:
    return Figure(name, label, head, "%", decimals=1, least=-100.0, most=100.0, usual=(-45.0, 45.0))


def _trim_sum(name: str, label: str, head: str, *parts: str) -> Figure:
    return Figure(
        name,
        label,
        head,
        "%",
        decimals=1,
        least=-200.0,
        most=200.0,
        limit=Limit(least=-LEAN_PERCENT, most=LEAN_PERCENT),
        derived=_added(*parts),
    )


def read_trims(given: Given) -> Iterable[Saying]:
    """Say what the trims of each bank point at: false air, supply, or one bank alone."""
    idle, fast = _sums(given, "idle_sum_percent"), _sums(given, "fast_sum_percent")
    lean = {row for sums in (idle, fast) for row, held in sums.items() if held.is_lean}
    rich = {row for sums in (idle, fast) for row, held in sums.items() if held.is_rich}
    for row in sorted(idle.keys() & fast.keys()):
        falls = idle[row].percent - fast[row].percent > _CLEARLY_LESS_POINTS
        if idle[row].is_lean and falls:
            yield _pattern(given, row, "false-air")
        elif fast[row].is_lean:
            yield _pattern(given, row, "supply" if idle[row].is_lean else "lean-fast")
        elif row in rich:
            yield _pattern(given, row, "rich")
    if len(idle.keys() | fast.keys()) > 1:
        for one in (lean, rich):
            if len(one) == 1:
                yield _pattern(given, min(one), "one-bank")


@dataclass(frozen=True, slots=True)
class _Sum:
    """The sum of a bank's trims in per cent, and whether it misses its limit."""

    percent: float
    is_lean: bool
    is_rich: bool


def _sums(given: Given, name: str) -> dict[int, _Sum]:
    """Return a sum of trims by bank, held against the limit that applies to it."""
    figure = next(figure for figure in given.figures if figure.name == name)
    limit = given.limits.get(name, Limit(least=-LEAN_PERCENT, most=LEAN_PERCENT))
    return {
        row: _Sum(
            value,
            is_lean=missed(figure, limit, value, given.unit) == "high",
            is_rich=missed(figure, limit, value, given.unit) == "low",
        )
        for row, value in given.taken(figure).items()
        if row is not None
    }


_PATTERNS = {
    "false-air": gettext_noop("{whose}: lean at idle, less so at 2500 rpm: look for false air."),
    "supply": gettext_noop(
        "{whose}: lean at 2500 rpm as well: look at the fuel supply and the air meter."
    ),
    "lean-fast": gettext_noop(
        "{whose}: lean at 2500 rpm, not at idle: look at the fuel supply and the air meter."
    ),
    "rich": gettext_noop(
        "{whose}: rich: look for a leaking injector, high fuel pressure or fuel in the oil."
    ),
    "one-bank": gettext_noop(
        "{whose} alone is out: look at what only this bank has, not at what both share."
    ),
}


def _pattern(given: Given, row: int, code: str) -> Saying:
    words = _(_PATTERNS[code]).format(whose=given.whose(row))
    return Saying(row, "idle_sum_percent", NOTE, code, words, _(COMMON))


TRIMS = TypedTest(
    "trims",
    Scope.BANK,
    (
        _trim("idle_short_percent", gettext_noop("Short trim at idle"), gettext_noop("Idle short")),
        _trim("idle_long_percent", gettext_noop("Long trim at idle"), gettext_noop("Idle long")),
        _trim(
            "fast_short_percent",
            gettext_noop("Short trim at 2500 rpm"),
            gettext_noop("2500 short"),
        ),
        _trim(
            "fast_long_percent", gettext_noop("Long trim at 2500 rpm"), gettext_noop("2500 long")
        ),
        _trim_sum(
            "idle_sum_percent",
            gettext_noop("Sum of the trims at idle"),
            gettext_noop("Idle sum"),
            "idle_short_percent",
            "idle_long_percent",
        ),
        _trim_sum(
            "fast_sum_percent",
            gettext_noop("Sum of the trims at 2500 rpm"),
            gettext_noop("2500 sum"),
            "fast_short_percent",
            "fast_long_percent",
        ),
    ),
    rules=(read_trims,),
    fuels=frozenset({"petrol"}),
)
