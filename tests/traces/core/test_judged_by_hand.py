"""What follows from a person's hand: labels by a mark, by moving; parts of a crank chosen."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.core.synthetic import Crank
from traces.core.hand import Hand, HandMarks
from traces.core.humps import HumpMethod
from traces.core.pipeline import analyse
from traces.core.results import Report
from traces.core.setup import AnalysisSetup
from traces.core.simulator.engine import Flaws
from traces.core.simulator.scenario import Family, Scenario
from traces.core.simulator.scenarios import draw
from traces.core.simulator.simulate import Simulated, simulate_many
from traces.core.waveform import Channel, Waveform

LAYOUTS = ("I4", "I6", "V8", "V2")
FAMILIES: tuple[Family, ...] = ("a", "b")
LOW_THREE = Crank(strengths=(1.0, 1.0, 0.5, 1.0))


def _simulated(scenario: Scenario) -> Simulated:
    return next(iter(simulate_many([scenario])))


@pytest.fixture(scope="module")
def cranked() -> dict[tuple[str, Family], Simulated]:
    """Engines with one low cylinder and a good sync, whose events are the truth."""
    keys = [(layout, family) for layout in LAYOUTS for family in FAMILIES]
    return {
        key: _simulated(draw(610, layout=key[0], fault="one", family=key[1], sync="720"))
        for key in keys
    }


def _event_s(simulated: Simulated) -> float:
    events_s, (from_s, to_s) = simulated.truth.sync_s, simulated.truth.steady_s
    inside = events_s[(events_s > from_s + 0.4) & (events_s < to_s - 0.1)]
    return float(inside[inside.size // 2])


def _marked(simulated: Simulated, *, late_s: float = 0.0, **changes) -> AnalysisSetup:
    setup = simulated.scenario.setup()
    assert setup.sync
    marks = HandMarks((_event_s(simulated) + late_s,), setup.sync.cylinder, setup.sync.event)
    return replace(setup, sync=None, hand=Hand(marks=replace(marks, **changes)))


def _codes(report: Report) -> set[str]:
    return {f.code for f in report.findings}


def _stops(report: Report) -> set[str]:
    return {f.code for f in report.findings if f.severity == "stop"}


def _humps(waveform: Waveform, setup: AnalysisSetup) -> Report:
    return analyse(waveform, setup, HumpMethod())


def _relative(report: Report) -> list[float]:
    return [e.relative for e in report.estimates]


@pytest.mark.parametrize("late_s", [0.0, 0.008, -0.008])
@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("layout", LAYOUTS)
def test_one_event_by_hand_names_the_cylinder(
    cranked, layout: str, family: Family, late_s: float
) -> None:
    simulated = cranked[layout, family]
    report = analyse(simulated.waveform, _marked(simulated, late_s=late_s))
    assert report.candidates == (simulated.truth.low,), [f.message for f in report.findings]
    assert report.cylinders_known
    told = next(f for f in report.findings if f.code == "hand-mark")
    assert told.severity == "warn"
    assert "Labelled by hand" in told.message
    assert "marked by hand" in report.sync_note
    assert "sync-missing" not in _codes(report)
    # only the mark is drawn, nothing that nobody saw
    assert report.sync_events_s == pytest.approx([_event_s(simulated) + late_s], abs=1e-5)
    # how low is as without it; a little moves, for a mean cycle begins elsewhere
    recorded = analyse(simulated.waveform, simulated.scenario.setup())
    assert _relative(report) == pytest.approx(_relative(recorded), abs=0.09)


def test_a_mark_of_the_next_cylinder_moves_the_labels(cranked) -> None:
    simulated = cranked["I4", "a"]
    setup = _marked(simulated)
    assert setup.hand.marks
    following = setup.firing_order.starting_at(setup.hand.marks.cylinder).sequence[1]
    wrong = replace(setup, hand=Hand(marks=replace(setup.hand.marks, cylinder=following)))
    order = setup.firing_order.starting_at(simulated.truth.low[0]).sequence
    assert analyse(simulated.waveform, wrong).candidates == ((order[1],),)


@pytest.mark.parametrize("share", [-0.45, 0.45])
@pytest.mark.parametrize("layout", ["I4", "I6", "V8"])
def test_a_mark_between_two_compressions_is_doubted(cranked, layout: str, share: float) -> None:
    simulated = cranked[layout, "a"]
    setup = _marked(simulated)
    gap_s = 120.0 / simulated.truth.rpm / len(setup.firing_order)
    report = analyse(simulated.waveform, _marked(simulated, late_s=share * gap_s))
    # the least of it; the fit may refuse as well
    assert "which-cylinder" in _codes(report) or report.verdict == "not judged"


def test_a_mark_beside_its_hump_is_refused_by_the_humps_too() -> None:
    # humps of this trace stand 12 degrees before their event, 180 apart
    late_s = 80.0 / (6 * LOW_THREE.rpm)
    event_s = (720.0 - 77.0) / (6 * LOW_THREE.rpm) + 120.0 / LOW_THREE.rpm
    marks = Hand(marks=HandMarks((event_s + late_s,), 1))
    report = _humps(LOW_THREE.waveform(), replace(LOW_THREE.setup(sync=None), hand=marks))
    assert "sync-mismatch" in _stops(report)
    assert any("marked by hand does not fit" in f.message for f in report.findings)


def test_a_mark_every_turn_leaves_two(cranked) -> None:
    simulated = cranked["I4", "a"]
    setup = _marked(simulated, every_deg=360)
    report = analyse(simulated.waveform, setup)
    low = simulated.truth.low[0]
    assert set(report.candidates) == {(low,), (setup.firing_order.companion_of(low),)}
    assert {"hand-mark", "sync-every-360"} <= _codes(report)


def test_more_marks_agree_or_are_refused() -> None:
    crank = replace(LOW_THREE, duration_s=5.0)
    cycle_s = 120.0 / crank.rpm
    first_s = (720.0 - 77.0) / (6 * crank.rpm) + cycle_s
    setup = crank.setup(sync=None)
    marks = HandMarks((first_s, first_s + cycle_s + 0.006, first_s + 3 * cycle_s - 0.006), 1)
    report = _humps(crank.waveform(), replace(setup, hand=Hand(marks=marks)))
    assert report.candidates == ((3,),)
    apart = HandMarks((first_s, first_s + 1.25 * cycle_s), 1)
    report = _humps(crank.waveform(), replace(setup, hand=Hand(marks=apart)))
    assert _stops(report) == {"sync-mismatch"}


def test_a_mark_where_nothing_is_judged_says_nothing() -> None:
    setup = replace(LOW_THREE.setup(sync=None), hand=Hand(marks=HandMarks((99.0,), 1)))
    report = _humps(LOW_THREE.waveform(), setup)
    assert not report.cylinders_known
    assert {"hand-mark", "sync-missing"} <= _codes(report)
    assert any("outside" in f.message for f in report.findings)


def test_a_recorded_sync_comes_before_a_mark() -> None:
    setup = replace(LOW_THREE.setup(), hand=Hand(marks=HandMarks((1.0,), 4)))
    report = _humps(LOW_THREE.waveform(), setup)
    assert report.candidates == ((3,),)
    assert any("is not used" in f.message for f in report.findings)


def test_a_mark_settles_a_sync_that_marks_two() -> None:
    crank = replace(LOW_THREE, sync_every=360)
    assert len(_humps(crank.waveform(), crank.setup()).candidates) == 2
    event_s = (720.0 - 77.0) / (6 * crank.rpm) + 120.0 / crank.rpm
    marks = Hand(marks=HandMarks((event_s,), 1, "tdc"))
    report = _humps(crank.waveform(), replace(crank.setup(), hand=marks))
    assert report.candidates == ((3,),)
    assert "hand-mark" in _codes(report)


def test_a_mark_mends_no_sync_that_contradicts_the_engine() -> None:
    waveform = LOW_THREE.waveform()
    clamp, pick_up = waveform.channels
    noise = np.random.default_rng(3)
    at = np.sort(noise.choice(pick_up.values.size, 40, replace=False))
    values = pick_up.values * 0
    values[at] = 2.0
    waveform = replace(waveform, channels=(clamp, Channel("B", "V", values)))
    plain = _humps(waveform, LOW_THREE.setup())
    marked = replace(LOW_THREE.setup(), hand=Hand(marks=HandMarks((1.0,), 1)))
    assert _stops(plain)
    assert _stops(_humps(waveform, marked)) == _stops(plain)


def test_a_wrong_number_of_cylinders_is_seen_all_the_same() -> None:
    scenario = draw(614, layout="I6", fault="one", sync="720")
    simulated = _simulated(replace(scenario, crank_s=6.0))
    four = replace(simulated.scenario.setup(), firing_order=Crank().firing, sync=None)
    assert "hump-mismatch" in _stops(analyse(simulated.waveform, four))
    marks = HandMarks((_event_s(simulated),), 1)
    marked = replace(four, hand=Hand(marks=marks))
    assert "hump-mismatch" in _stops(analyse(simulated.waveform, marked))


# --- labels moved ------------------------------------------------------------


@pytest.mark.parametrize("layout", ["I4", "V8"])
def test_a_sync_entered_for_another_cylinder_is_mended(cranked, layout: str) -> None:
    simulated = cranked[layout, "a"]
    setup = simulated.scenario.setup()
    assert setup.sync
    order = setup.firing_order.starting_at(setup.sync.cylinder).sequence
    wrong = replace(setup, sync=replace(setup.sync, cylinder=order[-1]))
    before = analyse(simulated.waveform, wrong)
    assert before.candidates != (simulated.truth.low,)
    report = analyse(simulated.waveform, replace(wrong, hand=Hand(shift=1)))
    assert report.candidates == (simulated.truth.low,)
    assert _relative(report) == _relative(before)
    assert [(e.low, e.high) for e in report.estimates] == [
        (e.low, e.high) for e in before.estimates
    ]
    assert [h.at_s for h in report.humps] == [h.at_s for h in before.humps]
    told = next(f for f in report.findings if f.code == "hand-shift")
    assert told.severity == "warn"
    assert "on by 1 place" in told.message
    assert "Labels moved on by 1 place by hand" in report.sync_note


def test_a_whole_round_of_the_labels_is_none() -> None:
    waveform, setup = LOW_THREE.waveform(), LOW_THREE.setup()
    plain = _humps(waveform, setup)
    assert _humps(waveform, replace(setup, hand=Hand(shift=4))) == plain
    on = _humps(waveform, replace(setup, hand=Hand(shift=3)))
    back = _humps(waveform, replace(setup, hand=Hand(shift=-1)))
    assert on.candidates == back.candidates == ((1,),)


def test_an_uneven_engine_has_to_bear_out_moved_labels(cranked) -> None:
    simulated = cranked["V2", "a"]
    setup = simulated.scenario.setup()
    assert setup.sync
    other = 3 - setup.sync.cylinder
    wrong = replace(setup, sync=replace(setup.sync, cylinder=other))
    assert analyse(simulated.waveform, wrong).candidates != (simulated.truth.low,)
    mended = analyse(simulated.waveform, replace(wrong, hand=Hand(shift=1)))
    assert mended.candidates == (simulated.truth.low,)


def test_labels_that_nothing_ties_cannot_be_moved() -> None:
    setup = LOW_THREE.setup(sync=None)
    plain = _humps(LOW_THREE.waveform(), setup)
    moved = _humps(LOW_THREE.waveform(), replace(setup, hand=Hand(shift=1)))
    assert set(moved.candidates) == set(plain.candidates)
    assert any("nothing ties them" in f.message for f in moved.findings)


# --- the stretch judged ------------------------------------------------------


def _in_a_row(*cranks: Crank, rest_s: float = 0.0) -> Waveform:
    """Join recordings, with a rest between them where wanted."""
    parts: dict[str, list[np.ndarray]] = {"A": [], "B": []}
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
    report = _humps(_in_a_row(*parts), LOW_THREE.setup(hand=Hand(span_s=span_s)))
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
    report = _humps(waveform, LOW_THREE.setup(hand=Hand(span_s=span_s)))
    assert report.candidates == (low,), [f.message for f in report.findings]


@pytest.mark.parametrize("span_s", [(1.0, 2.2), (1.0, 1.2), (80.0, 90.0), (-9.0, -2.0)])
def test_too_little_chosen_is_not_judged(span_s: tuple[float, float]) -> None:
    report = _humps(LOW_THREE.waveform(), LOW_THREE.setup(hand=Hand(span_s=span_s)))
    assert report.verdict == "not judged"
    stop = next(f for f in report.findings if f.severity == "stop")
    assert stop.code == "too-short"
    assert "by hand" in stop.message
    assert "stretch" in stop.remedy


def test_the_inrush_outside_the_stretch_is_still_known(cranked) -> None:
    simulated = cranked["I4", "a"]
    setup = simulated.scenario.setup()
    whole = analyse(simulated.waveform, setup)
    from_s, to_s = simulated.truth.steady_s
    report = analyse(simulated.waveform, replace(setup, hand=Hand(span_s=(from_s + 0.5, to_s))))
    assert report.candidates == (simulated.truth.low,)
    assert report.cycles < whole.cycles
    assert report.starter == whole.starter
    assert _relative(report) == pytest.approx(_relative(whole), abs=0.05)


def test_a_stretch_before_the_engine_ran_does_not_hide_that_it_did() -> None:
    scenario = draw(612, layout="I4", fault="one", flaw="none", sync="720")
    caught = replace(scenario, crank_s=4.5, flaws=replace(Flaws(), catches_after_s=2.6))
    simulated = _simulated(caught)
    plain = analyse(simulated.waveform, caught.setup())
    assert "engine-caught" in _codes(plain)
    before = Hand(span_s=(0.0, caught.before_s + 2.4))
    report = analyse(simulated.waveform, replace(caught.setup(), hand=before))
    assert "engine-caught" in _codes(report)


def test_a_flaw_outside_the_stretch_is_mended_by_it() -> None:
    waveform = LOW_THREE.waveform()
    clamp, pick_up = waveform.channels
    values = clamp.values.copy()
    # another current beside it drives the clamp to its end in the first second
    values[:2000] = np.minimum(1.4 * values[:2000], 2.6)
    waveform = replace(waveform, channels=(Channel("A", "V", values), pick_up))
    assert "clipped" in _stops(_humps(waveform, LOW_THREE.setup()))
    report = _humps(waveform, LOW_THREE.setup(hand=Hand(span_s=(1.1, 4.0))))
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
    waveform = replace(waveform, channels=(Channel("A", "V", values), pick_up))
    assert _stops(_humps(waveform, LOW_THREE.setup())) == {"gaps"}
    report = _humps(waveform, LOW_THREE.setup(hand=Hand(span_s=(1.1, 3.5))))
    assert _stops(report) == stops
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
    return replace(well, channels=(Channel("A", "V", values), well.channels[1]))


@pytest.mark.parametrize("method", ["humps", "twin"])
def test_a_cycle_left_out_is_in_no_figure(method: str, cranked) -> None:
    if method == "humps":
        waveform, setup, judge = LOW_THREE.waveform(), LOW_THREE.setup(), _humps
    else:
        simulated = cranked["I4", "a"]
        waveform, setup, judge = simulated.waveform, simulated.scenario.setup(), analyse
    plain = judge(waveform, setup)
    cycle_s = 120.0 / (plain.cranking_rpm or 1.0)
    middle_s = ((plain.judged_from_s or 0) + (plain.judged_to_s or 0)) / 2
    span_s = (middle_s - cycle_s / 2, middle_s + cycle_s / 2)
    report = judge(waveform, replace(setup, hand=Hand(left_out_s=(span_s,))))
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
    clean = _humps(LOW_THREE.waveform(), LOW_THREE.setup())
    hand = Hand(left_out_s=(span_s,))
    report = _humps(waveform, LOW_THREE.setup(hand=hand))
    assert report.candidates == ((3,),)
    assert _relative(report) == pytest.approx(_relative(clean), abs=0.02)
    third = next(e for e in report.estimates if e.cylinder == 3)
    assert max(third.per_cycle) < 0.7


def test_cycles_on_both_sides_of_one_left_out_stay() -> None:
    crank = replace(LOW_THREE, duration_s=6.0)
    plain = _humps(crank.waveform(), crank.setup())
    report = _humps(crank.waveform(), crank.setup(hand=Hand(left_out_s=((2.9, 3.1),))))
    assert plain.judged_from_s == report.judged_from_s
    assert plain.judged_to_s == report.judged_to_s


def test_with_nearly_all_left_out_nothing_is_judged() -> None:
    hand = Hand(left_out_s=((0.0, 2.9),))
    report = _humps(LOW_THREE.waveform(), LOW_THREE.setup(hand=hand))
    stop = next(f for f in report.findings if f.severity == "stop")
    assert stop.code == "too-short"
    assert "by hand" in stop.message
    everything = Hand(left_out_s=((0.0, 9.0),))
    report = _humps(LOW_THREE.waveform(), LOW_THREE.setup(hand=everything))
    assert report.verdict == "not judged"


def test_a_stretch_left_out_where_nothing_is_judged_is_said() -> None:
    hand = Hand(left_out_s=((50.0, 51.0),))
    report = _humps(LOW_THREE.waveform(), LOW_THREE.setup(hand=hand))
    assert report.candidates == ((3,),)
    assert any("None of the stretches" in f.message for f in report.findings)


def test_the_report_tells_what_was_left_out_by_hand(cranked) -> None:
    simulated = cranked["I4", "a"]
    waveform, setup = simulated.waveform, simulated.scenario.setup()
    plain = analyse(waveform, setup)
    used = [c for c in plain.extra["cycles"] if c["used"]]
    gone_s = (used[2]["from_s"], used[2]["to_s"])
    chosen_s = (used[0]["from_s"] - 0.01, used[-1]["to_s"] - 0.1)
    hand = Hand(span_s=chosen_s, left_out_s=(gone_s,))
    report = analyse(waveform, replace(setup, hand=hand))
    gone = [c for c in report.extra["cycles"] if c["reason"] == "hand"]
    assert gone
    assert all(c["words"] == "left out by hand" and not c["used"] for c in gone)
    assert sum(c["used"] for c in report.extra["cycles"]) == len(report.estimates[0].per_cycle)
    outside = [s for s in report.extra["excluded"] if "outside" in s["words"]]
    assert [s["to_s"] for s in outside][:1] == [pytest.approx(chosen_s[0], abs=1e-4)]
    assert [s["from_s"] for s in outside][1:] == [pytest.approx(chosen_s[1], abs=1e-4)]
    assert {s["reason"] for s in outside} == {"hand"}
