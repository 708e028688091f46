"""The figures of tests on cams: what their phasers do, and how they stand to the crank."""

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
from jobs.core.measured_tests.judging import OPEN, Given, Saying
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

MOST_CAM_ERROR_DEG = 5.0
LEAST_CAM_TRAVEL_DEG = 10.0
"""A phaser that was asked for less shows nothing (common practice)."""
CAMS = ("intake_cam", "exhaust_cam")


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


def is_asked_to_move(values: Values, cam: str) -> bool:
    """Return whether a cam was asked far enough from rest to show what its phaser does."""
    rest, target = number(values, f"{cam}_rest_deg"), number(values, f"{cam}_target_deg")
    if rest is None or target is None:
        return False
    return abs(target - rest) >= LEAST_CAM_TRAVEL_DEG


def read_cams(given: Given) -> Iterable[Saying]:
    """Keep a phaser from being called good that was not asked to move."""
    for row, values in given.rows.items():
        for cam in CAMS:
            if _cam_error(cam)(values) is not None and not is_asked_to_move(values, cam):
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
