"""The score interval, against published figures and another implementation."""

import pytest
from scipy.stats import binomtest

from jobs.core.proportion import Proportion

# Newcombe, Two-sided confidence intervals for the single proportion, Statistics in Medicine 17
# (1998), table I, method 3: Wilson's score interval without continuity correction.
PUBLISHED = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0000, 0.1611),
    (1, 29, 0.0061, 0.1718),
]


@pytest.mark.parametrize(("count", "total", "low", "high"), PUBLISHED)
def test_published_figures(count, total, low, high):
    assert Proportion(count, total).interval == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize("total", [1, 2, 7, 40, 1_000])
def test_as_scipy_has_it(total):
    for count in {0, 1, total // 2, total - 1, total}:
        known = binomtest(count, total).proportion_ci(0.95, method="wilson")
        assert Proportion(count, total).interval == pytest.approx((known.low, known.high), abs=1e-6)


def test_it_stays_within_none_and_all():
    none, every = Proportion(0, 3).interval, Proportion(3, 3).interval
    assert none is not None
    assert every is not None
    assert none[0] == 0.0 < none[1]
    assert every[0] < every[1] == 1.0


def test_nothing_is_known_of_nothing():
    assert Proportion(0, 0).share is None
    assert Proportion(0, 0).interval is None
