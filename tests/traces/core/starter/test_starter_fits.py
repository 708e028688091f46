"""The regressions behind the figures, against SciPy and NumPy."""

import numpy as np
import pytest
from scipy import stats

from traces.core.starter.resistance import resistance_of_inrush, resistance_of_ripple
from traces.core.starter.speed import parabola, trend_of, whole_cycles


def _pairs(seed=1, noise_v=0.02):
    rng = np.random.default_rng(seed)
    current = rng.uniform(0, 600, 160)
    return current, 12.5 - 0.0055 * current + rng.normal(0, noise_v, current.size)


def test_the_inrush_slope_agrees_with_linear_regression_on_clean_pairs():
    current, voltage = _pairs()
    plain = stats.linregress(current, voltage)
    found = resistance_of_inrush(current, voltage)
    assert found.mohm == pytest.approx(-1000 * plain.slope, abs=2000 * plain.stderr)
    # over independent samples the jackknife is the textbook's error, within its own scatter
    assert 0.4 < found.error_mohm / (1000 * plain.stderr) < 2.5
    assert found.likeness == pytest.approx(abs(plain.rvalue))


def test_wild_samples_do_not_turn_the_inrush_slope():
    current, voltage = _pairs()
    wild = voltage.copy()
    wild[::8] -= np.linspace(0, 6, wild[::8].size) * (current[::8] < 200)
    plain = -1000 * stats.linregress(current, wild).slope
    found = resistance_of_inrush(current, wild)
    assert abs(found.mohm - 5.5) < 0.3 * abs(plain - 5.5)
    assert found.mohm == pytest.approx(5.5, rel=0.03)


def test_noise_in_the_current_does_not_flatten_the_ripple_slope():
    rng = np.random.default_rng(5)
    count = np.linspace(0, 10, 5001)
    true_a = 160 + 20 * np.cos(2 * np.pi * 4 * count)
    voltage = 12.5 - 0.006 * true_a
    seen = true_a + rng.normal(0, 14, count.size)
    plain = -1000 * stats.linregress(seen, voltage).slope
    found = resistance_of_ripple(count, np.arange(11.0), seen, voltage)
    assert found is not None
    assert plain < 0.75 * 6.0
    assert found.mohm == pytest.approx(6.0, rel=0.06)
    assert abs(found.mohm - 6.0) < 3 * found.error_mohm


def test_theparabola_and_its_errors_are_those_of_numpy():
    rng = np.random.default_rng(2)
    x = np.linspace(-2.0, 2.2, 9)
    y = 1.0 + 2.0 * x - 0.04 * x**2 + rng.normal(0, 0.003, x.size)
    ours = parabola(x, y)
    theirs, covariance = np.polyfit(x, y, 2, cov=True)
    np.testing.assert_allclose(ours.coefficients, theirs[::-1], rtol=1e-9)
    np.testing.assert_allclose(ours.errors, np.sqrt(np.diag(covariance))[::-1], rtol=1e-9)


def test_the_interval_of_the_trend_holds_the_truth_as_often_as_it_says():
    inside = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        time_s = np.arange(0, 5, 0.002)
        # the count is known without its curvature, as from a slow fit; places scatter a little
        true = 1.8 * time_s - 0.02 * time_s**2
        wobble = np.interp(true, np.arange(12), rng.normal(0, 0.004, 12))
        current = 160 + 40 * np.cos(2 * np.pi * 4 * (true + wobble))
        count = 1.72 * time_s
        cycles = whole_cycles(time_s, count, 0.1, 4.9)
        assert cycles is not None
        trend = trend_of(cycles, time_s, count, current + rng.normal(0, 0.5, time_s.size))
        assert trend is not None
        truth = 2 * -0.02 * 120
        inside += trend.low_rpm_per_s < truth < trend.high_rpm_per_s
    assert inside >= 51


def test_fewer_than_five_cycles_have_no_trend():
    time_s = np.arange(0, 2.4, 0.002)
    count = 2.0 * time_s
    cycles = whole_cycles(time_s, count, 0.0, 2.3)
    assert cycles is not None
    assert cycles.whole == 4
    assert cycles.rpm == pytest.approx(240.0)
    assert trend_of(cycles, time_s, count, np.cos(8 * np.pi * time_s)) is None
    assert whole_cycles(time_s, count, 0.0, 0.4) is None
