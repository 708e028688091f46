"""Slider-crank and the polytropic figures that follow from it."""

import numpy as np
import pytest

from traces.core.compression.slider_crank import SliderCrank, travel

HALF_LITRE = SliderCrank(bore_m=0.086, stroke_m=0.086, rod_m=0.144, compression_ratio=10.5)


@pytest.mark.parametrize(
    ("angle_deg", "travel_mm"),
    [
        (0, 0.0),
        # worked by hand: 43 + 144 - sqrt(144^2 - 43^2) = 187 - 137.430
        (90, 49.570),
        # 43 (1 - 0.5) + 144 - sqrt(144^2 - 37.239^2) = 21.5 + 144 - 139.101
        (60, 26.399),
        (180, 86.0),
        (300, 26.399),
        (360, 0.0),
    ],
)
def test_travel_as_worked_by_hand(angle_deg, travel_mm):
    assert HALF_LITRE.travel_m(angle_deg) * 1e3 == pytest.approx(travel_mm, abs=2e-3)


def test_volumes_at_the_dead_centres():
    # V = Vd / (rc - 1) at top, rc times that at bottom: Heywood ch. 2, from memory
    assert HALF_LITRE.swept_m3 == pytest.approx(np.pi * 0.086**3 / 4)
    assert HALF_LITRE.volume_m3(0) == pytest.approx(HALF_LITRE.swept_m3 / 9.5)
    assert HALF_LITRE.volume_m3(180) / HALF_LITRE.volume_m3(0) == pytest.approx(10.5)


def test_slope_is_the_derivative_of_volume():
    angle = np.linspace(-720, 720, 1441)
    rise = HALF_LITRE.volume_m3(angle + 0.01) - HALF_LITRE.volume_m3(angle - 0.01)
    slope = HALF_LITRE.dvolume_m3_per_rad(angle)
    assert slope == pytest.approx(rise / np.deg2rad(0.02), abs=1e-9)


def test_a_long_rod_gives_harmonic_motion():
    # the limit l >> r: x = r (1 - cos a)
    angle = np.linspace(0, 2 * np.pi, 50)
    x, slope = travel(angle, 0.04, 400.0)
    assert x == pytest.approx(0.04 * (1 - np.cos(angle)), abs=5e-6)
    assert slope == pytest.approx(0.04 * np.sin(angle), abs=5e-6)


def test_arrays_of_engines_broadcast():
    angle = np.full((3, 4), 1.0)
    x, _ = travel(angle, np.array([[0.03], [0.04], [0.05]]), np.array([[0.12], [0.13], [0.14]]))
    assert x.shape == (3, 4)
    assert x[1, 2] == travel(np.array(1.0), 0.04, 0.13)[0]


# 7.5^1.3 = 13.7 bar absolute, 187 psi gauge: plain arithmetic of the polytropic relation
def test_polytropic_pressure_of_ratio_seven_and_a_half():
    absolute_bar = 7.5**1.3
    assert absolute_bar == pytest.approx(13.7, abs=0.05)
    # a reading of 187 psi on a gauge that shows zero at 1 standard atmosphere
    assert (absolute_bar * 1.01325 - 1.01325) * 14.5038 == pytest.approx(187, abs=1.0)


@pytest.mark.parametrize(
    ("ratio", "exponent", "peak_bar", "torque_nm", "work_j"),
    [
        (10.5, 1.2, 14.4, 99, 93),
        (10.5, 1.3, 18.0, 121, 110),
        (10.5, 1.35, 20.1, 134, 120),
        (16.5, 1.2, 24.7, 144, None),
        (16.5, 1.3, 32.3, 183, None),
        (16.5, 1.35, 36.9, 206, None),
    ],
)
def test_compression_of_half_a_litre(ratio, exponent, peak_bar, torque_nm, work_j):
    # p V^n from intake closing 50 degrees after bottom dead centre; the figures were worked
    # from the polytropic relation and the slider-crank formula
    link = SliderCrank(0.086, 0.086, 0.144, ratio)
    angle = np.linspace(-130, 0, 13001)
    pressure_pa = 1e5 * (link.volume_m3(-130) / link.volume_m3(angle)) ** exponent
    torque = -(pressure_pa - 1e5) * link.dvolume_m3_per_rad(angle)
    assert pressure_pa[-1] / 1e5 == pytest.approx(peak_bar, rel=0.01)
    assert torque.max() == pytest.approx(torque_nm, rel=0.02)
    low, high = (22, 24) if ratio < 12 else (18, 20)
    assert low - 0.5 <= -angle[torque.argmax()] <= high + 0.5
    if work_j:
        # from bottom dead centre the piston does no work on gas at ambient pressure
        assert np.trapezoid(torque, np.deg2rad(angle)) == pytest.approx(work_j, rel=0.03)


@pytest.mark.parametrize(
    "changes",
    [
        {"bore_m": 0.0},
        {"stroke_m": -0.1},
        {"rod_m": 0.04},
        {"compression_ratio": 1.0},
        {"bore_m": float("nan")},
    ],
)
def test_impossible_linkages_are_refused(changes):
    sizes = {"bore_m": 0.08, "stroke_m": 0.09, "rod_m": 0.14, "compression_ratio": 10.0}
    with pytest.raises(ValueError, match=r"must be"):
        SliderCrank(**(sizes | changes))
