"""What intervals do to calls and verdict: no cylinder is accused or cleared by a guess."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.core.synthetic import Crank
from traces.core.humps.humps import HumpMethod
from traces.core.judging.pipeline import analyse
from traces.core.preparation.prepared import Measured, Prepared
from traces.core.report.results import Report

CRANK = Crank()


class Stated:
    """A method that measures what the test says, so that only the judgement is tested."""

    name = "twin"

    def __init__(self, relative: tuple[float, ...], errors: tuple[float, ...]) -> None:
        self._relative, self._errors = np.array(relative), np.array(errors)

    def measure(self, prepared: Prepared) -> Measured:
        measured = HumpMethod().measure(prepared)
        steady = np.tile(self._relative, (measured.per_cycle.shape[0], 1))
        unit_a = 100.0
        return replace(
            measured,
            strengths=unit_a * self._relative,
            per_cycle=unit_a * steady,
            method_errors=self._errors,
        )


def judged(relative: tuple[float, ...], errors: tuple[float, ...]) -> Report:
    return analyse(CRANK.waveform(), CRANK.setup(), Stated(relative, errors))


def uncertain(report: Report) -> list[str]:
    return [f.severity for f in report.findings if f.code == "too-uncertain"]


def calls(report: Report) -> dict[int | None, str]:
    return {e.cylinder: e.call for e in report.estimates}


@pytest.mark.parametrize(
    ("error", "call", "verdict"), [(0.05, "suspect", "uneven"), (0.09, "watch", "even")]
)
def test_a_low_cylinder_is_accused_only_where_its_interval_stays_low(error, call, verdict) -> None:
    # positions 1-3-4-2: cylinder 3 reads 0.72, up to 0.82 or up to 0.90
    report = judged((1.0, 0.72, 1.0, 1.0), (0.02, error, 0.02, 0.02))
    assert calls(report)[3] == call
    assert report.verdict == verdict
    assert report.candidates == (((3,),) if call == "suspect" else ((),))
    # 0.54 to 0.90 is wider than 30 points as well
    assert uncertain(report) == ([] if call == "suspect" else ["warn", "warn"])


def test_one_softened_beside_one_that_is_clear() -> None:
    report = judged((1.0, 0.30, 1.0, 0.75), (0.02, 0.02, 0.02, 0.07))
    assert report.verdict == "uneven"
    assert report.candidates == ((3,),)
    assert calls(report)[2] == "watch"
    assert uncertain(report) == ["warn"]


@pytest.mark.parametrize(("error", "told"), [(0.07, []), (0.08, ["warn"])])
def test_an_even_verdict_on_wide_intervals_says_so(error, told) -> None:
    # 1.96 standard deviations to each side: 27 and 31 points
    report = judged((1.0, 0.97, 1.0, 1.0), (0.02, error, 0.02, 0.02))
    assert (report.verdict, uncertain(report)) == ("even", told)


def test_wide_intervals_of_sound_cylinders_leave_a_clear_call_alone() -> None:
    report = judged((1.0, 0.2, 1.0, 1.0), (0.08, 0.02, 0.08, 0.08))
    assert (report.verdict, report.candidates, uncertain(report)) == ("uneven", ((3,),), [])


@pytest.mark.parametrize(
    ("figure", "error", "told"),
    [
        (0.83, 0.06, ["warn"]),  # to watch, and down to 0.71
        (0.83, 0.02, []),
        (0.97, 0.13, ["warn"]),  # sound, but down to 0.72
        (0.97, 0.08, []),
    ],
)
def test_one_that_is_not_called_low_but_may_be_is_named_beside_a_weak_one(
    figure, error, told
) -> None:
    report = judged((1.0, 0.3, 1.0, figure), (0.02, 0.02, 0.02, error))
    assert report.candidates == ((3,),)
    assert uncertain(report) == told


def test_a_single_good_cylinder_accuses_nobody_and_is_told() -> None:
    report = judged((0.55, 1.0, 0.53, 0.60), (0.03,) * 4)
    codes = {f.code for f in report.findings if f.severity == "warn"}
    assert report.candidates == ((),)
    assert {"reference-doubtful", "too-uncertain"} <= codes
    assert calls(report) == {1: "watch", 3: "sound", 4: "watch", 2: "watch"}
    # each interval holds what a high cylinder 3 would make of it
    assert all(e.low < 0.6 and e.high > 0.95 for e in report.estimates if e.cylinder != 3)


def test_a_dead_cylinder_is_accused_by_either_measure() -> None:
    report = judged((0.55, 1.0, 0.05, 0.57), (0.03,) * 4)
    assert report.candidates == ((4,),)
    assert "reference-doubtful" in {f.code for f in report.findings}
