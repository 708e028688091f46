"""A person's hand on battery voltage and crank teeth: the same as on the starter current."""

from dataclasses import replace

import pytest

from traces.core.analysis.any_signal import judge
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.core.setup.manual_edits import ManualEdits, ManualMarks
from traces.core.waveform.waveform import Waveform
from traces.simulator.other_signals import tooth_capture, voltage_capture
from traces.simulator.simulate import Simulated
from traces.simulator.tooth_sensor import ToothSensor
from traces.simulator.voltage_log import VoltageLog

BENCH = VoltageLog(rate_hz=2000.0, bits=12, noise_v=0.005)
SIGNALS = ("battery-voltage", "crank-teeth")


@pytest.fixture(params=SIGNALS)
def recorded(request, cranked) -> tuple[Simulated, Waveform, AnalysisSetup]:
    simulated = cranked(82, "I4", "dead")
    if request.param == "battery-voltage":
        return simulated, *voltage_capture(simulated, BENCH)
    return simulated, *tooth_capture(simulated, ToothSensor(kind="coil"))


def _marked(simulated: Simulated, setup: AnalysisSetup) -> AnalysisSetup:
    assert setup.sync
    events_s, (from_s, to_s) = simulated.truth.sync_s, simulated.truth.steady_s
    inside = events_s[(events_s > from_s + 0.4) & (events_s < to_s - 0.1)]
    marks = ManualMarks((float(inside[inside.size // 2]),), setup.sync.cylinder, setup.sync.event)
    return replace(setup, sync=None, hand=ManualEdits(marks=marks))


def test_one_event_by_hand_names_the_cylinder(recorded) -> None:
    simulated, waveform, setup = recorded
    report = judge(waveform, _marked(simulated, setup))
    assert report.candidates == (simulated.truth.low,), [f.message for f in report.findings]
    assert "hand-mark" in {f.code for f in report.findings}


def test_labels_move(recorded) -> None:
    simulated, waveform, setup = recorded
    plain = judge(waveform, setup)
    moved = judge(waveform, replace(setup, hand=ManualEdits(shift=1)))
    order = setup.firing_order.starting_at(simulated.truth.low[0]).sequence
    assert moved.candidates == ((order[1],),)
    assert [e.relative for e in moved.estimates] == [e.relative for e in plain.estimates]
    assert "hand-shift" in {f.code for f in moved.findings}


def test_a_stretch_and_a_cycle_left_out(recorded) -> None:
    _, waveform, setup = recorded
    plain = judge(waveform, setup)
    from_s, to_s = plain.judged_from_s or 0.0, plain.judged_to_s or 0.0
    cycle_s = 120.0 / (plain.cranking_rpm or 1.0)
    hand = ManualEdits(
        span_s=(from_s - 0.01, to_s - 1.5 * cycle_s),
        left_out_s=((from_s + 1.02 * cycle_s, from_s + 1.98 * cycle_s),),
    )
    report = judge(waveform, replace(setup, hand=hand))
    assert report.candidates == plain.candidates
    assert report.cycles < plain.cycles
    assert (report.judged_to_s or 0.0) <= to_s - 1.5 * cycle_s + 0.01
    assert {"hand-span", "hand-left-out"} <= {f.code for f in report.findings}
    assert any(c.reason == "hand" for c in report.engine_cycles)


def test_a_stretch_without_cranking_is_not_judged(recorded) -> None:
    _, waveform, setup = recorded
    report = judge(waveform, replace(setup, hand=ManualEdits(span_s=(90.0, 95.0))))
    assert report.verdict == "not judged"
    assert any(f.severity == "stop" and "by hand" in f.message for f in report.findings)
