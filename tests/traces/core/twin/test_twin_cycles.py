"""Single cycles: which cylinders are low in some of them only."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.core.synthetic import Crank
from tests.traces.simulated import simulated_together
from traces.core.findings.finding_texts import finding
from traces.core.humps.humps import HumpMethod
from traces.core.judging.pipeline import analyse, with_findings
from traces.core.preparation.preparation import prepare
from traces.core.report.results import Report
from traces.core.twin.cycles import courses, cycles_marched, folded
from traces.core.twin.method import TwinMethod, fitted_twin
from traces.core.twin.parameters import STALL, VACUUM
from traces.core.twin.refusals import check_fitted
from traces.core.twin.repeating_cycle import solve
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw

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


def test_where_more_than_a_third_of_the_cylinders_seem_to_change_none_is_told():
    changing = [1.0, 0.3, 1.0, 1.0, 0.3, 1.0]
    assert len(named(changing, SOUND, SOUND)) == 1
    assert named(changing, changing[::-1], SOUND, SOUND) == []
    # of two cylinders one may change
    assert len(named(changing, SOUND)) == 1


def test_cycles_of_an_engine_that_compresses_nothing_are_marched():
    """A fit can end without any positive peak; that must not end the analysis."""
    prepared = prepare(Crank().waveform(), Crank().setup()).prepared
    assert prepared is not None
    layout, cycles = HumpMethod().measure(prepared), folded(prepared.cranking)
    found = fitted_twin(prepared, layout, cycles)
    assert check_fitted(found) == []
    values = found.state.values.copy()
    values[found.known.shares], values[VACUUM] = 0.0, 0.35
    empty = replace(found, state=solve(found.profile, values))
    assert empty.lobes.peaks.max() <= 0
    peaks, _ = cycles_marched(empty, prepared.cranking, float(cycles.mean()))
    assert peaks.shape[1] == len(prepared.order)
    assert [f.code for f in check_fitted(empty)] == ["poor-fit"]


@pytest.fixture(scope="module")
@simulated_together
def captures() -> dict[str, Scenario]:
    return {
        "recovers": draw(400_010, "I6", "recovers", family="a", sync="720"),
        "one": draw(400_010, "I6", "one", family="a", sync="720"),
        "comes-and-goes": draw(101_415, "D4", "comes-and-goes", family="a"),
    }


@pytest.mark.parametrize(("fault", "code"), [("recovers", "low-at-first"), ("one", None)])
def test_course_is_told_in_the_report(captures, fault, code):
    capture = captures[fault]
    report = analyse(capture.waveform, capture.scenario.setup())
    told = [f for f in report.findings if f.code in ("low-at-first", "comes-and-goes")]
    assert [f.code for f in told] == ([code] if code else [])
    if code:
        faulty = [i + 1 for i, c in enumerate(capture.scenario.engine.cylinders) if c.faulty]
        assert told[0].message.startswith(f"Cylinder {faulty[0]} ")
        # truth falls monotonically as the leak heals: so must the single cycles' figures
        course = next(e.per_cycle for e in report.estimates if e.cylinder == faulty[0])
        assert course[-1] > course[0] + 0.1


def test_valves_that_stick_outside_the_steady_part_are_told(captures):
    # the three cycles alike are all good; in four of the eight others one cylinder is empty
    simulated = captures["comes-and-goes"]
    report = analyse(simulated.waveform, simulated.scenario.setup())
    (low,) = simulated.truth.low
    assert report.candidates == ((low,),)
    assert "comes-and-goes" in {f.code for f in report.findings}
    sound = [e for e in report.estimates if e.cylinder != low]
    # what all cylinders of a cycle have in common is no unevenness
    assert max(max(e.per_cycle) - min(e.per_cycle) for e in sound) < 0.15
    # settling kept three cycles alike; figures come from all whole ones, which count as used
    used = [c for c in report.engine_cycles if c.used]
    assert report.judged_from_s is not None
    assert used[0].from_s < report.judged_from_s
    assert len(used) == report.cycles == len(report.estimates[0].per_cycle)


def test_a_curve_that_no_twin_fits_is_refused_and_no_fault():
    crank = Crank(duration_s=4.0)
    waveform = crank.waveform()
    clamp, *others = waveform.channels
    # needles in the rhythm of compressions, flat between them
    cranking = clamp.values > 0.3 * clamp.values.max()
    mean = clamp.values[cranking].mean()
    off = (clamp.values - mean) / np.abs(clamp.values[cranking] - mean).max()
    needles = mean * (1 + 0.5 * np.maximum(off, 0) ** 3)
    values = np.where(cranking, needles, clamp.values).astype(np.float32)
    waveform = replace(waveform, channels=(replace(clamp, values=values), *others))
    report = analyse(waveform, replace(crank.setup(), sync=None))
    assert report.verdict == "not judged"
    assert "poor-fit" in [f.code for f in report.findings]


def test_one_sample_beyond_all_measure_does_not_lead_the_fit_astray():
    crank = Crank(rate_hz=200.0, duration_s=4.0)
    waveform = crank.waveform()
    clamp, *others = waveform.channels
    values = clamp.values.copy()
    values[371] = 9e37
    waveform = replace(waveform, channels=(replace(clamp, values=values), *others))
    report = analyse(waveform, replace(crank.setup(), sync=None))
    assert report.verdict in ("even", "not judged")
    assert all(abs(e.relative - 1) < 0.05 for e in report.estimates)


def test_each_reason_for_a_poor_fit_has_its_own_sentence():
    prepared = prepare(Crank().waveform(), Crank().setup()).prepared
    assert prepared is not None
    layout, cycles = HumpMethod().measure(prepared), folded(prepared.cranking)
    found = fitted_twin(prepared, layout, cycles)
    spread = float(np.sqrt(found.profile.current.var()))
    strange = found.state.values.copy()
    strange[STALL] += 10 * found.known.spread[STALL]
    poor = {
        "shape": check_fitted(replace(found, rms=0.5 * spread)),
        "residual": check_fitted(replace(found, rms=0.1 * spread), worst_rms=0.05 * spread),
        "strange": check_fitted(replace(found, state=replace(found.state, values=strange))),
    }
    assert [[f.code for f in told] for told in poor.values()] == [["poor-fit"]] * 3
    assert len({told[0].message for told in poor.values()}) == 3
    # the share is told only where it is the reason
    assert "75 %" in poor["shape"][0].message


def test_a_capture_that_is_not_judged_names_no_cylinder_that_comes_and_goes():
    changing = finding("comes-and-goes", which="Cylinder 1", low=2, cycles=6)
    stop = finding("poor-fit", share="90")
    report = Report(verdict="not judged")
    codes = [f.code for f in with_findings(report, [changing, stop, stop]).findings]
    assert codes == ["poor-fit"]
    assert [f.code for f in with_findings(report, [changing]).findings] == ["comes-and-goes"]


def test_single_cycles_are_not_told_apart_with_few_samples_a_hump(captures):
    capture = captures["comes-and-goes"]
    method = TwinMethod()
    prepared = prepare(capture.waveform, capture.scenario.setup()).prepared
    assert prepared is not None
    # with all its samples it is told: the test above
    hump_s = prepared.cranking.cycle_s / 4
    coarse = replace(prepared, recorded_hz=20 / hump_s)
    assert coarse.samples_a_hump == pytest.approx(20)
    assert "comes-and-goes" not in [f.code for f in method.measure(coarse).findings]
