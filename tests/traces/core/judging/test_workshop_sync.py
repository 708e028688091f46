"""Syncs as a workshop has them: each still names the right cylinder, or says that it cannot."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.simulated import simulated_together
from traces.core.judging.pipeline import analyse
from traces.core.report.results import Report
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated

# what a pick-up shows does not hang on the family: one has each kind
ONCE_A_CYCLE: dict[str, Family] = {
    "sync-neighbours": "a",
    "sync-ringing": "b",
    "sync-first-missing": "b",
    "sync-negative": "a",
}
OF_UNKNOWN_ANGLE: dict[str, Family] = {"sync-injector": "a", "sync-cam": "b"}
PLAIN = ""
OTHERS: dict[str, Family] = {PLAIN: "b", "waste-spark": "a"}


@pytest.fixture(scope="module")
@simulated_together
def cranked() -> dict[str, Scenario]:
    """One engine with one low cylinder, by kind of sync."""
    kinds = ONCE_A_CYCLE | OF_UNKNOWN_ANGLE | OTHERS
    return {
        kind: replace(
            draw(610, layout="I4", fault="one", family=family, sync="720", hard=kind or None),
            crank_s=4.0,
        )
        for kind, family in kinds.items()
    }


def _judged(simulated: Simulated) -> Report:
    return analyse(simulated.waveform, simulated.scenario.setup())


def _codes(report: Report) -> set[str]:
    return {f.code for f in report.findings}


@pytest.mark.parametrize("kind", ONCE_A_CYCLE)
def test_the_low_cylinder_is_named(cranked, kind: str) -> None:
    simulated = cranked[kind]
    report = _judged(simulated)
    assert report.candidates == (simulated.truth.low,), [f.message for f in report.findings]
    assert report.cylinders_known
    assert "which-cylinder" not in _codes(report)


@pytest.mark.parametrize("kind", OF_UNKNOWN_ANGLE)
def test_an_event_of_unknown_angle_names_no_cylinder(cranked, kind: str) -> None:
    simulated = cranked[kind]
    report = _judged(simulated)
    assert {(low,) for low in (1, 2, 3, 4)} == set(report.candidates)
    assert not report.cylinders_known
    assert "sync-angle-unknown" in _codes(report)
    # how low it is, is as good as ever
    low = min(e.relative for e in report.estimates)
    assert low == pytest.approx(min(simulated.truth.relative_sound), abs=0.08)


@pytest.mark.parametrize("kind", OF_UNKNOWN_ANGLE)
@pytest.mark.parametrize("off_deg", [-8.0, 8.0])
def test_a_stated_angle_names_the_cylinder(cranked, kind: str, off_deg: float) -> None:
    simulated = cranked[kind]
    report = analyse(simulated.waveform, _with_angle(simulated, off_deg))
    assert report.candidates == (simulated.truth.low,)
    assert report.cylinders_known
    assert not _codes(report) & {"which-cylinder", "sync-angle-unknown"}
    assert "degrees" in str(report.sync_note)


def test_a_stated_angle_that_does_not_fit_is_refused(cranked) -> None:
    simulated = cranked["sync-injector"]
    report = analyse(simulated.waveform, _with_angle(simulated, 80.0))
    assert report.verdict == "not judged"
    assert "sync-mismatch" in _codes(report)


def _with_angle(simulated: Simulated, off_deg: float) -> AnalysisSetup:
    setup, sync = simulated.scenario.setup(), simulated.scenario.sync
    assert setup.sync
    assert sync
    return replace(setup, sync=replace(setup.sync, angle_deg=sync.angle_deg + off_deg))


def test_a_coil_that_serves_two_leaves_both(cranked) -> None:
    simulated = cranked["waste-spark"]
    report = _judged(simulated)
    order = simulated.scenario.engine.firing_order
    (low,) = simulated.truth.low
    assert {(low,), (order.companion_of(low),)} == set(report.candidates)
    assert not report.cylinders_known
    assert "sync-every-360" in _codes(report)


def test_the_offset_of_the_event_is_learnt(cranked) -> None:
    simulated = cranked[PLAIN]
    scenario = simulated.scenario
    assert scenario.sync
    found = []
    for moved_deg in (-12.0, 0.0, 12.0):
        shift = moved_deg / 6 / simulated.truth.rpm  # six degrees a second for each rpm
        samples = round(shift * scenario.rate_hz)
        current, sync, *others = simulated.waveform.channels
        moved = replace(sync, values=np.roll(sync.values, samples))
        waveform = replace(simulated.waveform, channels=(current, moved, *others))
        report = analyse(waveform, scenario.setup())
        assert report.candidates == (simulated.truth.low,)
        assert report.parts.layout is not None
        assert report.parts.layout.offset_deg is not None
        found.append(report.parts.layout.offset_deg)
    # a later event sees its load so much earlier
    assert np.diff(found) == pytest.approx([-12.0, -12.0], abs=4.0)


def test_a_sync_of_another_length_than_the_cycle_is_found(cranked) -> None:
    # events of an engine that turns 1.3 times as fast: of another recording, say
    simulated = cranked[PLAIN]
    current, sync, *others = simulated.waveform.channels
    at = np.minimum(np.arange(sync.values.size) * 1.3, sync.values.size - 1)
    faster = replace(sync, values=sync.values[at.astype(np.int64)])
    waveform = replace(simulated.waveform, channels=(current, faster, *others))
    report = analyse(waveform, simulated.scenario.setup())
    assert report.verdict == "not judged"
    assert _codes(report) & {"sync-mismatch", "hump-mismatch"}


@simulated_together
def _twins() -> dict[str, Scenario]:
    # 315 and 405 degrees apart: with one cylinder dead there is no gap to measure
    drawn = draw(71159, layout="V2", fault="dead", family="b", sync="720")
    return {"one dead": replace(drawn, rate_hz=2000.0, crank_s=3.2)}


def test_one_hump_of_a_twin_is_either_cylinders() -> None:
    simulated = _twins()["one dead"]
    report = analyse(simulated.waveform, replace(simulated.scenario.setup(), sync=None))
    assert set(report.candidates) == {(1,), (2,)}
    assert not report.cylinders_known
