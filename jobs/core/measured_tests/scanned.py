"""The figures that a scan tool tells: air drawn, oxygen sensors, freeze frame."""

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
from jobs.core.measured_tests.judging import NOTE, OPEN, Given, Saying, still_lacking
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

LEAST_FILL_PERCENT = 65.0
"""Of what the swept volume holds, at full throttle and without a charger. Good engines of this kind
reach 75 to 90 (common practice)."""
RICH_V, LEAN_V = 0.8, 0.2
"""Of a switching sensor that is forced rich and lean (common practice)."""
_GAS_J_PER_KG_K = 287.05
_AIR_K = 298.15
IDLE_RPM, LOAD_PERCENT, COLD_C, WARM_C = 1100.0, 60.0, 50.0, 75.0
"""Bounds of a freeze frame's words (common practice)."""


def fill_percent(values: Values) -> float | None:
    """Return what an engine draws as a share of its swept volume at full throttle, in percent.

    A four-stroke engine takes in its swept volume once in two turns: m = p V n / (2 R T), the ideal
    gas law with R = 287.05 J/(kg K) (U.S. Standard Atmosphere 1976), taken at 25 °C.
    """
    flow_g_s = number(values, "air_full_g_s")
    speed_rpm, swept_l = number(values, "air_full_rpm"), number(values, "air_swept_l")
    outside_kpa = number(values, "air_outside_kpa")
    if flow_g_s is None or not speed_rpm or not swept_l or not outside_kpa:
        return None
    # kilopascals times litres are joules
    swept_g = 1000.0 * outside_kpa * swept_l / (_GAS_J_PER_KG_K * _AIR_K)
    return 100.0 * flow_g_s / (swept_g * speed_rpm / 120.0)


def read_air(given: Given) -> Iterable[Saying]:
    """Keep air that a charger pushes in, or may, from being called enough."""
    for row, values in given.rows.items():
        if fill_percent(values) is not None and values.get("air_charged") != "no":
            words = _(
                "{whose}: a charged engine draws more than its swept volume holds; hold the air "
                "flow against the manufacturer's figure."
            )
            yield Saying(
                row,
                "air_charged",
                OPEN,
                "charged",
                words.format(whose=given.whose(row)),
                _(COMMON),
            )


AIR_METER = TypedTest(
    "air_meter",
    Scope.ENGINE,
    (
        Figure(
            "air_idle_g_s",
            gettext_noop("Air flow at idle"),
            gettext_noop("At idle"),
            "g/s",
            most=650.0,
            usual=(0.5, 20.0),
        ),
        Figure(
            "air_full_g_s",
            gettext_noop("Air flow at full throttle"),
            gettext_noop("Full throttle"),
            "g/s",
            decimals=1,
            most=650.0,
            usual=(5.0, 500.0),
            help_text=gettext_noop("The highest, with the engine speed it was read at."),
        ),
        Figure(
            "air_full_rpm",
            gettext_noop("Engine speed at that air flow"),
            gettext_noop("Speed"),
            "rpm",
            decimals=0,
            most=12_000.0,
            usual=(1000.0, 7500.0),
        ),
        Figure(
            "air_swept_l",
            gettext_noop("Swept volume of the engine"),
            gettext_noop("Swept volume"),
            "l",
            most=30.0,
            usual=(0.5, 9.0),
        ),
        Figure(
            "air_outside_kpa",
            gettext_noop("Air pressure outside"),
            gettext_noop("Outside"),
            kind=Kind.PRESSURE,
            decimals=0,
            least=50.0,
            most=110.0,
            usual=(70.0, 106.0),
            help_text=gettext_noop("As the scan tool shows it before the engine starts."),
        ),
        Figure(
            "air_charged",
            gettext_noop("Turbo or supercharger"),
            gettext_noop("Charged"),
            kind=Kind.CHOICE,
            choices=(Choice("no", gettext_noop("No")), Choice("yes", gettext_noop("Yes"))),
        ),
        Figure(
            "air_fill_percent",
            gettext_noop("Air drawn, of the swept volume"),
            gettext_noop("Filling"),
            "%",
            decimals=0,
            most=400.0,
            limit=Limit(least=LEAST_FILL_PERCENT),
            derived=fill_percent,
        ),
    ),
    rules=(read_air,),
)


def read_oxygen(given: Given) -> Iterable[Saying]:
    """Keep a sensor from being called good that was not seen both rich and lean."""
    for row, values in given.rows.items():
        read = [number(values, name) for name in ("sensor_rich_v", "sensor_lean_v")]
        if None in read and not values.get("sensor_answer"):
            yield still_lacking(given, row, "sensor_answer")


