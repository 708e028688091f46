"""Two captures on one crank-angle axis: simulated engines whose truth is known."""

from dataclasses import replace

import numpy as np
import pytest

from engines.core.firing import FiringOrder
from tests.traces.core.cranked import crank_together, cranked, simulated
from tests.wording import named, says, says_only, wording
from traces.core.comparison.alignment import GRID_DEG
from traces.core.comparison.comparing import ComparedCapture, CompareError, compare
from traces.core.judging.pipeline import analyse
from traces.core.report.parts import CycleFit
from traces.core.report.results import Report
from traces.core.setup.analysis_setup import AnalysisSetup, SyncSetup
from traces.core.setup.conditions import Conditions
from traces.core.setup.manual_edits import ManualEdits

NOTED = Conditions(fuel_off=True, charger_off=True, throttle="closed", temperature="warm")


def side(
    made: tuple[Report, AnalysisSetup, tuple[int, ...]], name: str = "earlier capture"
) -> ComparedCapture:
    return ComparedCapture(name, made[0], made[1], NOTED)


def laid_beside(first, second):
    return compare(side(first), side(second, "later capture"))


ALIKE = [("I3", 2), ("I4", 2), ("I6", 1), ("V6-odd", 2), ("V8", 2)]
LEAKING = [("I4", 2, 130.0), ("I6", 2, 130.0), ("V6-odd", 0, 0.0), ("V8", 2, 130.0)]


@pytest.fixture(scope="module", autouse=True)
def engines() -> None:
    """Crank what the tests compare, all at once."""
    crank_together(
        *((*engine, "none", later_deg, 720) for engine in ALIKE for later_deg in (0.0, 250.0)),
        *((layout, seed, "none", 0.0, 720) for layout, seed, _ in LEAKING),
        *((layout, seed, "one", later_deg, 720) for layout, seed, later_deg in LEAKING),
        *(("I4", 2, "one", later_deg, 720) for later_deg in (0.0, 250.0)),
        *(("V6-odd", 0, "one", later_deg, 720) for later_deg in (0.0, 250.0)),
        ("I6", 2, "none", 400.0, 720),
        ("I4", 2, "none", 250.0, 360),
    )


@pytest.mark.parametrize(("layout", "seed"), ALIKE)
def test_the_same_engine_lies_over_itself_wherever_the_recording_begins(layout, seed):
    found = laid_beside(cranked(layout, seed), cranked(layout, seed, later_deg=250))
    curves = found.curves
    assert curves is not None
    assert curves.unit == "A"
    level_a, swing_a = curves.first.mean(), np.ptp(curves.first)
    rms_a = np.sqrt(np.mean((curves.first - curves.second) ** 2))
    assert rms_a < 0.03 * level_a
    assert rms_a < 0.05 * swing_a
    assert found.laid.by == "cylinder"
    assert not found.laid.better_by
    assert [r.told_apart for r in found.rows] == [False] * len(found.rows)


@pytest.mark.parametrize(("layout", "seed", "later_deg"), LEAKING)
def test_a_leak_shows_at_its_own_cylinder_and_nowhere_else(layout, seed, later_deg):
    sound, leaking = cranked(layout, seed), cranked(layout, seed, "one", later_deg)
    found = laid_beside(sound, leaking)
    (low,) = leaking[2]
    (row,) = found.changed
    assert row.cylinder == low
    assert row.change < -0.1
    curves = found.curves
    assert curves is not None
    lost = (curves.first / curves.first.mean()) - (curves.second / curves.second.mean())
    at_deg = GRID_DEG[int(np.argmax(lost))]
    ahead_deg = (row.tdc_deg - at_deg) % 720
    # the load of a compression peaks some 20 degrees before its top dead centre
    assert ahead_deg < 45 or ahead_deg > 700


