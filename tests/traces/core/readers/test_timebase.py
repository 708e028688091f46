"""Times that wrap, repeat, have gaps or are not even: put right and said so, or refused."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.wording import says
from traces.core.readers.clock import Clock
from traces.core.readers.gathering import gather
from traces.core.readers.read_error import ReadError
from traces.core.readers.spool import BLOCK
from traces.core.readers.stream import Block, Column, Stream
from traces.core.readers.timebase import _interpolated, time_base


def _gathered(times, *values, cuts=(), keep_at=None):
    """Gather channels with their times, in blocks cut where told."""
    times = np.asarray(times, dtype=np.float64)
    table = np.array(values or [np.arange(times.size)], dtype=np.float32)
    edges = [0, *sorted(set(cuts)), times.size]
    blocks = [Block(table[:, a:b].copy(), times[a:b].copy()) for a, b in pairwise(edges) if b > a]
    columns = tuple(Column(f"C{i}") for i in range(len(table)))
    return gather(Stream("test", columns, iter(blocks)), keep_at=keep_at)


CUTS = [(), (1,), (3, 4, 11), tuple(range(1, 40))]


@pytest.mark.parametrize("cuts", CUTS)
@pytest.mark.parametrize(
    ("period", "step", "first"),
    [(65.536, 0.5, 60.0), (1.0, 0.05, 0.0), (60.0, 0.25, 59.0), (2.0**32 * 1e-6, 1.0, 4290.0)],
)
def test_a_counter_that_starts_again_is_counted_on(cuts, period, step, first) -> None:
    true_s = first + step * np.arange(60)
    found = _gathered(true_s % period, cuts=cuts)
    assert found.samples == 60
    assert found.rate_hz == pytest.approx(1 / step)
    assert found.t0_s == pytest.approx(first % period)
    assert found.uniform
    assert "starts again" in str(found.notes[0])
    assert found.channels[0].values.tolist() == list(range(60))


def test_recordings_one_after_the_other_are_refused() -> None:
    one = np.arange(-0.123, 0.25, 0.001)
    with pytest.raises(ReadError) as refused:
        _gathered(np.concatenate((one, one, one)))
    assert says(refused.value, "clock.file-holds-recordings-one", count=3)


@pytest.mark.parametrize(
    "times", [[0, 1, 2, 3, 2.5, 4, 5], [5, 4, 3, 2, 1, 0], [0, 1, 0, 1, 0, 1], [*range(9), 3]]
)
def test_time_that_runs_back_is_refused(times) -> None:
    with pytest.raises(ReadError) as refused:
        _gathered(times)
    assert says(refused.value, "clock.time-does-not-rise")


def test_the_row_at_fault_is_named() -> None:
    with pytest.raises(ReadError) as refused:
        _gathered([0, 1, 2, 3, 2.5, 4, 5], cuts=(4,))
    assert says(refused.value, "clock.time-does-not-rise", row=5)


@pytest.mark.parametrize("cuts", CUTS)
def test_stamps_that_several_rows_share_are_spread(cuts) -> None:
    # 4 kHz, written to the millisecond
    true_s = np.arange(400) / 4000
    found = _gathered(np.floor(true_s * 1000) / 1000, cuts=cuts)
    assert (found.samples, found.rate_hz, found.uniform) == (
        400,
        pytest.approx(4000, rel=0.01),
        True,
    )
    assert any("share one time" in str(note) for note in found.notes)
    assert found.channels[0].values.tolist() == list(range(400))


@pytest.mark.parametrize("cuts", CUTS)
def test_a_row_written_twice_takes_one_place(cuts) -> None:
    at = np.array([0, 1, 2, 3, 3, *range(4, 60)])
    found = _gathered(at / 100, np.arange(at.size), cuts=cuts)
    assert (found.samples, found.rate_hz) == (60, 100.0)
    assert found.channels[0].values[:6].tolist() == [0, 1, 2, 4, 5, 6]
    assert any(says(note, "timebase.rows-repeat-time-row", standing=1) for note in found.notes)


@pytest.mark.parametrize("cuts", CUTS)
def test_rows_that_are_missing_are_gaps(cuts) -> None:
    at = np.array([i for i in range(80) if i not in (0, 7, 8, 40)])
    found = _gathered(at / 2000, at, cuts=cuts)
    values = found.channels[0].values
    assert (found.samples, found.rate_hz, found.t0_s) == (79, 2000.0, 1 / 2000)
    assert np.flatnonzero(np.isnan(values)).tolist() == [6, 7, 39]
    assert np.array_equal(values[~np.isnan(values)], at)
    assert found.summaries[0].missing == 3
    assert says(map(str, found.notes), "timebase.rows-missing-from-even", missing=3)


@pytest.mark.parametrize("cuts", CUTS)
def test_uneven_times_are_resampled_as_numpy_does(cuts) -> None:
    rng = np.random.default_rng(7)
    times = np.cumsum(rng.uniform(0.5, 1.5, 60))
    values = np.sin(times)
    found = _gathered(times, values, cuts=cuts)
    assert not found.uniform
    assert any(
        "uneven" in str(note) and f"{found.rate_hz:g} Hz" in str(note) for note in found.notes
    )
    grid = found.t0_s + np.arange(found.samples) / found.rate_hz
    assert grid[-1] <= times[-1] + 1e-9
    wanted = np.interp(grid, times, values.astype(np.float32))
    assert np.allclose(found.channels[0].values, wanted, atol=1e-6)


def test_a_gap_in_an_uneven_log_stays_one_and_so_does_a_long_pause() -> None:
    rng = np.random.default_rng(8)
    times = np.cumsum(rng.uniform(0.5, 1.5, 60))
    times[40:] += 200.0
    values = np.ones(60) + rng.random(60)
    values[20] = np.nan
    found = _gathered(times, values)
    grid = found.t0_s + np.arange(found.samples) / found.rate_hz
    missing = np.isnan(found.channels[0].values)
    assert missing[(grid > times[39] + 0.1) & (grid < times[40] - 0.1)].all()
    assert missing[(grid > times[19] + 0.01) & (grid < times[21] - 0.01)].all()
    assert not missing[grid < times[19]].any()
    assert any("longest pause is" in str(note) for note in found.notes)


def test_a_column_sampled_more_slowly_is_joined_over_its_blanks() -> None:
    rng = np.random.default_rng(9)
    times = np.cumsum(rng.uniform(0.5, 1.5, 90))
    slow = np.where(np.arange(90) % 5 == 0, times, np.nan)
    found = _gathered(times, times, slow)
    grid = found.t0_s + np.arange(found.samples) / found.rate_hz
    inside = grid <= times[85]
    assert np.allclose(found.channels[1].values[inside], grid[inside], atol=1e-3)
    assert np.isnan(found.channels[1].values[grid > times[85] + 1e-6]).all()


def test_a_switch_is_held_not_sloped() -> None:
    times = np.cumsum(np.tile([0.5, 1.0, 1.7], 20))
    found = _gathered(times, np.arange(60) % 2)
    values = found.channels[0].values
    # a step's two samples lie on a line that crosses the middle when it came
    assert np.mean((values == 0.0) | (values == 1.0)) > 0.9
    high = values >= 0.5
    last = np.flatnonzero(high[1:] != high[:-1])
    part = (0.5 - values[last]) / (values[last + 1] - values[last])
    crossed_s = found.t0_s + (last + part) / found.rate_hz
    assert crossed_s == pytest.approx(times[1:], abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(
    rate=st.sampled_from([1.0, 50.0, 3000.0, 48_000.0, 1e6, 2.5e6]),
    first=st.sampled_from([0.0, -0.25, 1000.0]),
    count=st.integers(30, 300),
    digits=st.integers(0, 3),
    cuts=st.lists(st.integers(1, 299), max_size=5),
)
def test_an_even_grid_is_found_however_coarse_its_stamps(rate, first, count, digits, cuts) -> None:
    # stamps to a tenth of a step at worst
    quantum = 10.0 ** -(digits + 1) / rate
    times = np.round((first + np.arange(count) / rate) / quantum) * quantum
    found = _gathered(times, cuts=[c for c in cuts if c < count])
    assert found.uniform
    assert found.samples == count
    assert found.rate_hz == pytest.approx(rate, rel=2 / count)
    assert found.channels[0].values.tolist() == list(range(count))


def test_times_come_back_from_disk(monkeypatch, tmp_path) -> None:
    monkeypatch.setattr("traces.core.readers.spool._IN_MEMORY_BYTES", 1000)
    monkeypatch.setattr("traces.core.readers.spool.BLOCK", 64)
    monkeypatch.setattr("traces.core.readers.clock.BLOCK", 64)
    clock = Clock(tmp_path)
    times = np.arange(1000) / 7
    for at in range(0, 1000, 64):
        clock.add(times[at : at + 64])
    assert np.array_equal(np.concatenate(list(clock.blocks())), times)
    assert list(tmp_path.iterdir()) == [], "the file has no name"
    clock.close()


@pytest.mark.parametrize("rows", [1_000, 1_500_000, 3_000_000])
@pytest.mark.parametrize("keep", [False, True])
def test_holes_are_found_whether_times_or_samples_lie_on_disk(tmp_path, rows, keep) -> None:
    # eight bytes a time, four a sample: of 1.5 million rows only the times are too many for memory
    numbers = np.delete(np.arange(rows), slice(rows // 2, rows // 2 + 30))
    cuts = tuple(range(0, rows, 70_000))
    keep_at = tmp_path / "kept.npy" if keep else None
    found = _gathered(numbers / 1e6, numbers % 1000, cuts=cuts, keep_at=keep_at)
    assert found.samples == rows
    assert says(map(str, found.notes), "timebase.rows-missing-from-even", missing=30)
    values = found.channels[0].values
    assert np.isnan(values[rows // 2 : rows // 2 + 30]).all()
    assert np.array_equal(values[numbers], (numbers % 1000).astype(np.float32))


@pytest.mark.parametrize("told", [39, 41])
def test_a_stream_of_another_length_than_it_says_is_refused(tmp_path, told) -> None:
    block = Block(np.zeros((1, 20), dtype=np.float32))
    stream = Stream("test", (Column("clamp"),), iter([block, block]), rate_hz=1.0, rows=told)
    with pytest.raises(ReadError) as refused:
        gather(stream, keep_at=tmp_path / "kept.npy")
    assert says(refused.value, "gathering.file-holds-more-fewer")
    assert list(tmp_path.iterdir()) == []


def _pieced(rng, kinds) -> np.ndarray:
    """Return times of pieces: even, jittering, standing, with a hole, or starting again."""
    steps = []
    for kind in kinds:
        piece = np.full(int(rng.integers(5, 60)), 1e-3)
        if kind == "jitter":
            piece *= rng.uniform(0.8, 1.2, piece.size)
        elif kind == "hole":
            piece[0] = 0.25
        elif kind == "standing":
            piece[1::2] = 0.0
        steps.append(piece)
    return 3.0 + np.cumsum(np.concatenate(steps))


@settings(deadline=None)
@given(
    kinds=st.lists(
        st.sampled_from(["even", "even", "jitter", "hole", "standing"]), min_size=1, max_size=8
    ),
    seed=st.integers(0, 99),
    block=st.sampled_from([7, 64, 1000]),
    cuts=st.lists(st.integers(1, 300), max_size=8),
)
def test_times_told_by_lines_are_the_times(kinds, seed, block, cuts) -> None:
    times = _pieced(np.random.default_rng(seed), kinds)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("traces.core.readers.spool.BLOCK", block)
        patch.setattr("traces.core.readers.clock.BLOCK", block)
        as_they_are = _gathered(times, cuts=cuts)
        patch.setattr("traces.core.readers.clock._LEAST_EVEN_ROWS", 3)
        clock = Clock()
        for part in np.split(times, sorted({c for c in cuts if c < times.size})):
            clock.add(part)
        by_lines = _gathered(times, cuts=cuts)
    assert np.allclose(np.concatenate(list(clock.blocks())), times, rtol=0, atol=1e-9)
    off = np.abs(times - times[0] - 1e-3 * np.arange(times.size)).max()
    assert clock.off_even(1e-3) == pytest.approx(off, abs=1e-9)
    assert by_lines.notes == as_they_are.notes
    assert by_lines.rate_hz == pytest.approx(as_they_are.rate_hz, rel=1e-6)
    assert by_lines.samples == as_they_are.samples
    one, other = by_lines.channels[0].values, as_they_are.channels[0].values
    assert np.allclose(one, other, atol=1e-3, equal_nan=True)


def test_rounds_of_a_counter_are_counted_on_in_lines_too(monkeypatch) -> None:
    monkeypatch.setattr("traces.core.readers.clock._LEAST_EVEN_ROWS", 3)
    true_s = 0.5 * np.arange(600)
    for cuts in ((), (131,), (100, 200, 262, 263, 400)):
        found = _gathered(true_s % 65.536, cuts=cuts)
        assert (found.samples, found.rate_hz, found.uniform) == (600, 2.0, True)
        assert says(
            " ".join(map(str, found.notes)), "clock.time-starts-again-every", times="4 times"
        )


def test_before_its_first_time_a_recording_says_nothing() -> None:
    times_s, known = np.array([1.0, 2.0, 3.0]), np.array([10.0, 20.0, 30.0])
    grid_s = np.array([0.5, 1.0, 1.5, 3.0])
    found = _interpolated(grid_s, times_s, known, held=False, pause_s=9.0)
    assert found.tolist() == pytest.approx([math.nan, 10.0, 15.0, 30.0], nan_ok=True)


def test_rounds_of_a_counter_all_count_to_its_end() -> None:
    true_s = 0.5 * np.arange(600)
    clock = Clock()
    clock.add(np.asarray(true_s % 65.536, dtype=np.float64))
    assert clock.unwrap()
    # the period is known to a step
    assert clock.last == pytest.approx(true_s[-1], abs=4 * 0.5)


def test_even_times_of_a_long_recording_take_no_room(tmp_path) -> None:
    clock = Clock(tmp_path)
    numbers = np.arange(70_000)
    for _ in range(40):
        clock.add(numbers / 1e6)
        numbers += numbers.size
    assert clock.count == 2_800_000
    assert clock._times.size == 0
    assert clock.off_even(1e-6) < 1e-11


def test_coarse_times_that_rise_in_few_places_tell_no_rate() -> None:
    """So long that only some blocks are looked at, and none of those holds the step."""
    clock = Clock()
    for block in range(40):
        times = np.full(BLOCK, float(block > 17))
        if block == 17:
            times[100:] = 1.0
        clock.add(times)
    assert clock.sampled_steps().tolist() == [1.0]
    with pytest.raises(ReadError) as refused:
        time_base(clock)
    assert says(refused.value, "timebase.rows-time-row-before")
    clock.close()