OXYGEN = TypedTest(
    "oxygen",
    Scope.BANK,
    (
        Figure(
            "sensor_rich_v",
            gettext_noop("Sensor, mixture made rich"),
            gettext_noop("Rich"),
            "V",
            most=5.0,
            usual=(0.0, 1.2),
            limit=Limit(least=RICH_V),
            help_text=gettext_noop("Switching sensor before the catalyst, hot."),
        ),
        Figure(
            "sensor_lean_v",
            gettext_noop("Sensor, mixture made lean"),
            gettext_noop("Lean"),
            "V",
            most=5.0,
            usual=(0.0, 1.2),
            limit=Limit(most=LEAN_V),
        ),
        Figure(
            "sensor_answer",
            gettext_noop("How the sensor answers"),
            gettext_noop("Answer"),
            kind=Kind.CHOICE,
            choices=(
                Choice("both", gettext_noop("Rich and lean, at once"), "good"),
                Choice("slow", gettext_noop("Slowly"), "bad", gettext_noop("A sensor that aged.")),
                Choice(
                    "stays_lean",
                    gettext_noop("Stays lean"),
                    "bad",
                    gettext_noop("The sensor, its wiring, or air that enters before it."),
                ),
                Choice(
                    "stays_rich",
                    gettext_noop("Stays rich"),
                    "bad",
                    gettext_noop("The sensor or its wiring."),
                ),
            ),
        ),
        Figure(
            "exhaust_joint",
            gettext_noop("Exhaust joints before the sensor"),
            gettext_noop("Joints"),
            kind=Kind.CHOICE,
            choices=(
                Choice("tight", gettext_noop("Tight"), "good"),
                Choice(
                    "leak",
                    gettext_noop("Leak"),
                    "bad",
                    gettext_noop("Air is drawn in and reads as a lean mixture."),
                ),
            ),
        ),
    ),
    rules=(read_oxygen,),
    fuels=frozenset({"petrol"}),
)


def frame_words(values: Values) -> tuple[str, ...]:
    """Return at what a code was stored: `idle`, `load`, `cold`, `warm`, as far as it is told."""
    speed_rpm, load = number(values, "frame_rpm"), number(values, "frame_load_percent")
    coolant_c = number(values, "frame_coolant_c")
    found = []
    is_load = load is not None and load >= LOAD_PERCENT
    if is_load:
        found.append("load")
    elif speed_rpm is not None and 0 < speed_rpm <= IDLE_RPM:
        found.append("idle")
    if coolant_c is not None and coolant_c < COLD_C:
        found.append("cold")
    elif coolant_c is not None and coolant_c >= WARM_C:
        found.append("warm")
    return tuple(found)


_FRAME_WORDS = {
    "idle": gettext_noop("at idle"),
    "load": gettext_noop("under load"),
    "cold": gettext_noop("engine cold"),
    "warm": gettext_noop("engine warm"),
}


def read_frame(given: Given) -> Iterable[Saying]:
    """Say at what the code was stored."""
    for row, values in given.rows.items():
        if found := frame_words(values):
            conditions = ", ".join(_(_FRAME_WORDS[key]) for key in found)
            words = _("{whose}: the code was stored {conditions}. Test it like that.")
            yield Saying(
                row,
                "frame_rpm",
                NOTE,
                "-".join(found),
                words.format(whose=given.whose(row), conditions=conditions),
                _(COMMON),
            )


FRAME = TypedTest(
    "frame",
    Scope.ENGINE,
    # Ranges of service 02 are those of the parameters 04, 05, 0C and 0D of SAE J1979.
    (
        Figure(
            "frame_rpm",
            gettext_noop("Engine speed when the code was stored"),
            gettext_noop("Speed"),
            "rpm",
            decimals=0,
            most=16_384.0,
            usual=(0.0, 7500.0),
        ),
        Figure(
            "frame_load_percent",
            gettext_noop("Load when the code was stored"),
            gettext_noop("Load"),
            "%",
            decimals=0,
            most=100.0,
            usual=(5.0, 100.0),
        ),
        Figure(
            "frame_coolant_c",
            gettext_noop("Coolant when the code was stored"),
            gettext_noop("Coolant"),
            "°C",
            decimals=0,
            least=-40.0,
            most=215.0,
            usual=(-30.0, 125.0),
        ),
        Figure(
            "frame_speed_km_h",
            gettext_noop("Road speed when the code was stored"),
            gettext_noop("Road speed"),
            "km/h",
            decimals=0,
            most=255.0,
            usual=(0.0, 220.0),
        ),
    ),
    rules=(read_frame,),
)
