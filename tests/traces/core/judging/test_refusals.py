"""Each reason not to judge, on a simulated capture that shows it and on one that nearly does."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from engines.core.firing import FiringOrder
from tests.traces.simulated import simulated_together
from tests.wording import says
from traces.core.judging.pipeline import analyse
from traces.core.report.results import Report
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.core.waveform.waveform import Channel, Waveform
from traces.simulator.recorder import LoadStep
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated

Change = Callable[[Scenario], Scenario]
LOW = 2


def _base() -> Scenario:
    """Return a four-cylinder engine with cylinder 2 low."""
    drawn = draw(41, layout="I4", fault="none", sync="720")
    cylinders = list(drawn.engine.cylinders)
    cylinders[LOW - 1] = replace(cylinders[LOW - 1], fault_leak_mm2=4.0)
    base = replace(
        drawn,
        engine=replace(drawn.engine, cylinders=tuple(cylinders)),
        clamp=replace(drawn.clamp, bits=12, inverted=False, mv_per_a=10.0, range_v=20.0),
        rate_hz=2000.0,
        before_s=0.4,
        crank_s=4.5,
        after_s=0.5,
    )
    return replace(base, clamp=replace(base.clamp, offset_a=0.5, drift_a_per_s=0.0, noise_v=0.01))


@pytest.fixture(scope="module")
@simulated_together
def captures() -> dict[str, Scenario]:
    """The engine, changed as each kind says."""
    base = _base()
    changes = {kind: change for kind, (change, _) in (STOPPED | NEARLY).items()} | OTHERS
    return {kind: change(base) for kind, change in changes.items()}


@pytest.fixture(scope="module")
def plain(captures) -> Report:
    """The report of the engine as it is."""
    return _judge(captures["nothing"])


def _judge(simulated: Simulated, **changes: Any) -> Report:
    setup = simulated.scenario.setup()
    return analyse(simulated.waveform, replace(setup, **changes))


def _codes(report: Report, *severities: str) -> set[str]:
    for found in report.findings:
        assert found.message.endswith(".")
        assert found.remedy.endswith(".")
        assert "{" not in found.message + found.remedy
    return {f.code for f in report.findings if not severities or f.severity in severities}


def _flaws(scenario: Scenario, **changes: Any) -> Scenario:
    return replace(scenario, flaws=replace(scenario.flaws, **changes))


def _clamp(scenario: Scenario, **changes: Any) -> Scenario:
    return replace(scenario, clamp=replace(scenario.clamp, **changes))


def _battery(scenario: Scenario, **changes: Any) -> Scenario:
    return replace(scenario, battery=replace(scenario.battery, **changes))


def _leaks(scenario: Scenario, leak_mm2: float) -> Scenario:
    cylinders = tuple(replace(c, leak_mm2=leak_mm2) for c in scenario.engine.cylinders)
    return replace(scenario, engine=replace(scenario.engine, cylinders=cylinders))


def _entered(scenario: Scenario, order: str) -> Scenario:
    return _flaws(scenario, entered_order=FiringOrder.parse(order))


STOPPED: dict[str, tuple[Change, set[str]]] = {
    "clamp off": (lambda s: _flaws(s, no_signal=True), {"no-signal"}),
    "wrong cable": (
        lambda s: _flaws(s, cable_share=0.0, other_cable_a=12.0),
        {"wrong-conductor"},
    ),
    "clipped by the clamp": (lambda s: _clamp(s, clip_a=110.0), {"clipped"}),
    "clamp saturates softly": (lambda s: _clamp(s, clip_a=90.0, soft_clip=True), {"clipped"}),
    "clipped by the screen": (lambda s: _clamp(s, range_v=1.2), {"clipped"}),
    "engine catches": (
        lambda s: _flaws(replace(s, crank_s=2.5, after_s=0.8), catches_after_s=1.5),
        {"engine-caught"},
    ),
    "battery collapses": (
        lambda s: _battery(s, collapse_at_s=0.8, collapse_ohm_per_s=0.02),
        {"unsteady"},
    ),
    "too short": (lambda s: replace(s, crank_s=0.7, after_s=0.2), {"too-short"}),
    "rate too low": (lambda s: replace(s, rate_hz=40.0), {"low-rate"}),
    "six cylinders entered": (lambda s: _entered(s, "1-5-3-6-2-4"), {"hump-mismatch"}),
    "three cylinders entered": (lambda s: _entered(s, "1-3-2"), {"hump-mismatch"}),
    "no compression": (lambda s: _leaks(s, 110.0), {"no-compression"}),
}


@pytest.mark.parametrize("kind", STOPPED)
def test_it_is_not_judged_and_says_why(captures, kind: str) -> None:
    codes = STOPPED[kind][1]
    report = _judge(captures[kind])
    assert report.verdict == "not judged"
    assert report.candidates == ()
    assert _codes(report, "stop") == codes, [f.message for f in report.findings]


# a capture that nearly has the flaw, or has one that leaves the shape alone: finding it shows
NEARLY: dict[str, tuple[Change, set[str]]] = {
    "nothing": (lambda s: s, set()),
    "one of two cables": (lambda s: _flaws(s, cable_share=0.45), set()),
    "scale ten times too large": (
        lambda s: _flaws(s, entered_mv_per_a=100.0),
        {"scale-implausible"},
    ),
    "scale ten times too small": (
        lambda s: _flaws(s, entered_mv_per_a=1.0),
        {"scale-implausible"},
    ),
    "reversed": (lambda s: _clamp(s, inverted=True), {"inverted"}),
    "zero not set": (lambda s: _clamp(s, offset_a=-45.0), {"load-on-cable"}),
    "zero drifts": (lambda s: _clamp(s, drift_a_per_s=8.0), {"drift"}),
    "inrush alone beyond the screen": (lambda s: _clamp(s, range_v=4.0), set()),
    "steps of other loads": (
        lambda s: _flaws(s, load_steps=(LoadStep(2.0, 2.3, 18.0), LoadStep(3.4, 3.7, 18.0))),
        set(),
    ),
    "engine catches late": (
        lambda s: _flaws(replace(s, crank_s=6.5, after_s=0.8), catches_after_s=5.5),
        set(),
    ),
    "battery gives way slowly": (lambda s: _battery(s, sag_v_per_as=0.0003), set()),
    "short but enough": (lambda s: replace(s, crank_s=2.6), set()),
    "coarse rate": (lambda s: replace(s, rate_hz=300.0), set()),
}


OTHERS: dict[str, Change] = {
    # fans that start between cycles
    "fans": lambda s: _flaws(
        s, load_steps=tuple(LoadStep(at, at + 0.35, 45.0) for at in (1.5, 2.7, 3.9))
    ),
    "no signal, battery recorded": lambda s: replace(
        _flaws(s, no_signal=True), record_battery=True
    ),
}


@pytest.mark.parametrize("kind", NEARLY)
def test_nearly_flawed_captures_are_judged(captures, kind: str) -> None:
    codes = NEARLY[kind][1]
    report = _judge(captures[kind])
    assert report.candidates == ((LOW,),), [f.message for f in report.findings]
    assert codes <= _codes(report, "warn", "note")


def test_steps_leave_the_cycles_between_them(captures) -> None:
    # cycles alike before and after are judged together
    report = _judge(captures["fans"])
    assert report.verdict == "not judged" or report.candidates == ((LOW,),)


def test_a_wrong_scale_moves_amps_and_not_the_shape(captures, plain) -> None:
    wrong = _judge(captures["scale ten times too large"])
    for one, other in zip(plain.estimates, wrong.estimates, strict=True):
        assert other.relative == pytest.approx(one.relative, abs=0.01)
    peaks = [max(h.current_a for h in report.humps) for report in (plain, wrong)]
    # common practice: 10 mV/A makes 1 V = 100 A, so that 100 mV/A makes a tenth
    assert peaks[1] == pytest.approx(peaks[0] / 10, rel=0.01)


def test_an_engine_turned_by_its_drive_motor_is_not_judged(captures) -> None:
    simulated = captures["nothing"]
    report = _judge(simulated, cranked_by="traction")
    assert report.verdict == "not judged"
    assert _codes(report, "stop") == {"method-does-not-apply"}
    assert _judge(simulated, cranked_by="belt").candidates == ((LOW,),)


def test_what_turns_the_engine_survives_json() -> None:
    setup = replace(_base().setup(), cranked_by="traction")
    assert AnalysisSetup.from_json(setup.to_json()) == setup
    older = {k: v for k, v in setup.to_json().items() if k != "cranked_by"}
    assert AnalysisSetup.from_json(older).cranked_by == "starter"


class TestAnotherChannel:
    """The clamp's channel entered holds nothing, but another one does."""

    def _swapped(self, simulated: Simulated, dead: np.ndarray) -> Waveform:
        current, sync, *_ = simulated.waveform.channels
        empty = Channel("battery", "V", dead.astype(np.float32))
        return replace(simulated.waveform, channels=(current, sync, empty))

    def test_the_remedy_names_it(self, captures) -> None:
        simulated = captures["nothing"]
        samples = simulated.waveform.samples
        noise = np.random.default_rng(3).normal(0, 0.004, samples)
        waveform = self._swapped(simulated, noise)
        setup = replace(simulated.scenario.setup(), current_channel="battery")
        report = analyse(waveform, setup)
        (stop,) = [f for f in report.findings if f.severity == "stop"]
        assert stop.code == "no-signal"
        assert says(stop.remedy, "finding_texts.channel-looks-like-cranking", channel="clamp")

    def test_nothing_is_named_where_none_looks_like_it(self, captures) -> None:
        simulated = captures["clamp off"]
        report = analyse(simulated.waveform, simulated.scenario.setup())
        (stop,) = [f for f in report.findings if f.severity == "stop"]
        assert "looks like" not in stop.remedy

    def test_a_battery_voltage_is_not_taken_for_it(self, captures) -> None:
        simulated = captures["no signal, battery recorded"]
        assert [c.name for c in simulated.waveform.channels][2] == "battery"
        report = analyse(simulated.waveform, simulated.scenario.setup())
        (stop,) = [f for f in report.findings if f.severity == "stop"]
        assert "looks like" not in stop.remedy


