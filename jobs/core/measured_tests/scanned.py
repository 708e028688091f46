"""The figures that a scan tool tells: air drawn, cams moved, oxygen sensors, freeze frame."""

from collections.abc import Callable, Iterable

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
from jobs.core.measured_tests.judging import NOTE, OPEN, Given, Saying
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

LEAST_FILL_PERCENT = 65.0
"""Of what the swept volume holds, at full throttle and without a charger. Good engines of this kind
reach 75 to 90 (common practice)."""
MOST_CAM_ERROR_DEG = 5.0
LEAST_CAM_TRAVEL_DEG = 10.0
"""A phaser that was asked for less shows nothing (common practice)."""
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


def _cam(which: str, label: str, head: str, help_text: str = "") -> Figure:
    return Figure(
        which,
        label,
        head,
        "°",
        decimals=1,
        least=-90.0,
        most=90.0,
        usual=(-60.0, 70.0),
        help_text=help_text,
    )


def _cam_error(cam: str) -> Callable[[Values], float | None]:
    def error_deg(values: Values) -> float | None:
        target, actual = number(values, f"{cam}_target_deg"), number(values, f"{cam}_actual_deg")
        return None if target is None or actual is None else abs(actual - target)

    return error_deg


def _cam_error_figure(cam: str, label: str, head: str) -> Figure:
    return Figure(
        f"{cam}_error_deg",
        label,
        head,
        "°",
        decimals=1,
        most=180.0,
        limit=Limit(most=MOST_CAM_ERROR_DEG),
        derived=_cam_error(cam),
    )


def read_cams(given: Given) -> Iterable[Saying]:
    """Keep a phaser from being called good that was not asked to move."""
    for row, values in given.rows.items():
        for cam in ("intake_cam", "exhaust_cam"):
            if _cam_error(cam)(values) is None:
                continue
            rest, target = number(values, f"{cam}_rest_deg"), number(values, f"{cam}_target_deg")
            if rest is None or target is None or abs(target - rest) < LEAST_CAM_TRAVEL_DEG:
                words = _(
                    "{whose}: a phaser shows what it does only where it is asked to move by "
                    "{travel:.0f}° or more from rest; note both."
                )
                yield Saying(
                    row,
                    f"{cam}_target_deg",
                    OPEN,
                    "not-moved",
                    words.format(whose=given.whose(row), travel=LEAST_CAM_TRAVEL_DEG),
                    _(COMMON),
                )


PHASER = TypedTest(
    "phaser",
    Scope.BANK,
    (
        _cam(
            "intake_cam_rest_deg",
            gettext_noop("Intake cam at rest"),
            gettext_noop("Intake rest"),
            gettext_noop("Actual position at warm idle, while nothing is asked of it."),
        ),
        _cam(
            "intake_cam_target_deg",
            gettext_noop("Intake cam, commanded"),
            gettext_noop("Intake commanded"),
            gettext_noop("Held for some seconds."),
        ),
        _cam(
            "intake_cam_actual_deg",
            gettext_noop("Intake cam, actual"),
            gettext_noop("Intake actual"),
        ),
        _cam(
            "exhaust_cam_rest_deg",
            gettext_noop("Exhaust cam at rest"),
            gettext_noop("Exhaust rest"),
        ),
        _cam(
            "exhaust_cam_target_deg",
            gettext_noop("Exhaust cam, commanded"),
            gettext_noop("Exhaust commanded"),
        ),
        _cam(
            "exhaust_cam_actual_deg",
            gettext_noop("Exhaust cam, actual"),
            gettext_noop("Exhaust actual"),
        ),
        Figure(
            "cam_feed",
            gettext_noop("Oil level and supply of the phaser's valve"),
            gettext_noop("Oil, supply"),
            kind=Kind.CHOICE,
            choices=(
                Choice("right", gettext_noop("Both right")),
                Choice(
                    "oil",
                    gettext_noop("Oil low or wrong"),
                    "bad",
                    gettext_noop("Put the oil right first; a phaser moves by its pressure."),
                ),
                Choice(
                    "supply",
                    gettext_noop("No supply or ground"),
                    "bad",
                    gettext_noop("The wiring comes before the phaser."),
                ),
            ),
        ),
        _cam_error_figure(
            "intake_cam", gettext_noop("Intake cam off its command"), gettext_noop("Intake error")
        ),
        _cam_error_figure(
            "exhaust_cam",
            gettext_noop("Exhaust cam off its command"),
            gettext_noop("Exhaust error"),
        ),
    ),
    rules=(read_cams,),
)

CAM_TRACE = TypedTest(
    "cam_trace",
    Scope.BANK,
    (
        Figure(
            "cam_off_deg",
            gettext_noop("Cam against crank, off a known-good engine's"),
            gettext_noop("Cam off"),
            "°",
            decimals=1,
            least=-180.0,
            most=180.0,
            usual=(-60.0, 60.0),
            limit=Limit(least=-MOST_CAM_ERROR_DEG, most=MOST_CAM_ERROR_DEG),
            help_text=gettext_noop("In degrees of the crank; late is positive, early is negative."),
        ),
        Figure(
            "crank_trace",
            gettext_noop("Trace of the crank sensor"),
            gettext_noop("Crank"),
            kind=Kind.CHOICE,
            choices=(
                Choice("clean", gettext_noop("Clean")),
                Choice(
                    "gaps",
                    gettext_noop("Gaps, or a second rhythm"),
                    "bad",
                    gettext_noop("The sensor, its wheel or its wiring."),
                ),
            ),
        ),
    ),
)

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
