"""Running balance on simulated idling engines, and on the measured logs of running ones."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from engines.core.firing import FiringOrder
from tests.traces.core.signals.measured import measured
from traces.core.analysis import judge
from traces.core.report.results import Report
from traces.core.running import FiringSteps, SpeedError, TwoMasses, WorkLevel, contributions
from traces.core.running.idle_stretch import IdleStretch, steady_idle
from traces.core.running.step_fit import firing_steps
from traces.core.setup.analysis_setup import (
    AnalysisSetup,
    EventToMeasure,
    SetupError,
    SyncEvery,
    SyncSetup,
)
from traces.core.setup.manual_edits import ManualEdits
from traces.core.signals.wheel import ToothTrack
from traces.simulator.running import Idle, IdleCapture, idle_capture

ORDER = FiringOrder.parse("1-3-4-2")
_LOGS = {"i4g-36-2-1-running.csv": ORDER, "i4f-60-2-crank-to-running-8ch.csv": ORDER}


def _setup(*, every: SyncEvery | None = 720, order: FiringOrder = ORDER) -> AnalysisSetup:
    sync = SyncSetup("coil", order.sequence[0], "ignition", every) if every else None
    return AnalysisSetup(order, "crank", 1000.0, sync, signal="running-teeth")


def _idle(**changed) -> Idle:
    idle = Idle(5, "gas", ORDER, course="coast", lasts_s=5.0, rate_hz=50_000.0)
    return replace(idle, **changed)


def _codes(report: Report) -> set[str]:
    return {finding.code for finding in report.findings}


@pytest.fixture(scope="module")
def dead() -> IdleCapture:
    """Cylinder 4 of four burns nothing; the engine is switched off at the end."""
    return idle_capture(_idle(burn={4: 0.0}))


@pytest.mark.parametrize("physics", ["gas", "impulse"])
def test_a_dead_cylinder_is_named_and_gives_nothing(dead, physics) -> None:
    made = dead if physics == "gas" else idle_capture(_idle(physics=physics, burn={4: 0.0}))
    report = judge(made.waveform, _setup())
    assert report.verdict == "uneven"
    assert report.candidates == ((4,),)
    assert report.parts.running is not None
    assert report.parts.running.is_level_measured
    assert report.parts.running.grades == ("even", "even", "dead", "even")
    assert report.parts.running.rpm == pytest.approx(800, rel=0.05)
    for estimate in report.estimates:
        assert estimate.cylinder is not None
        truth = made.truth.contribution[estimate.cylinder]
        assert estimate.relative == pytest.approx(truth, abs=0.15)
        assert estimate.low <= truth <= estimate.high


def test_without_events_every_numbering_that_fits_is_listed(dead) -> None:
    report = judge(dead.waveform, _setup(every=None))
    assert report.verdict == "uneven"
    assert sorted(report.candidates) == [(1,), (2,), (3,), (4,)]
    assert not report.cylinders_known


def test_events_set_up_as_every_turn_leave_two(dead) -> None:
    report = judge(dead.waveform, _setup(every=360))
    assert sorted(report.candidates) == [(1,), (4,)]
    assert "sync-every-360" in _codes(report)


def test_events_of_every_turn_set_up_as_every_cycle_are_refused() -> None:
    made = idle_capture(_idle(course="idle", lasts_s=3.0), sync_every_deg=360)
    report = judge(made.waveform, _setup())
    assert report.verdict == "not judged"
    assert "sync-mismatch" in _codes(report)


def test_an_engine_that_is_not_switched_off_tells_who_and_not_how_much() -> None:
    made = idle_capture(_idle(course="idle", burn={2: 0.0}, lasts_s=4.0))
    report = judge(made.waveform, _setup())
    assert report.candidates == ((2,),)
    assert "level-assumed" in _codes(report)
    weak = next(e for e in report.estimates if e.cylinder == 2)
    assert weak.high - weak.low > 0.4


def test_a_sound_engine_on_a_coarse_wheel_is_even() -> None:
    made = idle_capture(_idle(teeth=24, gaps=(1,), spacing_deg=0.1, runout_deg=0.08))
    report = judge(made.waveform, _setup())
    assert report.verdict == "even"
    assert report.candidates == ((),)


def test_a_cylinder_that_comes_and_goes_is_told_so() -> None:
    made = idle_capture(_idle(missing={3: 0.6}, lasts_s=6.0))
    report = judge(made.waveform, _setup())
    assert report.candidates == ((3,),)
    assert report.parts.running is not None
    assert report.parts.running.grades[1] == "comes-and-goes"
    assert report.parts.running.missed[1] == pytest.approx(0.56, abs=0.1)


def _on_two_masses(**changed) -> IdleCapture:
    """Return an engine behind a flywheel of two masses that swing at 11 Hz."""
    dead = {"physics": "impulse", "driveline_share": 0.9, "driveline_hz": 11.0, "rpm": 820.0}
    return idle_capture(_idle(**dead, **changed))


def test_two_masses_that_turn_one_cylinder_onto_another_are_seen() -> None:
    made = _on_two_masses(burn={3: 0.0})
    assert "flywheel-unknown" in _codes(judge(made.waveform, _setup()))
    said = judge(made.waveform, replace(_setup(), flywheel="two-mass"))
    assert said.candidates == ((3,),)
    assert "two-mass-judged" in _codes(said)
    # one mass would have named another cylinder
    denied = judge(made.waveform, replace(_setup(), flywheel="one-piece"))
    assert denied.verdict == "not judged"
    assert "flywheel-contradicts" in _codes(denied)


def test_where_the_cylinder_hangs_on_the_flywheel_nobody_is_named_until_it_is_said() -> None:
    order = FiringOrder.parse("1-2-4-5-3")
    made = idle_capture(_idle(order=order, physics="impulse", burn={4: 0.0}))
    asked = judge(made.waveform, _setup(order=order))
    assert asked.verdict == "not judged"
    assert "flywheel-unknown" in _codes(asked)
    said = judge(made.waveform, replace(_setup(order=order), flywheel="one-piece"))
    assert said.candidates == ((4,),)
    assert "flywheel-decides" in _codes(said)
    assert "two-mass-judged" not in _codes(said)


def test_two_masses_answer_slow_torques_as_one_and_fast_ones_as_the_first() -> None:
    # Den Hartog, Mechanical Vibrations: of two masses on a spring the first stands still where the
    # second one alone swings, and swings with its own inertia far above (from memory)
    masses = TwoMasses(hz=11.0, share=0.9, damping=1e-6)
    still_hz = 11.0 / np.sqrt(1.9)
    slow, still, fast = np.abs(masses.response(np.array([0.01, still_hz, 1e4])))
    assert slow == pytest.approx(1.0, abs=1e-3)
    assert still < 1e-4
    assert fast == pytest.approx(1.9, rel=1e-3)


def test_a_hunting_idle_is_refused() -> None:
    made = idle_capture(_idle(course="hunting"))
    report = judge(made.waveform, _setup())
    assert report.verdict == "not judged"
    assert "idle-unsteady" in _codes(report)


def test_uneven_firing_is_refused() -> None:
    order = FiringOrder.parse("1-6-5-4-3-2", "0,150,240,390,480,630")
    made = idle_capture(_idle(course="idle", lasts_s=1.0))
    report = judge(made.waveform, _setup(order=order))
    assert "running-other-firing" in _codes(report)


def _turning(rpm: float, lasts_s: float) -> ToothTrack:
    angle_deg = np.arange(0.0, rpm * 6.0 * lasts_s, 6.0)
    return ToothTrack(angle_deg / (rpm * 6.0), angle_deg, 60, 0, 0.0)


@pytest.mark.parametrize(
    ("rpm", "lasts_s", "trouble"),
    [(250, 9.0, "not-running"), (2400, 3.0, "too-fast"), (800, 1.5, "too-short")],
)
def test_speeds_that_allow_no_balance(rpm, lasts_s, trouble) -> None:
    with pytest.raises(SpeedError) as refused:
        steady_idle(_turning(rpm, lasts_s))
    assert refused.value.trouble == trouble


def test_what_a_wheel_makes_is_no_difference_between_cylinders_a_turn_apart() -> None:
    even = _turning(800.0, 3.0)
    askew_deg = 0.3 * np.random.default_rng(1).normal(size=60)
    place = np.rint(even.angle_deg / 6.0).astype(int) % 60
    track = replace(even, times_s=even.times_s + askew_deg[place] / 4800.0)
    found, *_ = firing_steps(track, IdleStretch(0.0, 14_000.0, 800.0, 19), 4, 100.0)
    steps = found.steps.mean(axis=0)
    assert abs(steps[0] - steps[2]) < 1e-6
    assert abs(steps[1] - steps[3]) < 1e-6
    assert abs(steps[0] - steps[1]) > 1e-4


def test_contributions_are_shares_of_the_sound_ones() -> None:
    # a firing has to give 0.1; the last one gives 0.05 less than the mean, three a third of it more
    each = np.tile([0.0125, 0.0125, 0.0125, -0.0375], (20, 1))
    each = each + 1e-3 * np.random.default_rng(2).normal(size=each.shape)
    steps = FiringSteps(0.0, each, 0, 0.0, np.full(4, 1e-4))
    found = contributions(steps, WorkLevel(0.1, 0.1, is_measured=True), suspect_below=0.8)
    assert [one.grade for one in found] == ["even", "even", "even", "weak"]
    assert found[3].share == pytest.approx(0.0625 / 0.1125, abs=0.01)


@pytest.mark.parametrize("name", _LOGS)
def test_measured_logs_of_running_engines(real: Path, name: str) -> None:
    setup = replace(_setup(every=None), current_channel="1", flywheel="one-piece")
    report = judge(measured(real / name), setup)
    if name.startswith("i4f"):
        # it starts and speeds up to the end
        assert report.verdict == "not judged"
        assert "idle-unsteady" in _codes(report)
        return
    # one firing of four speeds the crank up less, but that is 1.3 s at twice the speed of an idle
    assert report.verdict == "not judged"
    assert "too-uncertain" in _codes(report)
    assert report.parts.running is not None
    assert report.parts.running.rpm == pytest.approx(1419, abs=3)
    assert report.parts.running.wheel == "36-2-1"


@pytest.mark.parametrize(
    "crank_only",
    [
        {"opened_plug": 2},
        {"hand": ManualEdits(span_s=(0.5, 2.0))},
        {"measured_event": EventToMeasure("cam", "cam", 1)},
        {"flywheel": "three-mass"},
    ],
)
def test_what_belongs_to_a_cranked_engine_is_refused_and_not_passed_over(crank_only) -> None:
    with pytest.raises(SetupError):
        replace(_setup(), **crank_only)
