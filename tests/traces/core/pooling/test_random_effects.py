"""Random effects against a published worked example and by hand."""

import math

import numpy as np
import pytest

from traces.core.pooling.random_effects import between_variance, pooled_mean, student_t

# Trials of BCG vaccine against tuberculosis, with and without the disease, vaccinated and not:
# G. A. Colditz and others, JAMA 271 (1994) 698-702, the textbooks' example of random effects.
BCG = np.array(
    [
        [4, 119, 11, 128],
        [6, 300, 29, 274],
        [3, 228, 11, 209],
        [62, 13536, 248, 12619],
        [33, 5036, 47, 5761],
        [180, 1361, 372, 1079],
        [8, 2537, 10, 619],
        [505, 87886, 499, 87892],
        [29, 7470, 45, 7232],
        [17, 1699, 65, 1600],
        [186, 50448, 141, 27197],
        [5, 2493, 3, 2338],
        [27, 16886, 29, 17825],
    ],
    dtype=np.float64,
)


def test_the_textbooks_example():
    ill, well, ill_without, well_without = BCG.T
    every, every_without = ill + well, ill_without + well_without
    values = np.log(ill / every / (ill_without / every_without))
    errors = np.sqrt(1 / ill - 1 / every + 1 / ill_without - 1 / every_without)
    found = pooled_mean(values, errors)
    # Published: Q = 152.23 on 12 degrees of freedom. The estimate by DerSimonian and Laird,
    # -0.7141 with error 0.1787 and variance 0.3088, and Hartung and Knapp's error 0.1807, are
    # from memory.
    assert found.q == pytest.approx(152.23, abs=0.005)
    assert found.freedom == 12
    assert found.p < 0.001
    assert found.mean == pytest.approx(-0.7141, abs=5e-5)
    assert found.error == pytest.approx(0.1787, abs=5e-5)
    assert found.between**2 == pytest.approx(0.3088, abs=5e-5)
    assert found.error_hk == pytest.approx(0.1807, abs=5e-5)


def test_two_values_by_hand():
    # 0.6 and 0.9, errors 0.05: weights 400 each, mean 0.75, Q = 400 (0.15^2 + 0.15^2) = 18;
    # divisor 800 - 320000 / 800 = 400, variance between (18 - 1) / 400 = 0.0425;
    # error sqrt((0.0025 + 0.0425) / 2) = 0.15.
    found = pooled_mean(np.array([0.6, 0.9]), np.array([0.05, 0.05]))
    assert found.mean == pytest.approx(0.75)
    assert found.q == pytest.approx(18.0)
    assert found.between == pytest.approx(math.sqrt(0.0425))
    assert found.error == pytest.approx(0.15)
    # chance of chi-square over 18 on 1 degree of freedom, two-sided normal of 4.243
    assert found.p == pytest.approx(math.erfc(math.sqrt(18 / 2)))


def test_values_that_agree_have_no_variance_between():
    found = pooled_mean(np.array([1.00, 1.01, 0.99]), np.full(3, 0.05))
    assert found.between == 0
    assert found.error == pytest.approx(0.05 / math.sqrt(3))
    # closer than chance: the scatter must not make the figure surer than the errors allow
    assert found.error_hk == found.error


def test_a_precise_value_weighs_more():
    found = pooled_mean(np.array([0.5, 0.7]), np.array([0.01, 0.1]), between=0.0)
    assert found.mean == pytest.approx((0.5 / 1e-4 + 0.7 / 1e-2) / (1e4 + 1e2))


def test_one_value_stays_what_it_is():
    found = pooled_mean(np.array([0.57]), np.array([0.02]))
    assert (found.mean, found.error, found.freedom, found.p) == (0.57, 0.02, 0, 1.0)


def test_what_cannot_be_pooled():
    for values, errors in (([], []), ([1.0], [0.0]), ([1.0, 2.0], [0.1])):
        with pytest.raises(ValueError, match="pooling takes"):
            pooled_mean(np.array(values), np.array(errors))


def test_students_t():
    # Tables of Student's t, 97.5 %: 12.706, 4.303, 2.228 for 1, 2, 10 degrees of freedom.
    assert student_t(1) == pytest.approx(12.706, abs=1e-3)
    assert student_t(2) == pytest.approx(4.303, abs=1e-3)
    assert student_t(10) == pytest.approx(2.228, abs=1e-3)
    assert student_t(0) == 1.96


def test_variance_between_never_falls_under_nothing():
    assert between_variance(0.5, 2, 100.0) == 0
    assert between_variance(5.0, 2, 0.0) == 0
