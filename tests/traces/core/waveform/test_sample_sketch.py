"""Files of one recording are known by their samples, however they are cut; others are not."""

import numpy as np
import pytest

from traces.core.readers import read
from traces.core.waveform import Channel, Waveform, is_same_recording, sketch_of


def wave(*channels):
    return Waveform(
        0.0,
        1000.0,
        tuple(
            Channel(str(n), "V", np.asarray(values, np.float32))
            for n, values in enumerate(channels, start=1)
        ),
    )


@pytest.fixture
def noise():
    return np.random.default_rng(5).normal(120.0, 8.0, 6000).round(2)


@pytest.mark.parametrize("part", [slice(None), slice(0, 1500), slice(2500, 4500), slice(401, None)])
def test_a_cut_is_the_same_recording(noise, part):
    assert is_same_recording(sketch_of(wave(noise)), sketch_of(wave(noise[part])))


def test_a_channel_more_or_a_gap_changes_nothing(noise):
    beside = np.random.default_rng(6).normal(12.0, 0.1, noise.size)
    gap = noise.copy()
    gap[3000:3040] = np.nan
    one = sketch_of(wave(noise))
    assert is_same_recording(one, sketch_of(wave(beside, noise)))
    assert is_same_recording(one, sketch_of(wave(gap)))


def test_another_crank_of_the_same_engine_is_another_recording():
    humps = 120 + 30 * np.sin(np.arange(6000) / 40)
    one, other = (humps + np.random.default_rng(seed).normal(0, 0.5, humps.size) for seed in (1, 2))
    assert not is_same_recording(sketch_of(wave(one)), sketch_of(wave(other)))


def test_switches_and_rests_say_nothing():
    switch = np.tile([0.0, 0.0, 5.0, 5.0], 1500)
    assert sketch_of(wave(switch, np.zeros(6000))) == ()
    assert not is_same_recording((), ())


def test_blocks_are_seamless(noise, monkeypatch):
    whole = sketch_of(wave(noise))
    monkeypatch.setattr(Channel.blocks, "__defaults__", (500,))
    assert sketch_of(wave(noise)) == whole


def test_no_two_references_are_taken_for_one(references):
    sketches = [sketch_of(read(r.path).waveform) for r in references.values()]
    same = [
        (n, m)
        for n in range(len(sketches))
        for m in range(n)
        if is_same_recording(sketches[n], sketches[m])
    ]
    assert same == []
