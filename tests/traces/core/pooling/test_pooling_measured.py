"""Captures of simulated engines, three each: what pooling gains, and that its interval is true.

`python -m bench.repeats` does the same over all layouts; its figures stand in docs/balance.md.
"""

import pytest

from bench.repeats import measure, repeats, rms
from traces.simulator.simulate import simulate_many


@pytest.fixture(scope="module")
def gain():
    # other physics than the fitted model's: the harder case
    return measure("b", ("I4", "V6", "I6"), 1)


def test_repeats_are_of_one_engine():
    one, other, _ = repeats(1, "I4", "a")
    assert one.engine == other.engine
    assert one.starter == other.starter
    assert one.start_deg != other.start_deg
    truths = [made.truth.relative_sound for made in simulate_many([one, other])]
    assert truths[0] == pytest.approx(truths[1], abs=0.03)


def test_pooled_figures_are_no_worse_than_single_ones(gain):
    assert gain.engines >= 3
    # what the method gets wrong about an engine repeats, so the gain is small but must be there
    assert rms(gain.pooled) <= rms(gain.single)


def test_the_truth_lies_in_the_pooled_interval(gain):
    assert sum(gain.pooled_inside) / len(gain.pooled_inside) >= 0.9


def test_repeats_of_an_unchanged_engine_do_not_differ(gain):
    assert gain.called_different == 0
    # points: repeats are far closer to each other than to the truth
    assert sorted(gain.repeat_sd)[len(gain.repeat_sd) // 2] < 0.02
