"""What one pass leaves is right, and later steps find with it what they find without it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engines.core.firing import FiringOrder
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.core.sync.pulses import find_pulses
from traces.core.waveform.conditioning import condition
from traces.core.waveform.summaries import BLOCK, MEAN_BLOCK, Summing, block_extremes, summary_of
from traces.core.waveform.waveform import Channel, Waveform

SETUP = AnalysisSetup(
    firing_order=FiringOrder.parse("1-3-4-2"), current_channel="clamp", mv_per_a=10.0
)


def test_block_extremes_by_hand() -> None:
    values = np.concatenate([np.full(BLOCK, np.nan), [3.0, np.nan, -2.0]]).astype(np.float32)
    blocks = block_extremes(values)
    assert blocks.shape == (2, 2)
    assert np.isnan(blocks[:, 0]).all()
    assert blocks[:, 1].tolist() == [-2.0, 3.0]
    assert block_extremes(np.empty(0, dtype=np.float32)).shape == (2, 0)


@given(
    size=st.integers(0, 3000),
    cuts=st.lists(st.integers(0, 3000), max_size=12),
    gaps=st.lists(st.integers(0, 2999), max_size=6),
)
def test_the_parts_do_not_matter(size: int, cuts, gaps) -> None:
    values = np.random.default_rng(size).standard_normal(size).astype(np.float32)
    values[[at for at in gaps if at < size]] = np.nan
    summing = Summing()
    for part in np.split(values, sorted(min(at, size) for at in cuts)):
        summing.add(part)
    found = summing.summary()
    assert found.missing == np.isnan(values).sum()
    blocks = [values[at : at + BLOCK] for at in range(0, size, BLOCK)]
    known = [block[np.isfinite(block)] for block in blocks]
    lows = [block.min() if block.size else np.nan for block in known]
    highs = [block.max() if block.size else np.nan for block in known]
    assert np.array_equal(found.extremes[0], np.array(lows, np.float32), equal_nan=True)
    assert np.array_equal(found.extremes[1], np.array(highs, np.float32), equal_nan=True)
    whole = values[: size // MEAN_BLOCK * MEAN_BLOCK].reshape(-1, MEAN_BLOCK)
    means = whole.mean(axis=1, dtype=np.float64)
    assert np.allclose(found.means, means, rtol=0, atol=1e-6, equal_nan=True)


def _pair(values, rate_hz: float) -> tuple[Waveform, Waveform]:
    """Return a waveform whose channel carries its summary, and the same without."""
    values = np.asarray(values, dtype=np.float32)
    bare = Channel("clamp", "V", values)
    told = replace(bare, summary=summary_of([values]))
    return Waveform(0.5, rate_hz, (told,)), Waveform(0.5, rate_hz, (bare,))


@pytest.mark.parametrize("rate_hz", [40_000.0, 255_000.0, 300_000.0, 1_000_000.0, 3_333_333.0])
@pytest.mark.parametrize("gap", [False, True])
def test_current_is_the_same_from_the_track_made_while_reading(rate_hz: float, gap: bool) -> None:
    rng = np.random.default_rng(3)
    times_s = np.arange(600_011) / rate_hz
    values = 1.5 + 0.3 * np.sin(60 * times_s) + 0.01 * rng.standard_normal(times_s.size)
    values[:1000] = 0.0
    if gap:
        values[200_000:200_300] = np.nan
    told, bare = (condition(w, w.channels[0], SETUP) for w in _pair(values, rate_hz))
    assert np.allclose(told.current_a, bare.current_a, rtol=1e-6, atol=1e-4)
    assert (told.t0_s, told.rate_hz) == (bare.t0_s, bare.rate_hz)
    assert told.noise_a == pytest.approx(bare.noise_a, rel=1e-4)
    assert told.missing_share == bare.missing_share
    assert told.longest_gap_s == bare.longest_gap_s
    assert (bare.longest_gap_s > 0) == gap


def test_the_track_is_what_is_looked_at(monkeypatch) -> None:
    told, _ = _pair(np.random.default_rng(1).standard_normal(600_000), 1e6)

    def blocks(*_: object, **__: object) -> None:
        raise AssertionError("samples were looked at")

    monkeypatch.setattr(Channel, "blocks", blocks)
    channel = told.channels[0]
    assert condition(told, channel, SETUP).current_a.size == 300
    assert channel.holds(600_000)
    assert not channel.is_flat()


@settings(deadline=None)
@given(
    seed=st.integers(0, 50),
    events=st.lists(
        st.tuples(st.integers(0, 39_000), st.sampled_from([1.0, -0.9, 0.3, 0.05])), max_size=9
    ),
    stretch=st.tuples(st.integers(0, 40_000), st.integers(0, 40_000)),
    gap=st.tuples(st.integers(0, 40_000), st.integers(0, 2_000)),
    part=st.sampled_from([64, 1000, 1 << 18]),
)
def test_pulses_are_the_same_by_the_index_of_extremes(seed, events, stretch, gap, part) -> None:
    values = 0.01 * np.random.default_rng(seed).standard_normal(40_000)
    for at, height in events:
        ringing = np.exp(-np.arange(400) / 80) * np.sin(np.arange(400) / 3)
        values[at : at + 400] += height * ringing[: 40_000 - at]
    values[gap[0] : gap[0] + gap[1]] = np.nan
    from_s, to_s = (0.5 + at / 40_000 for at in stretch)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Channel.blocks, "__defaults__", (part,))
        told, bare = (find_pulses(w, w.channels[0], from_s, to_s) for w in _pair(values, 40_000.0))
    assert np.array_equal(told.times_s, bare.times_s)
    assert np.array_equal(told.heights, bare.heights)


def test_pulses_are_looked_for_only_where_there_are_some(monkeypatch) -> None:
    values = 0.01 * np.random.default_rng(2).standard_normal(4_000_000)
    values[1_000_000:1_000_050] += 1.0
    values[3_000_000:3_000_050] -= 1.0
    told, _ = _pair(values, 1e6)
    looked_at = []
    through = Channel.blocks

    def blocks(self, samples: int = 1 << 18, *, first: int = 0, last: int | None = None):
        for one in through(self, samples, first=first, last=last):
            looked_at.append(one.size)
            yield one

    channel = told.channels[0]
    monkeypatch.setattr(Channel, "sampled", lambda self, *_, **__: self.values[::200])
    monkeypatch.setattr(Channel, "blocks", blocks)
    found = find_pulses(told, channel, 0.5, 4.5)
    assert found.times_s.tolist() == [1.5, 3.5]
    assert 0 < sum(looked_at) < 5_000


def test_figures_too_large_for_one_sum_of_64_are_averaged_one_by_one() -> None:
    values = np.full(1_200_000, 1.0)
    values[400_000:800_000] = 3.0
    told, bare = _pair(8e36 * values, 1e6)
    found = condition(told, told.channels[0], SETUP)
    assert np.isinf(summary_of([told.channels[0].values]).means).any()
    assert np.array_equal(found.current_a, condition(bare, bare.channels[0], SETUP).current_a)
    assert found.current_a[[100, 300]] == pytest.approx([8e38, 24e38], rel=1e-3)


@pytest.mark.parametrize(
    ("values", "flat"),
    [([1, 1, 1], True), ([1, np.nan, 2], False), ([np.nan] * 3, True), ([np.nan, 2, 2], True)],
)
def test_questions_are_answered_alike(values, flat: bool) -> None:
    for waveform in _pair(values, 10.0):
        channel = waveform.channels[0]
        assert channel.is_flat() == flat
        known = int(np.isfinite(values).sum())
        assert channel.holds(known)
        assert not channel.holds(known + 1)


def test_a_summary_of_another_length_is_refused() -> None:
    values = np.zeros(1000, dtype=np.float32)
    with pytest.raises(ValueError, match="another channel"):
        Channel("clamp", None, values, summary_of([values[:700]]))
