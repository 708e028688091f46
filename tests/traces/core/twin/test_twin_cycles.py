"""Single cycles: which cylinders are low in some of them only."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.core.synthetic import Crank
from traces.core.pipeline import analyse
from traces.core.simulator.scenarios import draw
from traces.core.simulator.simulate import simulate
from traces.core.twin.cycles import courses

SOUND = [1.0, 0.99, 1.01, 1.0, 0.98, 1.0]


def named(*columns):
    return [(c.index, c.low, c.kind) for c in courses(np.array(columns).T)]


def test_low_only_at_first():
    assert named(SOUND, [0.4, 0.6, 0.8, 0.92, 0.95, 0.96]) == [(1, 2, "first")]


def test_low_now_and_then():
    assert named([0.3, 1.0, 1.0, 0.3, 1.0, 0.3], SOUND) == [(0, 3, "now and then")]


def test_a_large_change_that_shows_a_little_beside_is_told_once():
    assert named(SOUND, [0.3, 1.0, 1.0, 0.3, 1.0, 0.3], [0.78, 1, 1, 0.77, 1, 0.78]) == [
        (1, 3, "now and then")
    ]


@pytest.mark.parametrize("steady", [SOUND, [0.4, 0.41, 0.39, 0.4, 0.42, 0.4]])
def test_steady_cylinders_are_not_told(steady):
    assert named(SOUND, steady) == []


def test_few_cycles_say_nothing():
    assert courses(np.array([[1.0, 0.3], [1.0, 1.0], [1.0, 0.3]])) == []


@pytest.mark.parametrize(("fault", "code"), [("recovers", "low-at-first"), ("one", None)])
def test_course_is_told_in_the_report(fault, code):
    capture = simulate(draw(400_010, layout="I6", fault=fault, family="a", sync="720"))
    report = analyse(capture.waveform, capture.scenario.setup())
    told = [f for f in report.findings if f.code in ("low-at-first", "comes-and-goes")]
    assert [f.code for f in told] == ([code] if code else [])
    if code:
        faulty = [i + 1 for i, c in enumerate(capture.scenario.engine.cylinders) if c.faulty]
        assert told[0].message.startswith(f"Cylinder {faulty[0]} ")
        # truth falls monotonically as the leak heals: so must the single cycles' figures
        course = next(e.per_cycle for e in report.estimates if e.cylinder == faulty[0])
        assert course[-1] > course[0] + 0.1


def test_valves_that_stick_outside_the_steady_part_are_told():
    # the three cycles alike are all good; in four of the eight others one cylinder is empty
    drawn = draw(101_415, layout="D4", fault="comes-and-goes", family="a")
    simulated = simulate(drawn)
    report = analyse(simulated.waveform, drawn.setup())
    (low,) = simulated.truth.low
    assert report.candidates == ((low,),)
    assert "comes-and-goes" in {f.code for f in report.findings}
    sound = [e for e in report.estimates if e.cylinder != low]
    # what all cylinders of a cycle have in common is no unevenness
    assert max(max(e.per_cycle) - min(e.per_cycle) for e in sound) < 0.15


def test_a_curve_that_no_twin_fits_is_refused_and_no_fault():
    crank = Crank(rate_hz=200.0, duration_s=4.0)
    waveform = crank.waveform()
    clamp, *others = waveform.channels
    values = clamp.values.copy()
    values[371] = 9e37
    waveform = replace(waveform, channels=(replace(clamp, values=values), *others))
    report = analyse(waveform, replace(crank.setup(), sync=None))
    assert report.verdict == "not judged"
    assert "poor-fit" in [f.code for f in report.findings]
