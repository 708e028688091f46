"""Which engine cycles the figures come from: the report says so, and why not from others."""

from dataclasses import replace

import numpy as np
import pytest

from shopdiag.people.core.words import say
from tests.traces.core.synthetic import Crank
from tests.traces.simulated import simulated_together
from tests.wording import named, says, says_only
from traces.core.crank.cranking import CrankSpan
from traces.core.crank.cycle_use import (
    CycleDeviations,
    all_cycle_uses,
    cycle_uses,
    excluded_spans,
)
from traces.core.humps.humps import HumpMethod
from traces.core.judging.pipeline import analyse
from traces.core.report.cycle_uses import CycleUse
from traces.core.report.results import Report
from traces.simulator.recorder import LoadStep
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw

LOW_THREE = Crank(strengths=(1.0, 1.0, 0.5, 1.0), duration_s=6.0)
CYCLE_S = 120.0 / LOW_THREE.rpm


def _judged(change) -> Report:
    """Judge the synthetic crank with its current, in amps, changed over time."""
    waveform = LOW_THREE.waveform()
    clamp, sync = waveform.channels
    times_s = np.arange(waveform.samples) / waveform.rate_hz
    amps = change(clamp.values * 100.0, times_s).astype(np.float32)
    changed = replace(waveform, channels=(replace(clamp, values=amps / 100), sync))
    return analyse(changed, LOW_THREE.setup(), HumpMethod())


def _reasons(report: Report) -> list[str | None]:
    return [c.reason for c in report.engine_cycles]


def test_cycles_are_whole_ones_of_the_crank_in_order():
    report = _judged(lambda amps, _s: amps)
    cycles = report.engine_cycles
    assert [c.from_s for c in cycles[1:]] == [c.to_s for c in cycles[:-1]]
    whole = [c for c in cycles if c.used]
    lengths_s = [c.to_s - c.from_s for c in whole]
    assert lengths_s == pytest.approx([CYCLE_S] * len(whole), rel=0.01)
    # what is left at the end is told, although the span judged holds it
    assert [c.reason for c in cycles if not c.used] == ["cut"]
    assert report.excluded == ()


def test_a_load_that_jumps_on_takes_its_cycles_out_by_their_current():
    def fan(amps, at_s):
        return amps + np.where((at_s > 2.2) & (at_s < 3.8), 60.0, 0.0)

    report = _judged(fan)
    cycles = report.engine_cycles
    wholly = [c for c in cycles if c.from_s > 2.2 and c.to_s < 3.8]
    assert len(wholly) >= 2
    assert {c.reason for c in wholly} == {"level"}
    assert all(c.used for c in cycles if c.to_s < 2.2)
    for cycle in wholly:
        assert says_only(cycle.words, "cycle_use.current-above-usual-cycle")
    shaded = [s for s in report.excluded if s.reason == "level"]
    assert shaded[0].from_s <= wholly[0].from_s
    assert shaded[-1].to_s >= wholly[-1].to_s


@simulated_together
def _loaded() -> dict[str, Scenario]:
    drawn = draw(41, layout="I4", fault="none", sync="720")
    flaws = replace(drawn.flaws, load_steps=(LoadStep(2.6, 3.4, 60.0),))
    return {"a while": replace(drawn, crank_s=6.0, flaws=flaws)}


def test_a_load_is_the_reason_on_a_simulated_capture_too():
    capture = _loaded()["a while"]
    report = analyse(capture.waveform, capture.scenario.setup())
    off = [c for c in report.engine_cycles if c.reason == "level"]
    assert off
    assert all(c.to_s > 2.6 and c.from_s < 3.4 for c in off)


def test_run_up_ends_with_the_first_cycle_used():
    def sinking(amps, at_s):
        return amps * (1 + 0.9 * np.exp(-at_s / 0.5)) * (at_s > 0.3)

    report = _judged(sinking)
    reasons = _reasons(report)
    used_from = reasons.index(None)
    assert used_from > 0
    assert set(reasons[:used_from]) == {"run-up"}
    assert "run-up" not in reasons[used_from:]
    spans = report.excluded
    assert [s.reason for s in spans][:2] == ["before", "run-up"]
    assert spans[0].to_s == pytest.approx(0.3, abs=0.05)
    assert report.judged_from_s == pytest.approx(spans[-1].to_s, abs=1e-4)


