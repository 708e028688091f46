"""Typical figures of starters and batteries, each with its source.

None is a limit: makers' figures differ by engine and win. A figure outside says what to look
at next, never that something is at fault.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from shopdiag.people.core.words import NOTHING, Text, say
from traces.core.findings import joined
from traces.core.report import Lies, StarterNote
from traces.core.setup import Fuel

_TEXTBOOK = say("textbook figures of starter draw by cylinders")
_TYPICAL = say("typical figure, not a limit")
_COMMON = say("common practice")


@dataclass(frozen=True, slots=True)
class Draw:
    """Normal draw of a warm petrol engine and the most by two limits of a textbook, amperes.

    `today_a` is what today's engines draw by common practice, where that is known: the textbook
    is older than they are.
    """

    normal_a: float
    most_low_a: float
    most_high_a: float
    today_a: tuple[float, float] | None = None

    @property
    def most_a(self) -> float:
        """The most by either, so that neither alone calls a draw high."""
        return max(self.most_high_a, self.today_a[1] if self.today_a else 0.0)


PETROL_DRAW: Mapping[int, Draw] = MappingProxyType(
    {4: Draw(100, 150, 185, (120, 220)), 6: Draw(125, 160, 200), 8: Draw(150, 185, 250)}
)
DIESEL_DRAW_A = 400.0
"""Diesels draw this and up, by another, weaker set of figures."""

PETROL_RPM = (180.0, 330.0)
"""A sound four was recorded at 309 to 316 rpm: what warns lies above."""
DIESEL_RPM = (80.0, 300.0)
BATTERY_MOHM = (4.0, 8.0)
CRANKING_LEAST_V = 9.6
REST_V = (12.4, 12.9)
"""From about 75 % charged to a full battery, AGM ones included; above stands a charger or a
surface charge, which takes hours or a load to go."""
REST_BY_CHARGE_V: Mapping[int, float] = MappingProxyType({100: 12.6, 75: 12.4, 50: 12.24})
"""Open-circuit voltage of a flooded 12 V battery by charge in per cent (charts of battery
makers)."""
_SYSTEM_V = (9.0, 16.0)
"""A battery at rest outside this is no 12 V one, or the channel is not the battery."""

_FALLING_SHARE = 0.05  # of the speed in a second

_CABLES = say("voltage drop over cables and earth under load")
_LOOK = say(
    "Look at battery charge and condition, then {cables}, then drag of starter and engine (thick "
    "oil, a tight or seized part)."
).filled(cables=_CABLES)


def draw_note(mean_a: float, cylinders: int, fuel: Fuel) -> StarterNote | None:
    """Lay the mean cranking current beside typical draw; None where none is at hand."""
    if fuel == "diesel":
        # a bound from below for large ones says nothing about a small one under it
        lies: Lies | None = None if mean_a < DIESEL_DRAW_A else "within"
        message = say(
            "Diesels typically draw {amps} A and up, small ones less", amps=f"{DIESEL_DRAW_A:.0f}"
        )
        source = say("weak: one list of rough figures")
        return _note("mean_current_a", lies, message, NOTHING, source)
    draw = PETROL_DRAW.get(cylinders)
    if draw is None:
        return None
    message = say(
        "A warm petrol engine with {cylinders} cylinders typically draws about {normal} A, at most "
        "{low} to {high} A",
        cylinders=cylinders,
        normal=f"{draw.normal_a:.0f}",
        low=f"{draw.most_low_a:.0f}",
        high=f"{draw.most_high_a:.0f}",
    )
    if draw.today_a is not None:
        low_a, high_a = draw.today_a
        message = say(
            "{typical}, by an older textbook; today's draw {low} to {high} A",
            typical=message,
            low=f"{low_a:.0f}",
            high=f"{high_a:.0f}",
        )
    if mean_a > draw.most_a:
        return _note("mean_current_a", "above", message, _LOOK, _TEXTBOOK)
    if mean_a < 0.6 * draw.normal_a:
        remedy = say(
            "See that the clamp holds the whole feed and its scale is right; a low current with a "
            "slow crank points to {cables}.",
            cables=_CABLES,
        )
        return _note("mean_current_a", "below", message, remedy, _TEXTBOOK)
    return _note("mean_current_a", "within", message, NOTHING, _TEXTBOOK)


def speed_note(rpm: float, fuel: Fuel) -> StarterNote:
    """Lay the cranking speed beside typical ones."""
    low, high = DIESEL_RPM if fuel == "diesel" else PETROL_RPM
    lies = _lies(rpm, low, high)
    remedy = NOTHING
    if lies == "below":
        remedy = _LOOK
    elif lies == "above":
        remedy = say(
            "A fast, even crank may have low compression in all cylinders: do not crank on; valve "
            "timing first, then a compression test."
        )
    source = say("{typical}; least speed: lecture notes", typical=_TYPICAL)
    message = _SPEEDS[fuel].filled(low=f"{low:.0f}", high=f"{high:.0f}")
    return _note("cranking_rpm", lies, message, remedy, source)


_SPEEDS: Mapping[Fuel, Text] = MappingProxyType(
    {
        "petrol": say(
            "Warm petrol engines typically crank at {low} to {high} rpm and need about 100 rpm to "
            "start"
        ),
        "diesel": say(
            "Diesel engines typically crank at {low} to {high} rpm and need 80 to 200 rpm to start"
        ),
    }
)


def trend_note(rpm: float, trend: float, high: float) -> StarterNote | None:
    """Say that the speed falls, where that is sure and not small; else None."""
    if high >= 0 or -trend < _FALLING_SHARE * rpm:
        return None
    return _note(
        "trend_rpm_per_s",
        "below",
        say("A good battery typically keeps the speed over a crank of some seconds; here it falls"),
        say("Look at battery charge and condition, then at a starter that heats up or drags."),
        _COMMON,
    )


def voltage_notes(figures: Mapping[str, float | None]) -> list[StarterNote]:
    """Lay the battery's voltages beside typical ones of a 12 V battery; none for others."""
    rest_v = figures.get("rest_v")
    if rest_v is not None and not _SYSTEM_V[0] <= rest_v <= _SYSTEM_V[1]:
        return []
    found = []
    if rest_v is not None:
        found.append(_rest_note(rest_v))
    # No note on the lowest voltage at the inrush: the starting profiles of ISO 16750-2 go deeper
    # than the 8 V of their level I, so that no figure there is usual.
    mean_v = figures.get("mean_cranking_v")
    if mean_v is not None:
        lies: Lies = "below" if mean_v < CRANKING_LEAST_V else "within"
        found.append(
            _note(
                "mean_cranking_v",
                lies,
                say("A 12 V battery typically keeps 9.6 V or more while it cranks a warm engine"),
                say("Charge and test the battery, then look at {cables}.", cables=_CABLES)
                if lies == "below"
                else NOTHING,
                say("{practice}, at about 20 °C", practice=_COMMON),
            )
        )
    return found


