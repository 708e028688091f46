"""From strengths by cycle to figures with their intervals."""

import math

import numpy as np
import pytest

from traces.core.humps import Limits
from traces.core.judging.pipeline import estimates_of
from traces.core.preparation import Measured
from traces.core.report import Estimate

LIMITS = Limits(0.80, 0.88)
STRENGTHS_A = 80.0 * np.array([1.0, 0.5, 1.0, 1.0])
ERROR = 0.02
STUDENT_2 = 4.302653  # 97.5 % of Student's t, two degrees of freedom: any table


def estimates(per_cycle_a: np.ndarray) -> tuple[Estimate, ...]:
    return estimates_of(
        Measured(
            strengths=STRENGTHS_A,
            per_cycle=per_cycle_a,
            method_errors=np.full(4, ERROR),
            hump_strengths=STRENGTHS_A,
            labelings=((1, 3, 4, 2),),
            humps=(),
            offset_deg=0.0,
            explained=1.0,
        ),
        LIMITS,
    )


def test_a_cycle_with_more_torque_throughout_is_no_unevenness():
    levels = np.array([0.8, 1.0, 1.2])
    found = estimates(np.outer(levels, STRENGTHS_A))
    assert [e.relative for e in found] == [1.0, 0.5, 1.0, 1.0]
    for one in found:
        # all cycles say the same, so that the method's own error is all there is
        assert one.high - one.relative == pytest.approx(1.96 * ERROR, abs=1e-5)
        assert one.relative - one.low == pytest.approx(1.96 * ERROR, abs=1e-5)


def test_cycles_are_shown_as_they_were():
    levels = np.array([0.8, 1.0, 1.2])
    found = estimates(np.outer(levels, STRENGTHS_A))
    assert found[0].per_cycle == (0.8, 1.0, 1.2)
    assert found[1].per_cycle == (0.4, 0.5, 0.6)


def test_what_differs_within_cycles_widens_the_interval():
    per_cycle_a = np.tile(STRENGTHS_A, (3, 1))
    # one up, one down by the same: each cycle's mean stays
    per_cycle_a[0, 2:] += (8.0, -8.0)
    per_cycle_a[1, 2:] += (-8.0, 8.0)
    halves = [one.high - one.relative for one in estimates(per_cycle_a)]
    half = math.hypot(STUDENT_2 * 0.1 / math.sqrt(3), 1.96 * ERROR)
    assert halves == pytest.approx([1.96 * ERROR, 1.96 * ERROR, half, half], abs=1e-5)


def test_a_cycle_without_torque_is_not_raised_to_the_others():
    # at 0.1 of the usual torque noise would be taken for compression
    found = estimates(np.outer(np.array([1.0, 1.0, 0.1]), STRENGTHS_A))
    evened = np.array([0.7, 0.7, 0.1]) / np.array([0.7, 0.7, 1.0])
    half = math.hypot(STUDENT_2 * evened.std(ddof=1) / math.sqrt(3), 1.96 * ERROR)
    assert found[0].high - found[0].relative == pytest.approx(half, abs=1e-5)
