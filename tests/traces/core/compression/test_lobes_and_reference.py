"""The lobe of a compression, readings of humps, and what counts as sound."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from engines.core.firing import FiringOrder
from traces.core.compression.lobes import (
    STEP_DEG,
    best_offset,
    hump_readings,
    lobe_mix,
    torque_lobe,
)
from traces.core.humps.reference import (
    Limits,
    find_reference,
    half_width,
    recorded_half_width,
    sound_mean,
)

LIMITS = Limits(0.80, 0.88)
ANGLES = np.arange(-360.0, 360.0, STEP_DEG)


@pytest.mark.parametrize(("fuel", "low", "high"), [("petrol", -26, -18), ("diesel", -24, -14)])
def test_a_lobe_peaks_before_top_dead_centre(fuel, low: float, high: float) -> None:
    # 22-24 degrees before top dead centre for petrol, 18-20 for diesel (slider-crank and
    # polytropic arithmetic, n = 1.2 to 1.35); rounding moves it by a few degrees
    lobe = torque_lobe(fuel)
    assert low <= ANGLES[int(np.argmax(lobe))] <= high
    assert lobe.max() == pytest.approx(1.0)
    assert lobe.min() < 0
    assert np.abs(lobe[np.abs(ANGLES) > 200]).max() < 0.01


@pytest.mark.parametrize(
    ("order", "angles"),
    [
        ("1-3-2", None),
        ("1-3-4-2", None),
        ("1-8-4-3-6-5-7-2", None),
        ("1-7-5-11-3-9-6-12-2-8-4-10", None),
        ("1-6-5-4-3-2", "0,150,240,390,480,630"),
    ],
)
def test_overlapping_lobes_are_told_apart(order, angles) -> None:
    firing = FiringOrder.parse(order, angles)
    mix = lobe_mix(firing, "petrol")
    strengths = np.linspace(0.3, 1.0, len(firing))
    cycle = mix.expected(strengths, mix.offset_deg)
    readings = hump_readings(cycle + 140.0, firing, mix.offset_deg)
    assert np.allclose(np.linalg.pinv(mix.matrix) @ readings, strengths, atol=1e-6)


def test_readings_ignore_level_and_add_up() -> None:
    firing = FiringOrder.parse("1-3-4-2")
    rng = np.random.default_rng(1)
    one, other = rng.normal(size=(2, 360))
    both = hump_readings(one + other + 30.0, firing, -10.0)
    apart = hump_readings(one, firing, -10.0) + hump_readings(other, firing, -10.0)
    assert np.allclose(both, apart)


def test_the_offset_is_found() -> None:
    firing = FiringOrder.parse("1-3-4-2")
    mix = lobe_mix(firing, "petrol")
    cycle = mix.expected(np.array([1.0, 0.4, 1.0, 0.9]), -7.0)
    found, _ = best_offset(cycle, firing, np.arange(-36.0, 13.0))
    assert found == pytest.approx(-7.0, abs=2.0)


@pytest.mark.parametrize(
    ("strengths", "mean", "sound"),
    [
        ([1.0, 1.0, 1.0, 1.0], 1.0, 4),
        ([100.0, 98.0, 40.0, 102.0], 100.0, 3),
        ([1.0, 0.4, 0.5], 1.0, 1),  # three cylinders, two of them low
        ([0.7, 1.0, 0.7, 1.0, 0.7, 1.0], 1.0, 3),  # a bank
        # one alone, right after a weak one, is outvoted by four that agree
        ([1.6, 1.0, 1.0, 1.02, 0.98, 0.4], 1.0, 4),
        # one alone above five that agree: high, as liquid in it makes it
        ([1.5, 1.0, 1.0, 1.02, 0.98, 1.0], 1.0, 5),
        # but no clearance makes it twice as high
        ([2.0, 1.0, 1.02, 0.98], 2.0, 1),
        ([1.3, 1.0], 1.3, 1),  # of two, the lower is more likely low than the other high
    ],
)
def test_what_counts_as_sound(strengths, mean: float, sound: int) -> None:
    found, count = sound_mean(np.array(strengths), LIMITS)
    assert found == pytest.approx(mean)
    assert count == sound


def test_a_cylinder_known_to_be_raised_is_no_measure() -> None:
    strengths = np.array([1.3, 1.0])
    mean, sound = sound_mean(strengths, LIMITS, np.array([True, False]))
    assert mean == pytest.approx(1.0)
    assert sound == 1


@pytest.mark.parametrize(
    ("strengths", "raised", "mean", "rival"),
    [
        # one far above three: found high by its clearance it is no measure, but it may be one
        ([1.0, 1.8, 1.0, 1.02], 1, 3.02 / 3, 1.8),
        # not known to be high it is the measure, but it may be high
        ([0.55, 1.0, 0.53, 0.60], None, 1.0, 0.56),
        # five that agree outvote a sixth that is high
        ([1.0, 1.8, 1.0, 1.02, 0.98, 1.0], 1, 1.0, None),
        # of two sound ones and two weak ones none stands alone
        ([0.5, 1.0, 0.5, 1.0], None, 1.0, None),
        # the others are not low beside it
        ([0.9, 1.0, 0.9, 0.9], None, 0.925, None),
        # of three, two that are low are an ordinary fault
        ([0.5, 1.0, 0.5], None, 1.0, None),
        # empty cylinders, which the fit may put a little under nothing, are no measure
        ([-0.02, 1.0, -0.01, -0.02], None, 1.0, None),
        ([0.10, 1.0, 0.11, 0.10], None, 1.0, None),
    ],
)
def test_few_that_stand_above_all_others_are_a_doubtful_measure(
    strengths, raised, mean, rival
) -> None:
    values = np.array(strengths)
    known = None if raised is None else np.arange(values.size) == raised
    found = find_reference(values, LIMITS, known)
    assert found.mean == pytest.approx(mean, rel=0.01)
    assert found.rival == (None if rival is None else pytest.approx(rival, rel=0.01))


def test_a_doubtful_measure_widens_what_hangs_on_it() -> None:
    found = find_reference(np.array([0.50, 1.0, 0.50, 0.50]), LIMITS)
    assert found.rival == pytest.approx(0.50)
    assert found.widened(0, 0.45, 0.55) == pytest.approx((0.45, 1.10))
    assert found.widened(1, 0.95, 1.05) == (0.95, 1.05)


@given(
    strengths=st.lists(st.floats(0.05, 1.0), min_size=1, max_size=12),
    factor=st.floats(0.01, 1000.0),
)
def test_the_reference_scales_with_the_figures(strengths, factor: float) -> None:
    values = np.array(strengths)
    mean, count = sound_mean(values, LIMITS)
    scaled, again = sound_mean(values * factor, LIMITS)
    assert 0 < mean <= values.max() * (1 + 1e-12)
    assert count >= 1
    if again == count:
        assert scaled == pytest.approx(mean * factor, rel=1e-9)


def test_intervals_are_students() -> None:
    values = np.array([0.50, 0.53, 0.48, 0.51, 0.55])
    wanted = stats.t.interval(0.95, 4, loc=values.mean(), scale=stats.sem(values))
    assert half_width(values, 0.0) == pytest.approx((wanted[1] - wanted[0]) / 2)
    assert half_width(values[:1], 0.05) == pytest.approx(1.96 * 0.05)


def test_a_cylinder_that_comes_and_goes_is_the_mean_of_what_was_recorded() -> None:
    # three low cycles of six: one more of either kind moves the mean by at most a sixth of 0.8
    values = np.array([0.2, 1.0, 0.2, 1.0, 0.2, 1.0])
    assert recorded_half_width(values, 0.0) == pytest.approx(0.8 / 6)
    assert recorded_half_width(values, 0.05) == pytest.approx(np.hypot(0.8 / 6, 1.96 * 0.05))
    # cycles that differ among their own kind are read less surely
    rough = values + np.array([0.1, 0.1, -0.1, -0.1, 0.0, 0.0])
    assert recorded_half_width(rough, 0.0) > 1.1 * recorded_half_width(values, 0.0)
    # two cycles have no kinds
    assert recorded_half_width(values[:2], 0.02) == half_width(values[:2], 0.02)


@pytest.mark.parametrize(
    ("relative", "call"),
    [(0.0, "suspect"), (0.799, "suspect"), (0.80, "watch"), (0.879, "watch"), (0.88, "sound")],
)
def test_calls_by_the_limits(relative: float, call: str) -> None:
    assert LIMITS.call(relative) == call


@pytest.mark.parametrize(
    ("limits", "high", "call"),
    [
        (LIMITS, 0.869, "suspect"),
        (LIMITS, 0.871, "watch"),
        (Limits(0.70, 0.95), 0.93, "suspect"),
        (Limits(0.70, 0.95), 0.945, "watch"),
        # without a grey zone an interval inside the low ones still accuses
        (Limits(0.80, 0.80), 0.799, "suspect"),
        (Limits(0.80, 0.80), 0.801, "watch"),
    ],
)
def test_a_low_figure_that_may_be_sound_accuses_nobody(limits, high, call) -> None:
    assert limits.call(0.65, high) == call
    assert limits.call(0.99, 1.05) == "sound"
