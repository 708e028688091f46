"""How unsure a fitted figure is: least between sound and dead, most half-way."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.core.twin.test_twin_fit import begun, made
from traces.core.twin.errors import changing_error, method_errors
from traces.core.twin.fitting import Fit, fit


@pytest.fixture(scope="module")
def half_weak() -> Fit:
    profile, known, _ = made((0.85, 0.43, 0.86, 0.84))
    return fit(profile, known, begun(known))


def test_a_worse_fit_is_less_sure_of_itself(half_weak):
    peak = float(half_weak.lobes.peaks.max())
    sure = method_errors(half_weak, peak)
    unsure = method_errors(replace(half_weak, rms=0.03), peak)
    assert (unsure > sure).all()


@pytest.mark.parametrize(("cost", "times"), [(60.0, 1.0), (85.0, 1.25), (136.0, 2.72)])
def test_an_engine_that_the_twin_does_not_know_is_ever_less_sure(half_weak, cost, times):
    # over and above what models confuse anyhow, variances grow in step at first, then faster
    peak = float(half_weak.lobes.peaks.max())
    loose = replace(half_weak, curvature=half_weak.curvature / 100, others=(), rms=0.003, cost=1.0)
    apart = method_errors(loose, peak) ** 2 - method_errors(_settled(loose), peak) ** 2
    strained = replace(loose, cost=cost)
    grown = method_errors(strained, peak) ** 2 - method_errors(_settled(strained), peak) ** 2
    assert grown / apart == pytest.approx(times, rel=1e-6)


def test_where_the_curve_is_missed_an_unknown_engine_widens_no_further(half_weak):
    missed = replace(half_weak, others=(), rms=0.012, cost=1.0)
    peak = float(half_weak.lobes.peaks.max())
    # what the curve misses counts (0.012 / 0.006)² = 4 times, and a cost of 200 three times
    np.testing.assert_allclose(
        method_errors(replace(missed, cost=200.0), peak), method_errors(missed, peak)
    )


def _settled(found: Fit) -> Fit:
    return replace(found, curvature=found.curvature * 1e12)


def test_a_half_weak_cylinder_is_unsure_however_well_the_fit_knows_it(half_weak):
    # of a fit that left nothing open, what models confuse remains: a leak, a late cam, a piston
    certain = replace(half_weak, curvature=half_weak.curvature * 1e9, others=())
    reference = float(half_weak.lobes.peaks[[0, 2, 3]].mean())
    relative = half_weak.lobes.peaks / reference
    assert relative[1] == pytest.approx(0.5, abs=0.05)
    errors = method_errors(certain, reference)
    # 0.015 anywhere; 0.20 x 0.5 x 0.5 beside it where half is gone
    assert errors[1] == pytest.approx(np.hypot(0.015, 0.05), abs=0.002)
    assert errors[[0, 2, 3]] == pytest.approx(0.015, abs=0.002)


@pytest.mark.parametrize(
    ("relative", "error"),
    [
        (0.0, np.hypot(0.03, 0.025)),
        (0.5, np.sqrt(0.03**2 + 0.025**2 + 0.05**2)),
        (0.8, np.sqrt(0.03**2 + 0.025**2 + 0.032**2)),
        (1.0, np.hypot(0.03, 0.025)),
        # higher than the sound ones is no weakness
        (1.1, np.hypot(0.03, 0.025)),
    ],
)
def test_a_cylinder_that_comes_and_goes(relative, error):
    assert changing_error(relative, 0.03) == pytest.approx(error, rel=1e-9)
