"""What follows from a person's hand: a stretch of a crank chosen, cycles left out."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.core.judged_by_hand import (
    LOW_THREE,
    by_humps,
    codes_of,
    cranked,
    relative_of,
    simulated_from,
    stops_of,
)
from tests.traces.core.synthetic import Crank
from tests.wording import says, says_only
from traces.core.judging.pipeline import analyse
from traces.core.setup.manual_edits import ManualEdits
from traces.core.waveform.waveform import Channel, Waveform
from traces.simulator.recorder import Flaws
from traces.simulator.scenarios import draw

# --- the stretch judged ------------------------------------------------------


def _in_a_row(*cranks: Crank, rest_s: float = 0.0) -> Waveform:
    """Join recordings, with a rest between them where wanted."""
    parts: dict[str, list[np.ndarray]] = {"clamp": [], "coil": []}
    rate_hz = cranks[0].rate_hz
    for crank in cranks:
        for channel in crank.waveform().channels:
            parts[channel.name].append(channel.values)
        for values in parts.values():
            values.append(np.zeros(round(rest_s * rate_hz), dtype=np.float32))
    channels = tuple(Channel(name, "V", np.concatenate(v)) for name, v in parts.items())
    return Waveform(0.0, rate_hz, channels)


LOW_TWO = replace(LOW_THREE, strengths=(1.0, 0.5, 1.0, 1.0))


@pytest.mark.parametrize(
    ("span_s", "low"), [((0.0, 5.0), (3,)), ((0.5, 4.5), (3,)), ((5.9, 10.1), (2,))]
)
def test_only_the_stretch_chosen_is_judged(span_s: tuple[float, float], low) -> None:
    # the second half is another engine at the same pace: a cycle is 0.571 s, 9 make 5.143 s
    long = 9 * 120.0 / LOW_THREE.rpm
    parts = [replace(c, duration_s=long) for c in (LOW_THREE, LOW_TWO)]
    report = by_humps(_in_a_row(*parts), LOW_THREE.setup(hand=ManualEdits(span_s=span_s)))
    assert report.candidates == (low,), [f.message for f in report.findings]
    assert report.judged_from_s is not None
    assert report.judged_to_s is not None
    assert span_s[0] <= report.judged_from_s < report.judged_to_s <= span_s[1]
    assert all(span_s[0] <= h.at_s <= span_s[1] for h in report.humps)
    told = next(f for f in report.findings if f.code == "hand-span")
    assert (told.from_s, told.to_s) == span_s


@pytest.mark.parametrize(("span_s", "low"), [((0.0, 4.0), (3,)), ((5.0, 9.0), (2,))])
def test_the_crank_of_the_stretch_is_taken(span_s, low) -> None:
    waveform = _in_a_row(LOW_THREE, LOW_TWO, rest_s=1.0)
    report = by_humps(waveform, LOW_THREE.setup(hand=ManualEdits(span_s=span_s)))
    assert report.candidates == (low,), [f.message for f in report.findings]


@pytest.mark.parametrize("span_s", [(1.0, 2.2), (1.0, 1.2), (80.0, 90.0), (-9.0, -2.0)])
def test_too_little_chosen_is_not_judged(span_s: tuple[float, float]) -> None:
    report = by_humps(LOW_THREE.waveform(), LOW_THREE.setup(hand=ManualEdits(span_s=span_s)))
    assert report.verdict == "not judged"
    stop = next(f for f in report.findings if f.severity == "stop")
    assert stop.code == "too-short"
    assert "by hand" in stop.message
    assert "stretch" in stop.remedy


def test_the_inrush_outside_the_stretch_is_still_known() -> None:
    simulated = cranked("I4", "a")
    setup = simulated.scenario.setup()
    whole = analyse(simulated.waveform, setup)
    from_s, to_s = simulated.truth.steady_s
    report = analyse(
        simulated.waveform, replace(setup, hand=ManualEdits(span_s=(from_s + 0.5, to_s)))
    )
    assert report.candidates == (simulated.truth.low,)
    assert report.cycles < whole.cycles
    assert report.starter == whole.starter
    assert relative_of(report) == pytest.approx(relative_of(whole), abs=0.05)


def test_a_stretch_before_the_engine_ran_does_not_hide_that_it_did() -> None:
    scenario = draw(612, layout="I4", fault="one", flaw="none", sync="720")
    caught = replace(scenario, crank_s=4.5, flaws=replace(Flaws(), catches_after_s=2.6))
    simulated = simulated_from(caught)
    plain = analyse(simulated.waveform, caught.setup())
    assert "engine-caught" in codes_of(plain)
    before = ManualEdits(span_s=(0.0, caught.before_s + 2.4))
    report = analyse(simulated.waveform, replace(caught.setup(), hand=before))
    assert "engine-caught" in codes_of(report)


def test_a_flaw_outside_the_stretch_is_mended_by_it() -> None:
    waveform = LOW_THREE.waveform()
    clamp, pick_up = waveform.channels
    values = clamp.values.copy()
    # another current beside it drives the clamp to its end in the first second
    values[:2000] = np.minimum(1.4 * values[:2000], 2.6)
    waveform = replace(waveform, channels=(Channel("clamp", "V", values), pick_up))
    assert "clipped" in stops_of(by_humps(waveform, LOW_THREE.setup()))
    report = by_humps(waveform, LOW_THREE.setup(hand=ManualEdits(span_s=(1.1, 4.0))))
    assert report.candidates == ((3,),)


@pytest.mark.parametrize(
    ("hole_s", "stops"),
    [
        ((0.4, 0.6), set()),
        ((0.95, 1.15), {"gaps"}),
        ((2.0, 2.1), {"gaps"}),
        ((3.45, 3.6), {"gaps"}),
    ],
)
def test_only_gaps_in_the_stretch_count(hole_s: tuple[float, float], stops: set[str]) -> None:
    waveform = LOW_THREE.waveform()
    clamp, pick_up = waveform.channels
    values = clamp.values.copy()
    first, last = (round(t * LOW_THREE.rate_hz) for t in hole_s)
    values[first:last] = np.nan
    waveform = replace(waveform, channels=(Channel("clamp", "V", values), pick_up))
    assert stops_of(by_humps(waveform, LOW_THREE.setup())) == {"gaps"}
    report = by_humps(waveform, LOW_THREE.setup(hand=ManualEdits(span_s=(1.1, 3.5))))
    assert stops_of(report) == stops
    if not stops:
        assert report.candidates == ((3,),)


# --- cycles left out ---------------------------------------------------------


def _with_a_bad_cycle(from_s: float, to_s: float) -> Waveform:
    """One stretch in which cylinder 3 is well and 4 is not."""
    well = LOW_THREE.waveform()
    bad = replace(LOW_THREE, strengths=(1.0, 1.0, 0.95, 0.6)).waveform()
    first, last = (round(t * LOW_THREE.rate_hz) for t in (from_s, to_s))
    values = well.channels[0].values.copy()
    values[first:last] = bad.channels[0].values[first:last]
    return replace(well, channels=(Channel("clamp", "V", values), well.channels[1]))


@pytest.mark.parametrize("method", ["humps", "twin"])
def test_a_cycle_left_out_is_in_no_figure(method: str) -> None:
    if method == "humps":
        waveform, setup, judge = LOW_THREE.waveform(), LOW_THREE.setup(), by_humps
    else:
        simulated = cranked("I4", "a")
        waveform, setup, judge = simulated.waveform, simulated.scenario.setup(), analyse
    plain = judge(waveform, setup)
    cycle_s = 120.0 / (plain.cranking_rpm or 1.0)
    middle_s = ((plain.judged_from_s or 0) + (plain.judged_to_s or 0)) / 2
    span_s = (middle_s - cycle_s / 2, middle_s + cycle_s / 2)
    report = judge(waveform, replace(setup, hand=ManualEdits(left_out_s=(span_s,))))
    # cycles are cut elsewhere than the stretch, so that it touches two
    assert plain.cycles - 2 <= report.cycles < plain.cycles
    assert all(len(e.per_cycle) == report.cycles for e in report.estimates)
    assert report.candidates == plain.candidates
    assert not any(span_s[0] < h.at_s < span_s[1] for h in report.humps)
    told = next(f for f in report.findings if f.code == "hand-left-out")
    assert (told.severity, told.from_s, told.to_s) == ("warn", *span_s)


def test_a_bad_cycle_left_out_no_longer_counts() -> None:
    span_s = (1.6, 2.17)
    waveform = _with_a_bad_cycle(*span_s)
    clean = by_humps(LOW_THREE.waveform(), LOW_THREE.setup())
    hand = ManualEdits(left_out_s=(span_s,))
    report = by_humps(waveform, LOW_THREE.setup(hand=hand))
    assert report.candidates == ((3,),)
    assert relative_of(report) == pytest.approx(relative_of(clean), abs=0.02)
    third = next(e for e in report.estimates if e.cylinder == 3)
    assert max(third.per_cycle) < 0.7


def test_cycles_on_both_sides_of_one_left_out_stay() -> None:
    crank = replace(LOW_THREE, duration_s=6.0)
    plain = by_humps(crank.waveform(), crank.setup())
    report = by_humps(crank.waveform(), crank.setup(hand=ManualEdits(left_out_s=((2.9, 3.1),))))
    assert plain.judged_from_s == report.judged_from_s
    assert plain.judged_to_s == report.judged_to_s


def test_with_nearly_all_left_out_nothing_is_judged() -> None:
    hand = ManualEdits(left_out_s=((0.0, 2.9),))
    report = by_humps(LOW_THREE.waveform(), LOW_THREE.setup(hand=hand))
    stop = next(f for f in report.findings if f.severity == "stop")
    assert stop.code == "too-short"
    assert "by hand" in stop.message
    everything = ManualEdits(left_out_s=((0.0, 9.0),))
    report = by_humps(LOW_THREE.waveform(), LOW_THREE.setup(hand=everything))
    assert report.verdict == "not judged"


def test_a_stretch_left_out_where_nothing_is_judged_is_said() -> None:
    hand = ManualEdits(left_out_s=((50.0, 51.0),))
    report = by_humps(LOW_THREE.waveform(), LOW_THREE.setup(hand=hand))
    assert report.candidates == ((3,),)
    assert any(
        says(f.message, "traces/by_hand:hand-left-out-idle.message") for f in report.findings
    )


def test_the_report_tells_what_was_left_out_by_hand() -> None:
    simulated = cranked("I4", "a")
    waveform, setup = simulated.waveform, simulated.scenario.setup()
    plain = analyse(waveform, setup)
    used = [c for c in plain.engine_cycles if c.used]
    gone_s = (used[2].from_s, used[2].to_s)
    chosen_s = (used[0].from_s - 0.01, used[-1].to_s - 0.1)
    hand = ManualEdits(span_s=chosen_s, left_out_s=(gone_s,))
    report = analyse(waveform, replace(setup, hand=hand))
    gone = [c for c in report.engine_cycles if c.reason == "hand"]
    assert gone
    assert all(says_only(c.words, "cycle_use.left-out-hand") and not c.used for c in gone)
    assert sum(c.used for c in report.engine_cycles) == len(report.estimates[0].per_cycle)
    outside = [s for s in report.excluded if "outside" in str(s.words)]
    assert [s.to_s for s in outside][:1] == [pytest.approx(chosen_s[0], abs=1e-4)]
    assert [s.from_s for s in outside][1:] == [pytest.approx(chosen_s[1], abs=1e-4)]
    assert {s.reason for s in outside} == {"hand"}