@pytest.mark.parametrize(("layout", "seed"), [("I4", 2), ("I6", 1), ("V6-odd", 2)])
def test_the_axis_is_the_crank_as_it_really_turned(layout, seed):
    made = simulated(layout, seed)
    order = made.scenario.engine.firing_order
    track, (from_s, to_s) = made.truth.track, made.truth.steady_s
    inside = (track.time_s > from_s) & (track.time_s < to_s)
    true_deg = np.rad2deg(track.angle_rad[inside]) - order.angle_of(1)
    cycles = np.arange(np.floor(true_deg[0] / 720) + 1, np.floor(true_deg[-1] / 720))
    true_a = np.mean(
        [np.interp(GRID_DEG + 720 * k, true_deg, track.cable_a[inside]) for k in cycles], axis=0
    )
    found = laid_beside(cranked(layout, seed), cranked(layout, seed))
    assert found.rows[0].cylinder == 1
    assert found.curves is not None
    turned_deg = np.arange(-12.0, 12.5, 0.5)
    off_a = [
        np.interp(GRID_DEG + deg, GRID_DEG, found.curves.first, period=720) - true_a
        for deg in turned_deg
    ]
    rms_a = np.sqrt(np.mean(np.square(off_a), axis=1))
    # its shape, and where top dead centre is: the fit is off by 3 degrees, and 5 about that
    assert rms_a.min() < 0.03 * np.ptp(true_a)
    assert abs(turned_deg[int(np.argmin(rms_a))]) < 10


def test_without_a_sync_a_sound_engine_could_lie_any_way_round():
    found = laid_beside(cranked("I6", 2), cranked("I6", 2, later_deg=400, every=None))
    assert found.laid.by == "likeness"
    assert not found.laid.is_settled
    assert {r.told_apart for r in found.rows} == {None}
    assert "is not settled" in found.laid_words
    assert found.changed == ()


@pytest.mark.parametrize("unknown", ["first", "second"])
def test_a_low_cylinder_tells_how_one_without_a_sync_is_turned(unknown):
    known = cranked("I4", 2, "one")
    free = cranked("I4", 2, "one", later_deg=250, every=None)
    found = laid_beside(free, known) if unknown == "first" else laid_beside(known, free)
    assert found.laid.by == "likeness"
    assert found.laid.is_settled
    (low,) = known[2]
    row = next(r for r in found.rows if r.cylinder == low)
    assert row.first.call == row.second.call == "suspect"
    assert abs(row.change) < 0.1
    who = "earlier capture" if unknown == "first" else "later capture"
    assert says(found.laid_words, "comparing.does-not-know-cylinders", unknown=who)
    assert "No other turn" in found.laid_words


def test_when_neither_knows_places_count_from_the_first():
    one = cranked("I4", 2, "one", every=None)
    other = cranked("I4", 2, "one", later_deg=250, every=None)
    found = laid_beside(one, other)
    assert [r.cylinder for r in found.rows] == [None] * 4
    assert [r.name for r in found.rows] == ["A", "B", "C", "D"]
    assert found.laid.is_settled
    low = [r for r in found.rows if r.first.call == "suspect"]
    assert [r.second.call for r in low] == ["suspect"]
    assert says(found.laid_words, "comparing.neither-knows-cylinders")


def test_an_event_every_turn_leaves_two_ways_for_a_sound_engine():
    found = laid_beside(cranked("I4", 2), cranked("I4", 2, later_deg=250, every=360))
    assert found.laid.others == (2,)
    assert says(
        found.laid_words,
        "comparing.fits-nearly-well-not",
        told=wording("comparing.turned-firing", steps=2, count=2).removesuffix(" it"),
    )


def test_odd_firing_angles_narrow_it_down():
    known = cranked("V6-odd", 0, "one")
    found = laid_beside(known, cranked("V6-odd", 0, "one", later_deg=250, every=None))
    assert found.laid.is_settled
    (low,) = known[2]
    assert next(r for r in found.rows if r.cylinder == low).second.call == "suspect"


def test_a_sync_on_another_cylinder_than_entered_is_noticed():
    right = cranked("I4", 2, "one")
    order, sync = right[1].firing_order, right[1].sync
    assert sync is not None
    wrong = order.sequence[(order.position_of(sync.cylinder) + 1) % 4]
    found = laid_beside(right, cranked("I4", 2, "one", 250, sync_cylinder=wrong))
    assert found.laid.better_by in (1, -1)
    assert any("verify the sync" in c for c in found.cautions)


