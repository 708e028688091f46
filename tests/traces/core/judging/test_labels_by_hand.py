"""What follows from a person's hand: labels by a mark, and by moving them."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.core.judged_by_hand import (
    FAMILIES,
    LAYOUTS,
    LOW_THREE,
    by_humps,
    codes_of,
    cranked,
    recorded,
    relative_of,
    stops_of,
)
from tests.traces.core.synthetic import Crank
from tests.wording import says, wording
from traces.core.judging.pipeline import analyse
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.core.setup.manual_edits import ManualEdits, ManualMarks
from traces.core.waveform.waveform import Channel
from traces.simulator.scenario import Family
from traces.simulator.simulate import Simulated


def _event_s(simulated: Simulated) -> float:
    events_s, (from_s, to_s) = simulated.truth.sync_s, simulated.truth.steady_s
    inside = events_s[(events_s > from_s + 0.4) & (events_s < to_s - 0.1)]
    return float(inside[inside.size // 2])


def _marked(simulated: Simulated, *, late_s: float = 0.0, **changes) -> AnalysisSetup:
    setup = simulated.scenario.setup()
    assert setup.sync
    marks = ManualMarks((_event_s(simulated) + late_s,), setup.sync.cylinder, setup.sync.event)
    return replace(setup, sync=None, hand=ManualEdits(marks=replace(marks, **changes)))


@pytest.mark.parametrize(
    ("layout", "family", "late_s"),
    [
        # a two takes as long to judge as ten eights
        *((layout, family, 0.0) for layout in LAYOUTS for family in FAMILIES if layout != "V2"),
        # a hand is seldom exact; what it does does not depend on the family
        *(("I4", "a", late_s) for late_s in (0.008, -0.008)),
        *(("V8", "b", late_s) for late_s in (0.008, -0.008)),
        ("V2", "a", -0.008),
    ],
)
def test_one_event_by_hand_names_the_cylinder(layout: str, family: Family, late_s: float) -> None:
    simulated = cranked(layout, family)
    report = analyse(simulated.waveform, _marked(simulated, late_s=late_s))
    assert report.candidates == (simulated.truth.low,), [f.message for f in report.findings]
    assert report.cylinders_known
    told = next(f for f in report.findings if f.code == "hand-mark")
    assert told.severity == "warn"
    assert "Labelled by hand" in told.message
    assert "marked by hand" in str(report.sync_note)
    assert "sync-missing" not in codes_of(report)
    # only the mark is drawn, nothing that nobody saw
    assert report.sync_events_s == pytest.approx([_event_s(simulated) + late_s], abs=1e-5)
    # how low is as without it; a little moves, for a mean cycle begins elsewhere
    assert relative_of(report) == pytest.approx(relative_of(recorded(layout, family)), abs=0.09)


def test_a_mark_of_the_next_cylinder_moves_the_labels() -> None:
    simulated = cranked("I4", "a")
    setup = _marked(simulated)
    assert setup.hand.marks
    following = setup.firing_order.starting_at(setup.hand.marks.cylinder).sequence[1]
    wrong = replace(setup, hand=ManualEdits(marks=replace(setup.hand.marks, cylinder=following)))
    order = setup.firing_order.starting_at(simulated.truth.low[0]).sequence
    assert analyse(simulated.waveform, wrong).candidates == ((order[1],),)


@pytest.mark.parametrize(
    ("layout", "share"), [("I4", -0.45), ("I6", 0.45), ("V8", -0.45), ("V8", 0.45)]
)
def test_a_mark_between_two_compressions_is_doubted(layout: str, share: float) -> None:
    simulated = cranked(layout, "a")
    setup = _marked(simulated)
    gap_s = 120.0 / simulated.truth.rpm / len(setup.firing_order)
    report = analyse(simulated.waveform, _marked(simulated, late_s=share * gap_s))
    # the least of it; the fit may refuse as well
    assert "which-cylinder" in codes_of(report) or report.verdict == "not judged"


def test_a_mark_beside_its_hump_is_refused_by_the_humps_too() -> None:
    # humps of this trace stand 12 degrees before their event, 180 apart
    late_s = 80.0 / (6 * LOW_THREE.rpm)
    event_s = (720.0 - 77.0) / (6 * LOW_THREE.rpm) + 120.0 / LOW_THREE.rpm
    marks = ManualEdits(marks=ManualMarks((event_s + late_s,), 1))
    report = by_humps(LOW_THREE.waveform(), replace(LOW_THREE.setup(sync=None), hand=marks))
    assert "sync-mismatch" in stops_of(report)
    assert any(says(f.message, "traces/by_hand:hand-mismatch.message") for f in report.findings)


def test_a_mark_every_turn_leaves_two() -> None:
    simulated = cranked("I4", "a")
    setup = _marked(simulated, every_deg=360)
    report = analyse(simulated.waveform, setup)
    low = simulated.truth.low[0]
    assert set(report.candidates) == {(low,), (setup.firing_order.companion_of(low),)}
    assert {"hand-mark", "sync-every-360"} <= codes_of(report)


def test_more_marks_agree_or_are_refused() -> None:
    crank = replace(LOW_THREE, duration_s=5.0)
    cycle_s = 120.0 / crank.rpm
    first_s = (720.0 - 77.0) / (6 * crank.rpm) + cycle_s
    setup = crank.setup(sync=None)
    marks = ManualMarks((first_s, first_s + cycle_s + 0.006, first_s + 3 * cycle_s - 0.006), 1)
    report = by_humps(crank.waveform(), replace(setup, hand=ManualEdits(marks=marks)))
    assert report.candidates == ((3,),)
    apart = ManualMarks((first_s, first_s + 1.25 * cycle_s), 1)
    report = by_humps(crank.waveform(), replace(setup, hand=ManualEdits(marks=apart)))
    assert stops_of(report) == {"sync-mismatch"}


def test_a_mark_where_nothing_is_judged_says_nothing() -> None:
    setup = replace(LOW_THREE.setup(sync=None), hand=ManualEdits(marks=ManualMarks((99.0,), 1)))
    report = by_humps(LOW_THREE.waveform(), setup)
    assert not report.cylinders_known
    assert {"hand-mark", "sync-missing"} <= codes_of(report)
    assert any("outside" in f.message for f in report.findings)


def test_a_recorded_sync_comes_before_a_mark() -> None:
    setup = replace(LOW_THREE.setup(), hand=ManualEdits(marks=ManualMarks((1.0,), 4)))
    report = by_humps(LOW_THREE.waveform(), setup)
    assert report.candidates == ((3,),)
    assert any("is not used" in f.message for f in report.findings)


def test_a_mark_settles_a_sync_that_marks_two() -> None:
    crank = replace(LOW_THREE, sync_every=360)
    assert len(by_humps(crank.waveform(), crank.setup()).candidates) == 2
    event_s = (720.0 - 77.0) / (6 * crank.rpm) + 120.0 / crank.rpm
    marks = ManualEdits(marks=ManualMarks((event_s,), 1, "tdc"))
    report = by_humps(crank.waveform(), replace(crank.setup(), hand=marks))
    assert report.candidates == ((3,),)
    assert "hand-mark" in codes_of(report)


def test_a_mark_mends_no_sync_that_contradicts_the_engine() -> None:
    waveform = LOW_THREE.waveform()
    clamp, pick_up = waveform.channels
    noise = np.random.default_rng(3)
    at = np.sort(noise.choice(pick_up.values.size, 40, replace=False))
    values = pick_up.values * 0
    values[at] = 2.0
    waveform = replace(waveform, channels=(clamp, Channel("coil", "V", values)))
    plain = by_humps(waveform, LOW_THREE.setup())
    marked = replace(LOW_THREE.setup(), hand=ManualEdits(marks=ManualMarks((1.0,), 1)))
    assert stops_of(plain)
    assert stops_of(by_humps(waveform, marked)) == stops_of(plain)


def test_a_wrong_number_of_cylinders_is_seen_all_the_same() -> None:
    simulated = cranked("I6", "a")
    four = replace(simulated.scenario.setup(), firing_order=Crank().firing, sync=None)
    marked = replace(four, hand=ManualEdits(marks=ManualMarks((_event_s(simulated),), 1)))
    for setup in (four, marked):
        report = analyse(simulated.waveform, setup)
        # with a weak cylinder in six, no two cycles of four are alike
        assert stops_of(report) == {"unsteady"}
        told = next(f for f in report.findings if f.code == "unsteady")
        assert "number of cylinders" in told.remedy


# --- labels moved ------------------------------------------------------------


@pytest.mark.parametrize("layout", ["I4", "V8"])
def test_a_sync_entered_for_another_cylinder_is_mended(layout: str) -> None:
    simulated = cranked(layout, "a")
    setup = simulated.scenario.setup()
    assert setup.sync
    order = setup.firing_order.starting_at(setup.sync.cylinder).sequence
    wrong = replace(setup, sync=replace(setup.sync, cylinder=order[-1]))
    before = analyse(simulated.waveform, wrong)
    assert before.candidates != (simulated.truth.low,)
    report = analyse(simulated.waveform, replace(wrong, hand=ManualEdits(shift=1)))
    assert report.candidates == (simulated.truth.low,)
    assert relative_of(report) == relative_of(before)
    assert [(e.low, e.high) for e in report.estimates] == [
        (e.low, e.high) for e in before.estimates
    ]
    assert [h.at_s for h in report.humps] == [h.at_s for h in before.humps]
    told = next(f for f in report.findings if f.code == "hand-shift")
    assert told.severity == "warn"
    assert says(told.message, "manual_edits.place", count=1)
    assert says(
        report.sync_note,
        "manual_edits.labels-moved-hand",
        places=wording("manual_edits.place", count=1),
    )


def test_a_whole_round_of_the_labels_is_none() -> None:
    waveform, setup = LOW_THREE.waveform(), LOW_THREE.setup()
    plain = by_humps(waveform, setup)
    assert by_humps(waveform, replace(setup, hand=ManualEdits(shift=4))) == plain
    on = by_humps(waveform, replace(setup, hand=ManualEdits(shift=3)))
    back = by_humps(waveform, replace(setup, hand=ManualEdits(shift=-1)))
    assert on.candidates == back.candidates == ((1,),)


def test_an_uneven_engine_has_to_bear_out_moved_labels() -> None:
    simulated = cranked("V2", "a")
    setup = simulated.scenario.setup()
    assert setup.sync
    other = 3 - setup.sync.cylinder
    wrong = replace(setup, sync=replace(setup.sync, cylinder=other))
    mended = analyse(simulated.waveform, replace(wrong, hand=ManualEdits(shift=1)))
    assert mended.candidates == (simulated.truth.low,)


def test_labels_that_nothing_ties_cannot_be_moved() -> None:
    setup = LOW_THREE.setup(sync=None)
    plain = by_humps(LOW_THREE.waveform(), setup)
    moved = by_humps(LOW_THREE.waveform(), replace(setup, hand=ManualEdits(shift=1)))
    assert set(moved.candidates) == set(plain.candidates)
    assert any("nothing ties them" in f.message for f in moved.findings)
