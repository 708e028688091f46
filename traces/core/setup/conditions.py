"""How a vehicle was prepared for a capture, and what follows where two captures differ in it."""

from collections.abc import Sequence
from dataclasses import dataclass

from shopdiag.people.core.numerals import written
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import say
from traces.core.findings import listed

_NOT_NOTED = say("not noted")
_BATTERY_APART_V = 0.3
_SPEED_APART = 0.10
_LEVELS_APART = 1.5
_FEW_CYCLES = 5

_THROTTLE = {"closed": say("closed"), "open": say("held open")}
_TEMPERATURE = {"cold": say("cold"), "warm": say("warm"), "hot": say("hot")}


@dataclass(frozen=True, slots=True)
class Conditions:
    """How the vehicle was prepared, as the person noted it; None or "" where not noted."""

    fuel_off: bool | None = None
    charger_off: bool | None = None
    throttle: str = ""
    temperature: str = ""
    battery_v: float | None = None


@dataclass(frozen=True, slots=True)
class Cranked:
    """How it went: speed, engine cycles judged, and mean current where the scale is known."""

    rpm: float | None
    cycles: int
    level_a: float | None


@dataclass(frozen=True, slots=True)
class ConditionRow:
    """One condition of two captures in words.

    Parameters
    ----------
    label, first, second
        What it is, and how it was each time.
    differs
        Whether it was another each time; not where one does not say.
    caution
        What follows from the difference; empty where nothing does.
    """

    label: str
    first: str
    second: str
    differs: bool
    caution: str = ""


def condition_rows(
    conditions: tuple[Conditions, Conditions], cranked: tuple[Cranked, Cranked]
) -> tuple[ConditionRow, ...]:
    """Lay the conditions of two captures side by side, every difference with its caution."""
    one, other = conditions
    return (
        _row(
            _("Engine temperature"),
            _TEMPERATURE.get(one.temperature),
            _TEMPERATURE.get(other.temperature),
            _(
                "The one was {first}, the other {second}: do not compare heights; oil and "
                "clearances of another temperature change speed, current and sealing."
            ),
        ),
        _row(
            _("Throttle"),
            _THROTTLE.get(one.throttle),
            _THROTTLE.get(other.throttle),
            _(
                "The throttle was {first} for the one and {second} for the other: the cylinders "
                "fill differently, so do not compare heights."
            ),
        ),
        _row(
            _("Fuel off"),
            _yes_no(one.fuel_off),
            _yes_no(other.fuel_off),
            _(
                "Fuel was off for only one of the two: firing may have helped the crank "
                "along in the other."
            ),
        ),
        _row(
            _("Charger off"),
            _yes_no(one.charger_off),
            _yes_no(other.charger_off),
            _("A charger was connected for only one of the two: do not compare amps or speed."),
        ),
        _battery(one.battery_v, other.battery_v),
        *_cranked(*cranked),
    )


def not_noted_words(rows: Sequence[ConditionRow]) -> tuple[str, ...]:
    """Name in one sentence what is not noted for one or both; nothing where all is."""
    names = [row.label.lower() for row in rows if str(_NOT_NOTED) in {row.first, row.second}]
    if not names:
        return ()
    return (
        _(
            "Not noted for both: {names}; what differs there is not known, so mind "
            "heights and small changes."
        ).format(names=listed(names)),
    )


def _row(label: str, first: object, second: object, caution: str) -> ConditionRow:
    differs = first is not None and second is not None and first != second
    return ConditionRow(
        label,
        str(first or _NOT_NOTED),
        str(second or _NOT_NOTED),
        differs,
        caution.format(first=first, second=second) if differs else "",
    )


def _yes_no(value: bool | None) -> str | None:
    return None if value is None else _("yes") if value else _("no")


def _battery(one_v: float | None, other_v: float | None) -> ConditionRow:
    first, second = (None if v is None else written(f"{v:g} V") for v in (one_v, other_v))
    row = _row(_("Battery before cranking"), first, second, "")
    if one_v is None or other_v is None or abs(one_v - other_v) < _BATTERY_APART_V:
        return ConditionRow(row.label, row.first, row.second, differs=False)
    caution = _(
        "The battery stood at {first} before the one and at {second} before the "
        "other: do not compare amps or speed."
    ).format(first=first, second=second)
    return ConditionRow(row.label, row.first, row.second, differs=True, caution=caution)


def _cranked(one: Cranked, other: Cranked) -> tuple[ConditionRow, ...]:
    rpm_apart = _ratio(one.rpm, other.rpm) > 1 + _SPEED_APART
    level_apart = _ratio(one.level_a, other.level_a) > _LEVELS_APART
    few = min(one.cycles, other.cycles) < _FEW_CYCLES
    first_rpm, second_rpm = _number(one.rpm, "rpm"), _number(other.rpm, "rpm")
    first_a, second_a = _number(one.level_a, "A"), _number(other.level_a, "A")
    return (
        ConditionRow(
            _("Cranking speed"),
            first_rpm,
            second_rpm,
            rpm_apart,
            _(
                "They were cranked at {first_rpm} and {second_rpm}: a leak shows more "
                "the slower the crank, so part of a change may come from that."
            ).format(first_rpm=first_rpm, second_rpm=second_rpm)
            if rpm_apart
            else "",
        ),
        ConditionRow(
            _("Mean current"),
            first_a,
            second_a,
            level_apart,
            _(
                "The mean currents are {first_a} and {second_a}: check that the clamp's "
                "scale was entered right both times."
            ).format(first_a=first_a, second_a=second_a)
            if level_apart
            else "",
        ),
        ConditionRow(
            _("Engine cycles judged"),
            str(one.cycles),
            str(other.cycles),
            one.cycles != other.cycles,
            _(
                "One of the two holds only {count} engine cycles: its figures say little; "
                "crank longer."
            ).format(count=min(one.cycles, other.cycles))
            if few
            else "",
        ),
    )


def _ratio(one: float | None, other: float | None) -> float:
    if not one or not other:
        return 1.0
    return max(one, other) / min(one, other)


def _number(value: float | None, unit: str) -> str:
    return _("not known") if value is None else f"{value:.0f} {unit}"
