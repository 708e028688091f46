"""Fewer points for a screen: extremes survive, gaps stay gaps, ends stay in place."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from traces.core.waveform.minmax import envelope
from traces.core.waveform.summaries import BLOCK, block_extremes


def _envelope(values, pixels, first=0, last=None):
    values = np.asarray(values, dtype=np.float32)
    return envelope(values, block_extremes(values), pixels=pixels, first=first, last=last)


def test_a_short_stretch_comes_back_as_it_is() -> None:
    found = _envelope([1, 2, 3, 4, 5], pixels=10, first=1, last=4)
    assert found.at_idx.tolist() == [1, 2, 3]
    assert found.values.tolist() == [2, 3, 4]


@pytest.mark.parametrize("size", [1_000, 50_000, 3_000_000])
def test_one_sample_spikes_survive_and_points_are_few(size: int) -> None:
    values = np.zeros(size, dtype=np.float32)
    values[size // 3] = 7
    values[size // 2] = -5
    found = _envelope(values, pixels=100)
    assert found.at_idx.size <= 200
    assert found.values.max() == 7
    assert found.values.min() == -5
    at = found.at_idx[int(np.argmax(found.values))]
    # Exact where samples are looked at, to a block where blocks are.
    assert abs(at - size // 3) <= (BLOCK if size > 4 * BLOCK * 100 else 0)


def test_extremes_of_a_part_come_in_the_order_in_which_they_were() -> None:
    rising = _envelope(np.arange(1000), pixels=10)
    falling = _envelope(np.arange(1000)[::-1], pixels=10)
    assert (np.diff(rising.values) > 0).all()
    assert (np.diff(falling.values) < 0).all()


@pytest.mark.parametrize("size", [4_000, 3_000_000])
def test_a_gap_stays_a_gap(size: int) -> None:
    values = np.ones(size, dtype=np.float32)
    values[size // 4 : size // 2] = np.nan
    found = _envelope(values, pixels=100)
    inside = (found.at_idx > size * 0.3) & (found.at_idx < size * 0.45)
    assert inside.any()
    assert np.isnan(found.values[inside]).all()
    assert (found.values[found.at_idx < size * 0.2] == 1).all()


def test_a_single_missing_sample_does_not_hide_its_neighbours() -> None:
    values = np.ones(10_000, dtype=np.float32)
    values[5_000] = np.nan
    found = _envelope(values, pixels=100)
    assert not np.isnan(found.values).any()


@given(
    values=st.lists(
        st.one_of(st.floats(-1e6, 1e6, width=32), st.just(float("nan"))), min_size=1, max_size=600
    ),
    pixels=st.integers(1, 40),
    bounds=st.tuples(st.integers(-5, 700), st.integers(-5, 700)),
)
def test_any_stretch_keeps_its_extremes_and_its_order(values, pixels, bounds) -> None:
    samples = np.asarray(values, dtype=np.float32)
    first, last = bounds
    found = _envelope(samples, pixels=pixels, first=first, last=last)
    part = samples[max(first, 0) : max(last, first, 0)]
    assert found.at_idx.size <= max(2 * pixels, 0)
    assert (np.diff(found.at_idx) >= 0).all()
    if np.isfinite(part).any():
        assert np.nanmax(found.values) == np.nanmax(part)
        assert np.nanmin(found.values) == np.nanmin(part)
    else:
        assert np.isnan(found.values).all()


def test_a_picture_has_at_least_one_pixel() -> None:
    with pytest.raises(ValueError, match="pixels"):
        _envelope([1, 2], pixels=0)