def test_an_engine_that_starts_leaves_out_what_comes_after():
    def caught(amps, at_s):
        return np.where(at_s < 4.4, amps, 30 + 0.1 * amps)

    report = _judged(caught)
    last = report.excluded[-1]
    assert last.reason == "started"
    assert last.from_s == pytest.approx(4.4, abs=0.1)


@pytest.mark.parametrize(
    ("level", "length", "likeness", "reason", "words"),
    [
        (1.5, 1.0, 0.9, "level", named("cycle_use.current-above-usual-cycle", per_cent="50 %")),
        (0.8, 1.1, 0.9, "level", named("cycle_use.current-below-usual-cycle", per_cent="20 %")),
        (1.0, 1.3, 0.9, "length", named("cycle_use.takes-longer-usual-one", per_cent="30 %")),
        (1.0, 0.7, 0.9, "length", named("cycle_use.takes-less-usual-one", per_cent="30 %")),
        (1.1, 1.1, 0.2, "shape", named("cycle_use.humps-unlike-usual-cycle", likeness="0.20")),
    ],
)
def test_the_reason_is_what_sets_a_cycle_apart_most(level, length, likeness, reason, words):
    compared = CycleDeviations(np.array([level]), np.array([length]), np.array([likeness]))
    assert not compared.alike[0]
    found, sentence = compared.why(0)
    assert found == reason
    assert says(str(sentence), words)


def _uses(levels, keep, *, collapsed=False, start_seen=True):
    count = len(levels)
    compared = CycleDeviations(np.array(levels), np.ones(count), np.ones(count))
    edges_s = np.arange(count + 1) / 2
    kept = np.array(keep, dtype=np.int64)
    found = cycle_uses(edges_s, kept, compared, collapsed=collapsed, start_seen=start_seen)
    return [use.reason for use in found]


def test_cycles_alike_beside_the_longest_run_are_parted_from_it():
    assert _uses([1.0, 1.3, 1.0, 1.0, 1.0], [2, 3, 4]) == ["apart", "level", None, None, None]


def test_run_up_needs_a_start_in_the_recording():
    assert _uses([1.3, 1.0, 1.0, 1.0], [1, 2, 3]) == ["run-up", None, None, None]
    assert _uses([1.3, 1.0, 1.0, 1.0], [1, 2, 3], start_seen=False)[0] == "level"


def test_what_follows_a_collapse_is_told_as_such():
    reasons = _uses([1.0, 1.0, 1.0, 0.5, 0.3], [0, 1, 2], collapsed=True)
    assert reasons == [None, None, None, "started", "started"]


def _span(**changes) -> CrankSpan:
    values = {
        "from_s": 1.0,
        "to_s": 5.0,
        "start_seen": True,
        "end_seen": True,
        "rest_a": 0.0,
        "inrush_peak_a": 400.0,
        "level_a": 150.0,
        **changes,
    }
    return CrankSpan(**values)


def test_neighbours_left_out_for_one_reason_are_one_span():
    cycles = (
        CycleUse(1.35, 2.0, "level", say("its current is 20 % above the usual cycle's")),
        CycleUse(2.0, 2.5, "level", say("its current is 15 % above the usual cycle's")),
        CycleUse(2.5, 3.0),
        CycleUse(3.0, 3.5, "hand", say("left out by hand")),
        CycleUse(3.5, 4.0),
    )
    spans = excluded_spans(cycles, _span(), (0.0, 6.0), 4.0)
    assert [(s.from_s, s.to_s, s.reason) for s in spans] == [
        (0.0, 1.0, "before"),
        (1.0, 1.35, "run-up"),
        (1.35, 2.5, "level"),
        (3.0, 3.5, "hand"),
        (4.0, 5.0, "cut"),
        (5.0, 6.0, "after"),
    ]
    assert str(spans[2].words).startswith("2 engine cycles: ")
    assert says_only(spans[3].words, "cycle_use.left-out-hand")


def test_a_starter_that_runs_on_unloaded_is_no_rest():
    spans = excluded_spans((), _span(after_a=40.0), (0.0, 6.0), None)
    assert [s.reason for s in spans] == ["before", "run-up", "started"]


def test_nothing_is_told_of_the_outside_of_a_recording_in_mid_crank():
    span = _span(from_s=0.0, start_seen=False, end_seen=False)
    found = all_cycle_uses((CycleUse(0.02, 2.5), CycleUse(2.5, 4.98)), span, (0.0, 5.0), 4.98)
    assert found.excluded == ()
    assert [c.used for c in found.cycles] == [True, True]