@pytest.fixture(scope="module")
@simulated_together
def others() -> dict[str, Scenario]:
    """Other engines, mostly entered with a number of cylinders that they do not have."""
    even = draw(911_407, layout="D6", fault="none", sync="none")
    return {
        "six alike": _entered(replace(even, rate_hz=2000.0), "1-3-4-2"),
        "six, one low": draw(301_404, layout="I6", fault="one", sync="none"),
        "ten alike": draw(101_006, layout="V10", family="a"),
        "sync neighbours": draw(1_301_403, flaw="wrong-engine", family="b"),
    }


def test_a_number_of_cylinders_that_means_too_fast_a_crank_is_doubted(others) -> None:
    # six even cylinders entered as four, no sync: only the speed that follows can tell
    simulated = others["six alike"]
    rpm = simulated.truth.rpm * 6 / 4
    report = _judge(simulated)
    if rpm > 360:
        assert "hump-mismatch" in _codes(report, "stop")
    else:
        assert rpm > 300
        assert "speed-implausible" in _codes(report, "warn")
    right = replace(simulated.scenario.setup(), firing_order=simulated.scenario.engine.firing_order)
    assert "speed-implausible" not in _codes(analyse(simulated.waveform, right))


@pytest.mark.parametrize(("entered", "stops"), [("1-3-4-2", True), ("1-5-3-6-2-4", False)])
def test_a_pattern_of_six_entered_as_four_is_seen_without_a_sync(others, entered, stops) -> None:
    # one low in six comes back every sixth hump: no four cylinders do that
    report = _judge(others["six, one low"], firing_order=FiringOrder.parse(entered))
    assert ("hump-mismatch" in _codes(report, "stop")) is stops
    assert (report.verdict == "uneven") is not stops


def test_scatter_of_ten_cylinders_alike_is_no_pattern_of_fewer(others) -> None:
    assert others["ten alike"].scenario.sync is None
    report = _judge(others["ten alike"])
    assert report.verdict == "even"


def test_it_is_seen_too_where_the_sync_shows_its_neighbours(others) -> None:
    scenario = others["sync neighbours"].scenario
    assert (len(scenario.engine.firing_order), len(scenario.setup().firing_order)) == (6, 4)
    report = _judge(others["sync neighbours"])
    assert _codes(report, "stop") == {"hump-mismatch"}
    told = next(f for f in report.findings if f.code == "hump-mismatch")
    assert "6 humps" in told.message