def test_a_scale_that_is_not_known_leaves_both_over_their_means():
    report, setup, low = cranked("I4", 2)
    layout = report.parts.layout
    assert layout is not None
    assert layout.amps_known
    unknown = replace(report, parts=replace(report.parts, layout=replace(layout, amps_known=False)))
    found = laid_beside((unknown, setup, low), (report, setup, low))
    assert found.curves is not None
    assert found.curves.unit == ""
    assert says_only(found.curves.axis, "comparing.current-over-mean")
    assert found.curves.first.mean() == pytest.approx(1.0, abs=0.25)
    (row,) = [r for r in found.conditions if r.label == "Mean current"]
    assert row.first == "not known"
    assert not row.differs


def test_a_run_of_before_the_angles_were_kept_still_gives_figures():
    report, setup, low = cranked("I4", 2)
    fit = report.parts.cycle_fit
    assert fit is not None
    old = CycleFit(fit.measured, fit.model)
    older = (replace(report, parts=replace(report.parts, cycle_fit=old)), setup, low)
    found = laid_beside(older, cranked("I4", 2, "one"))
    assert found.curves is None
    assert "analyse it again" in found.why_no_curves
    assert [r.cylinder for r in found.changed] == list(cranked("I4", 2, "one")[2])


def test_another_signal_gives_figures_and_no_curves():
    report, setup, _ = cranked("I4", 2)
    other = ComparedCapture(
        "later capture", report, replace(setup, signal="battery-voltage"), NOTED
    )
    found = compare(side((report, setup, ())), other)
    assert found.curves is None
    assert says(found.why_no_curves, "comparing.one-judged-from-other")
    assert len(found.rows) == 4


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            {"firing_order": FiringOrder.parse("1-2-4-3")},
            named("comparing.one-fires-other-different"),
        ),
        (
            {"firing_order": FiringOrder.parse("1-3-2"), "sync": None},
            named("comparing.one-cylinders-other-different", first=4, second=3),
        ),
        (
            {"firing_order": FiringOrder.parse("1-3-4-2", "0,170,360,540")},
            named("comparing.two-were-set-up"),
        ),
    ],
    ids=["order", "cylinders", "angles"],
)
def test_another_engine_is_refused(change, words):
    report, setup, _ = cranked("I4", 2)
    setup = replace(setup, firing_order=FiringOrder.parse("1-3-4-2"), sync=SyncSetup("coil", 1))
    with pytest.raises(CompareError) as refused:
        compare(
            ComparedCapture("a", report, setup, NOTED),
            ComparedCapture("b", report, replace(setup, **change), NOTED),
        )
    assert says(refused.value, words)


def test_the_same_engine_counted_from_another_cylinder_is_the_same_engine():
    report, setup, low = cranked("I4", 2, "one")
    order = setup.firing_order
    other = replace(setup, firing_order=order.starting_at(order.sequence[2]))
    found = laid_beside((report, setup, low), (report, other, low))
    assert [r.change for r in found.rows] == [0.0] * 4


def test_what_was_not_judged_is_refused():
    report, setup, low = cranked("I4", 2)
    with pytest.raises(CompareError) as refused:
        laid_beside((report, setup, low), (Report(verdict="not judged"), setup, low))
    assert says(refused.value, "comparing.one-two-not-judged")


def test_labels_moved_by_hand_are_noticed():
    made = simulated("I4", 2, "one")
    waveform, setup = made.waveform, made.scenario.setup()
    moved = replace(setup, hand=ManualEdits(shift=1))
    (low,) = cranked("I4", 2, "one")[2]
    found = laid_beside(cranked("I4", 2, "one"), (analyse(waveform, moved), moved, (low,)))
    assert abs(found.laid.better_by) == 1
    order = setup.firing_order
    labelled = {r.cylinder for r in found.rows if r.second.call == "suspect"}
    apart = (order.position_of(labelled.pop() or 0) - order.position_of(low)) % 4
    assert apart in (1, 3)