def resistance_note(mohm: float, figure: str) -> StarterNote:
    """Lay a source resistance beside that of a warm battery."""
    low, high = BATTERY_MOHM
    lies = _lies(mohm, low, high)
    message = say(
        "A warm car battery typically has {low} to {high} milliohm at its terminals; one rated "
        "600 A cold comes to 8.8 milliohm at -18 °C",
        low=f"{low:.0f}",
        high=f"{high:.0f}",
    )
    remedy = NOTHING
    if lies == "above":
        remedy = say(
            "If the probe sat on the terminals, test the battery; if it sat further on, measure "
            "the drop over cable and joints between."
        )
    source = say(
        "{typical}; 8.8 milliohm: from 7.2 V after 30 s at the rated current", typical=_TYPICAL
    )
    return _note(figure, lies, message, remedy, source)


def _rest_note(rest_v: float) -> StarterNote:
    low, high = REST_V
    lies = _lies(rest_v, low, high)
    remedy = {
        "below": say(
            "Charge the battery to 12.4 V or more and capture again before a slow crank or a low "
            "figure is judged."
        ),
        "above": say("See that no charger is on it; a surface charge takes hours or a load to go."),
        "within": NOTHING,
    }[lies]
    message = say(
        "A 12 V battery at rest with nothing switched on typically has {levels} of its charge, an "
        "AGM battery 12.8 V when full",
        levels=joined(
            [
                say("{volts} V at {share} %", volts=f"{volts:g}", share=share)
                for share, volts in REST_BY_CHARGE_V.items()
            ]
        ),
    )
    source = say("charts of battery manufacturers; AGM: common practice")
    return _note("rest_v", lies, message, remedy, source)


def _lies(value: float, low: float, high: float) -> Lies:
    return "below" if value < low else "above" if value > high else "within"


def _note(figure: str, lies: Lies | None, message: Text, remedy: Text, source: Text) -> StarterNote:
    told = say("{typical} (typical; the manufacturer's figure wins).", typical=message)
    return StarterNote(figure, lies, told, remedy, source)
