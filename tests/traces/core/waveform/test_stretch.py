"""Figures between two samples: exact ends, gaps, and a mean that says when it is sampled."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from traces.core.waveform.stretch import StretchFigures, stretch_figures
from traces.core.waveform.summaries import block_extremes, summary_of
from traces.core.waveform.waveform import Samples


def figures(values: Samples, first: int, last: int) -> StretchFigures:
    return stretch_figures(values, block_extremes(values), first, last)


@given(
    size=st.integers(1, 3000),
    bounds=st.tuples(st.integers(-5, 3005), st.integers(-5, 3005)),
    gaps=st.integers(0, 5),
    seed=st.integers(0, 1000),
)
def test_any_stretch_is_told_as_by_numpy(size, bounds, gaps, seed):
    rng = np.random.default_rng(seed)
    values = rng.normal(size=size).astype(np.float32)
    values[rng.integers(0, size, gaps)] = np.nan
    first, last = bounds
    part = values[max(first, 0) : max(last, first, 0)]
    part = part[np.isfinite(part)].astype(np.float64)
    found = figures(values, first, last)
    if part.size == 0:
        assert (found.minimum, found.maximum, found.mean) == (None, None, None)
    else:
        assert (found.minimum, found.maximum) == (part.min(), part.max())
        assert found.mean == pytest.approx(part.mean(), abs=1e-9)
        assert not found.mean_is_sampled


def test_a_very_long_stretch_keeps_its_ends_and_says_that_its_mean_is_sampled():
    # whole periods, so that the mean is known: 3 (sum of a sine over a period is 0)
    values = (3 + np.sin(np.arange(6_000_000) * (2 * np.pi / 1000))).astype(np.float32)
    values[4_321_000] = -50.0
    found = figures(values, 0, values.size)
    assert found.minimum == -50.0
    assert found.maximum == pytest.approx(4.0, abs=1e-6)
    assert found.mean_is_sampled
    assert found.mean == pytest.approx(3.0, abs=0.01)
    assert not figures(values, 1000, 2_001_000).mean_is_sampled


def test_means_that_were_kept_make_a_long_mean_exact():
    rng = np.random.default_rng(7)
    values = rng.normal(5.0, 2.0, 6_000_000).astype(np.float32)
    kept = summary_of([values])
    first, last = 12_345, 5_987_654
    found = stretch_figures(values, kept.extremes, first, last, kept.means)
    assert not found.mean_is_sampled
    part = values[first:last].astype(np.float64)
    assert found.mean == pytest.approx(part.mean(), rel=1e-7)
    # one gap, and what was kept of its block is no mean
    values[3_000_000] = np.nan
    kept = summary_of([values])
    found = stretch_figures(values, kept.extremes, first, last, kept.means)
    assert found.mean_is_sampled
    assert found.mean == pytest.approx(part.mean(), rel=0.01)


def test_one_sample_is_its_own_figures():
    found = figures(np.arange(2000, dtype=np.float32), 777, 778)
    assert found == StretchFigures(777.0, 777.0, 777.0, mean_is_sampled=False)
