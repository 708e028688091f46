"""Sync events that contradict the set-up, the humps or each other: refused, or used rightly."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.traces.core.judged_by_hand import by_humps, codes_of, stops_of
from tests.traces.core.synthetic import Crank
from traces.core.findings.finding_texts import finding
from traces.core.report.results import Report
from traces.core.setup.analysis_setup import SyncEvent, SyncEvery, SyncSetup
from traces.core.setup.manual_edits import ManualEdits, ManualMarks
from traces.core.sync.event_rhythm import has_two_rhythms
from traces.core.sync.events import Sync, anchored_count, read_sync
from traces.core.sync.paired_events import TwoPlaces, turned_single
from traces.core.sync.pulses import Pulses
from traces.core.waveform.waveform import Channel, Waveform

CYCLE_S = 0.55
LOW_THREE = Crank(strengths=(1.0, 1.0, 0.5, 1.0), duration_s=6.0)


def _read(times_s, heights=None) -> Sync:
    times_s = np.asarray(times_s, dtype=float)
    heights = np.ones(times_s.size) if heights is None else np.asarray(heights, dtype=float)
    order = np.argsort(times_s)
    grid_s = np.arange(0, 20, 0.002)
    return read_sync(Pulses(times_s[order], heights[order]), grid_s, grid_s / CYCLE_S)


def _cycles(first: int, last: int, place: float) -> list[float]:
    return [(k + place) * CYCLE_S for k in range(first, last)]


class TestPairsThatTurnSingle:
    """Single coils that fire in pairs until the cam is recognised."""

    @pytest.mark.parametrize("goes_on", [0.2, 0.7])
    @pytest.mark.parametrize("paired", [3, 5])
    def test_the_place_that_goes_on_is_the_cylinders_own(self, goes_on, paired) -> None:
        ends = (goes_on + 0.5) % 1.0
        sync = _read(_cycles(0, 9, goes_on) + _cycles(0, paired, ends))
        assert sync.state == "every-720"
        assert np.allclose(sync.events_s / CYCLE_S % 1.0, goes_on)
        assert sync.paired_to_s == pytest.approx(_cycles(0, paired, ends)[-1])

    def test_what_leaks_in_later_changes_nothing(self) -> None:
        own, pair, leak = _cycles(0, 9, 0.2), _cycles(0, 4, 0.7), _cycles(4, 9, 0.7)
        sync = _read([*own, *pair, *leak], [2.0] * 9 + [1.9] * 4 + [0.5] * 5)
        assert sync.state == "every-720"
        assert sync.paired_to_s is not None

    @pytest.mark.parametrize("seed", range(6))
    def test_pairs_to_the_end_stay_pairs_however_their_heights_scatter(self, seed) -> None:
        # a slow recorder catches the ringing anywhere
        times = _cycles(0, 9, 0.2) + _cycles(0, 9, 0.7)
        heights = np.random.default_rng(seed).uniform(0.5, 2.5, len(times))
        assert _read(times, heights).state == "every-360"

    def test_few_that_a_slow_recorder_caught_of_many_name_nobody(self) -> None:
        # of a coil that fires every turn, six at 500 samples a second, and one that leaked in
        sync = _read(
            np.array([-1.49, 0.0, 0.999, 2.511, 3.002, 4.001, 4.17]) * CYCLE_S + 2.0,
            [0.776, 0.811, 1.528, 0.952, 0.615, 1.616, 0.601],
        )
        assert (sync.state, sync.perhaps_every_turn) == ("every-360", True)

    def test_what_is_too_high_to_leak_in_may_be_an_event(self) -> None:
        # of a coil that fires every turn, at 1000 samples a second
        at = [-0.58, 0, 0.5, 0.99, 1.48, 1.97, 2.96, 3.95, 4.45, 4.95, 5.46, 5.96, 6.98, 7.49, 8]
        heights = [1.88, 1.8, 1.56, 2.5, 1.33, 2.73, 1.72, 1.56, 1.48, 2.03, 1.95, 0.94, 1.17]
        sync = _read(np.array(at) * CYCLE_S + 2.0, [*heights, 1.09, 1.88])
        assert (sync.state, sync.perhaps_every_turn) == ("every-360", True)

    @pytest.mark.parametrize(
        ("own", "heights"),
        [
            # every 360 degrees at 1000 samples a second: none of the others was caught
            ([0, 3, 4], [1.95, 3.4, 1.68]),
            # two of six say as little
            ([0, 5], [0.9, 0.3]),
        ],
    )
    def test_few_caught_and_none_half_way_name_nobody(self, own, heights) -> None:
        sync = _read((np.array(own) + 2.2) * CYCLE_S, heights)
        assert (sync.state, sync.perhaps_every_turn) == ("every-360", True)

    @pytest.mark.parametrize(
        ("own", "heights"),
        [
            # each was caught as high as the others: none can have been missed
            ([0, 1, 2], [1.9, 1.95, 2.0]),
            # enough of them, though they scatter
            ([0, 1, 2, 3, 4, 5, 6], [0.39, 0.94, 1.88, 1.95, 1.72, 3.75, 1.8]),
        ],
    )
    def test_all_caught_and_none_half_way_name_the_cylinder(self, own, heights) -> None:
        sync = _read((np.array(own) + 2.2) * CYCLE_S, heights)
        assert (sync.state, sync.perhaps_every_turn) == ("every-720", False)

    def test_pairs_caught_at_any_height_have_not_turned_single(self) -> None:
        # of a coil that fires every turn, at 1000 samples a second
        at = [-1, -0.52, 0, 0.47, 1, 1.47, 2, 3, 4, 4.47, 5.01]
        heights = [2.14, 1.51, 1.76, 0.56, 0.57, 1.31, 1.54, 1.58, 0.69, 0.64, 0.87]
        sync = _read((np.array(at) + 2.2) * CYCLE_S, heights)
        assert (sync.state, sync.paired_to_s) == ("every-360", None)

    @pytest.mark.parametrize("leak", [0.1, 0.3])
    def test_leaks_half_way_leave_a_slow_recording_its_cylinder(self, leak) -> None:
        heights = np.random.default_rng(3).uniform(0.4, 1.0, 16)
        heights[8:] *= leak
        sync = _read(_cycles(1, 9, 0.2) + _cycles(1, 9, 0.7), 2.0 * heights)
        assert (sync.state, sync.perhaps_every_turn) == ("every-720", False)

    @pytest.mark.parametrize("leak", [0.0, 0.2])
    def test_two_that_stay_away_settle_it(self, leak) -> None:
        # the first were not recorded; what leaks in comes at both places
        own, pair = _cycles(2, 6, 0.7), _cycles(2, 4, 0.2)
        leaks = [*_cycles(0, 2, 0.2), *_cycles(0, 2, 0.7), *_cycles(4, 7, 0.2)] if leak else []
        heights = [2.0] * 4 + [2.1] * 2 + [2.0 * leak] * len(leaks)
        times_s = np.array([*own, *pair, *leaks])
        order = np.argsort(times_s)
        grid_s = np.arange(0, 20, 0.002)
        pulses = Pulses(times_s[order], np.array(heights)[order])
        sync = read_sync(pulses, grid_s, grid_s / CYCLE_S, seen_to_s=6.5 * CYCLE_S)
        assert sync.state == "every-720"
        assert np.allclose(sync.events_s / CYCLE_S % 1.0, 0.7)
        assert sync.paired_to_s == pytest.approx(3.2 * CYCLE_S)

    def test_one_that_stays_away_is_told(self) -> None:
        times_s = np.sort([*_cycles(0, 6, 0.2), *_cycles(0, 5, 0.7)])
        grid_s = np.arange(0, 20, 0.002)
        pulses = Pulses(times_s[times_s != times_s[-2]], np.ones(times_s.size - 1))
        sync = read_sync(pulses, grid_s, grid_s / CYCLE_S, seen_to_s=5.4 * CYCLE_S)
        assert sync.state == "every-360"
        assert sync.perhaps_single_from_s == pytest.approx(4.7 * CYCLE_S)

    def test_heights_that_scatter_leave_the_turn_open(self) -> None:
        # every 500th of a second of a faster ringing
        heights = [2.95, 1.59, 2.54, 0.71, 1.1, 2.66, 2.88, 0.45, 0.31, 2.86, 0.2, 2.86]
        times_s = (0.2 + 0.5 * np.arange(12)) * CYCLE_S
        sync = _read(times_s, heights)
        assert sync.state == "every-360"
        assert sync.perhaps_single_from_s == pytest.approx(4.2 * CYCLE_S)

    def test_halves_that_last_unequally_long_are_no_turn(self) -> None:
        # a weak cylinder makes one half of the cycle shorter than the other
        own = [0.0, 0.99, 1.99, 2.99, 3.99, 4.99, 6.0]
        pairs = [0.46, 1.46, 2.46, 3.452, 4.452, 5.452]
        sync = _read((np.array([*own, *pairs]) + 0.3) * CYCLE_S)
        assert (sync.state, sync.perhaps_single_from_s) == ("every-360", None)
        assert sync.events_s.size == 13

    @pytest.mark.parametrize("seed", range(4))
    def test_one_missed_on_the_way_is_no_turn(self, seed) -> None:
        times_s = np.sort([*_cycles(0, 9, 0.2), *_cycles(0, 9, 0.7)])
        missed = int(np.random.default_rng(seed).integers(4, 13))
        sync = _read(np.delete(times_s, missed))
        assert (sync.state, sync.perhaps_single_from_s) == ("every-360", None)

    def test_one_single_event_at_the_end_settles_nothing(self) -> None:
        assert _read(_cycles(0, 9, 0.2) + _cycles(0, 8, 0.7)).state == "every-360"


class TestTrouble:
    def test_one_event(self) -> None:
        assert _read([1.2]).trouble == "lone"

    def test_events_that_another_shaft_drives(self) -> None:
        sync = _read([1.02 * t for t in _cycles(0, 14, 0.3)])
        assert (sync.state, sync.trouble) == ("scattered", "drift")

    def test_events_in_two_rhythms(self) -> None:
        first = [0.75 * CYCLE_S * k for k in range(6)]
        sync = _read(first + [first[-1] + CYCLE_S * k for k in range(1, 7)])
        assert (sync.state, sync.trouble) == ("scattered", "two-rhythms")

    def test_events_at_random(self) -> None:
        times = np.sort(np.random.default_rng(1).uniform(0, 6, 12))
        assert _read(times).trouble == ""


class TestFewThatSayNothing:
    """What is left of nearly all that were missed contradicts nobody."""

    def test_one_event_among_what_leaks_in(self) -> None:
        leaks = [t for place in (0.1, 0.35, 0.6, 0.85) for t in _cycles(0, 8, place)]
        heights = np.random.default_rng(4).uniform(0.3, 0.5, len(leaks))
        sync = _read([*leaks, 6.22 * CYCLE_S], [*heights, 1.7])
        assert (sync.state, sync.trouble) == ("missing", "lone")
        assert sync.events_s / CYCLE_S == pytest.approx([6.22])

    def test_each_at_another_place(self) -> None:
        sync = _read(np.array([0.0, 2.18, 2.51]) * CYCLE_S, [0.54, 0.46, 0.42])
        assert sync.state == "missing"

    @pytest.mark.parametrize("count", [2, 3, 4])
    def test_a_few_that_keep_to_another_step_contradict_the_engine(self, count) -> None:
        # as of five cylinders entered for four
        sync = _read([0.8 * k * CYCLE_S for k in range(count)])
        assert sync.state in ("crowded", "scattered")

    def test_events_at_three_places_in_every_cycle_contradict_the_engine(self) -> None:
        times = [t for place in (0.1, 0.4, 0.75) for t in _cycles(0, 6, place)]
        assert _read(times).state == "crowded"


def _judged(crank: Crank, every: SyncEvery = 720, event: SyncEvent = "ignition", **sync) -> Report:
    setup = crank.setup(sync=SyncSetup("coil", 1, event, every, **sync))
    return by_humps(crank.waveform(), setup)


def _with_sync(crank: Crank, change: Callable[[np.ndarray], np.ndarray]) -> Waveform:
    clamp, pick_up = crank.waveform().channels
    changed = Channel("coil", "V", change(pick_up.values.copy()))
    return Waveform(0.0, crank.rate_hz, (clamp, changed))


@pytest.mark.parametrize("event", ["ignition", "injector", "cam"])
def test_every_360_set_up_as_720_is_refused(event: SyncEvent) -> None:
    crank = replace(LOW_THREE, sync_every=360)
    report = _judged(crank, 720, event)
    assert stops_of(report) == {"sync-mismatch"}
    told = next(f for f in report.findings if f.code == "sync-mismatch")
    assert "dead bank" in told.message
    assert "do not crank" in told.remedy
    # and is no contradiction where it was said
    assert stops_of(_judged(crank, 360, event)) == set()


def test_no_mark_by_hand_hides_that() -> None:
    crank = replace(LOW_THREE, sync_every=360)
    marked = replace(
        crank.setup(), sync=SyncSetup("coil", 1), hand=ManualEdits(marks=ManualMarks((1.5,), 1))
    )
    assert stops_of(by_humps(crank.waveform(), marked)) == {"sync-mismatch"}


@pytest.mark.parametrize("sync_every", [360, 720])
def test_a_dead_bank_that_looks_like_half_the_speed_is_refused(sync_every: SyncEvery) -> None:
    # every other compression of eight is missing: the rest look like eight at half the speed
    order = "1-8-4-3-6-5-7-2"
    alive = {int(c) for c in order.split("-")[::2]}
    crank = Crank(
        order=order,
        strengths=tuple(1.0 if c in alive else 0.02 for c in range(1, 9)),
        rpm=230.0,
        sync_cylinder=1,
        sync_every=sync_every,
        duration_s=5.0,
    )
    settings: tuple[SyncEvery, ...] = (360, 720)
    for every in settings:
        report = _judged(crank, every)
        assert report.verdict == "not judged"
        if every == sync_every:
            assert "sync-mismatch" in stops_of(report)
        else:
            assert codes_of(report) & {"sync-mismatch", "speed-implausible"}
    without = by_humps(crank.waveform(), crank.setup(sync=None))
    assert without.verdict == "not judged" or "speed-implausible" in codes_of(without)


def test_a_single_event_names_nobody() -> None:
    def one(values: np.ndarray) -> np.ndarray:
        at = np.flatnonzero(values > 1.0)
        values[at[at != at[3]]] = 0.0
        return values

    report = by_humps(_with_sync(LOW_THREE, one), LOW_THREE.setup())
    assert not report.cylinders_known
    told = next(f for f in report.findings if f.code == "sync-missing")
    assert "Only one event" in told.message


def test_events_that_end_early_are_told() -> None:
    def early(values: np.ndarray) -> np.ndarray:
        at = np.flatnonzero(values > 1.0)
        values[at[4:]] = 0.0
        return values

    report = by_humps(_with_sync(LOW_THREE, early), LOW_THREE.setup())
    assert report.candidates == ((3,),)
    told = next(f for f in report.findings if f.code == "sync-missing")
    assert told.severity == "warn"
    assert "sync-missing" not in codes_of(by_humps(LOW_THREE.waveform(), LOW_THREE.setup()))


@pytest.mark.parametrize("every", [360, 720])
def test_pairs_that_turn_single_name_the_cylinder(every) -> None:
    turned_s = 2.0
    both = replace(LOW_THREE, sync_every=360).waveform()
    single = LOW_THREE.waveform()
    at = round(turned_s * LOW_THREE.rate_hz)
    values = np.concatenate((both.channels[1].values[:at], single.channels[1].values[at:]))
    waveform = replace(single, channels=(single.channels[0], Channel("coil", "V", values)))
    report = by_humps(waveform, LOW_THREE.setup(sync=SyncSetup("coil", 1, "ignition", every)))
    assert report.candidates == ((3,),)
    assert report.cylinders_known
    assert "sync-paired-first" in codes_of(report)
    assert "sync-every-360" not in codes_of(report)


def _paired_until(turned_s: float, crank: Crank) -> Waveform:
    both, single = replace(crank, sync_every=360).waveform(), crank.waveform()
    at = round(turned_s * crank.rate_hz)
    values = np.concatenate((both.channels[1].values[:at], single.channels[1].values[at:]))
    return replace(single, channels=(single.channels[0], Channel("coil", "V", values)))


def test_pairs_that_may_have_turned_single_are_asked_about() -> None:
    crank = replace(LOW_THREE, duration_s=4.0)
    # a single event of the companion stays away, the last one that would have come
    report = by_humps(_paired_until(3.5, crank), crank.setup())
    assert set(report.candidates) == {(3,), (2,)}
    told = next(f for f in report.findings if f.code == "sync-every-360")
    assert "do not crank" in told.remedy


@pytest.mark.parametrize("code", ["no-compression", "hump-mismatch", "unsteady"])
def test_refusals_for_want_of_compression_say_when_not_to_crank(code) -> None:
    remedy = finding(code, ripple="1", cylinders=4, why="").remedy
    assert "do not crank" in remedy
    assert "by hand" in remedy
    assert "manufacturer" in remedy


@pytest.mark.parametrize(
    ("one", "other", "is_told"),
    # 15 % of the shorter step is where another rhythm begins
    [(0.3, 0.37, True), (0.3, 0.33, False), (2.0, 2.26, False), (2.0, 2.36, True)],
)
def test_another_rhythm_is_told_by_the_share_of_a_step(one: float, other: float, is_told) -> None:
    """Three steps of it are enough, at the very end too."""
    for steps in ([one] * 6 + [other] * 3, [other] * 3 + [one] * 6):
        counted = np.cumsum([0.4, *steps])
        pulses = Pulses(counted, np.ones(counted.size))
        assert has_two_rhythms(pulses, counted) is is_told


@pytest.mark.parametrize(("state", "every"), [("every-720", 1.0), ("every-360", 0.5)])
def test_events_fall_on_whole_places_wherever_they_stood(state, every: float) -> None:
    times_s = np.linspace(0.0, 25.0, 2501)
    scatter = np.random.default_rng(1).normal(0, 0.02 * every, 20)
    for place in np.arange(0.0, 1.0, 0.02):
        events = place + every * np.arange(20) + scatter
        count, off = anchored_count(Sync(state, events), times_s, times_s)
        at_events = np.interp(events, times_s, count) / every
        assert np.abs(at_events - np.rint(at_events)).max() < 0.1, place
        assert np.abs(off).max() < 0.1 * every, place


def test_a_lone_strong_event_at_the_end_is_no_change_from_pairs() -> None:
    """A bench run stopped here: after weak events nothing but one was left to compare."""
    pulses = Pulses(np.array([0.1, 0.4]), np.array([0.1, 5.0]))
    rows = (np.array([0]), np.array([1]))
    both = TwoPlaces(rows, 0.0, 0.7)
    assert turned_single(pulses, np.array([0.0, 0.5]), both) is None
