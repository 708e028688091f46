"""Cylinders' figures agree with what is said of their banks."""

import numpy as np
import pytest

from engines.core.firing import FiringOrder
from traces.core.humps.reference import Limits
from traces.core.judging.bank_figures import compared_banks
from traces.core.judging.pipeline import estimates_of
from traces.core.preparation.prepared import Freed, Measured
from traces.core.setup import AnalysisSetup

LIMITS = Limits(0.80, 0.88)
ORDER = (1, 4, 3, 6, 2, 5)
SECOND = np.isin(ORDER, (4, 5, 6))


def setup(banks=((1, 2, 3), (4, 5, 6))) -> AnalysisSetup:
    return AnalysisSetup(FiringOrder.even(ORDER), "clamp", 10.0, banks=banks)


def measured(second: float, freed: float, *, error: float = 0.01, **changes) -> Measured:
    """Return an engine whose second bank stands at `second`, and at `freed` where it may differ."""
    strengths = 100 * np.where(SECOND, second, 1.0)
    given = {
        "strengths": strengths,
        "per_cycle": np.tile(strengths, (8, 1)),
        "method_errors": np.full(6, 0.02),
        "hump_strengths": strengths,
        "labelings": (ORDER,),
        "humps": (),
        "offset_deg": 0.0,
        "explained": 1.0,
        "banks_freed": Freed(100 * np.where(SECOND, freed, 1.0), error**2 * np.eye(6)),
    }
    return Measured(**{**given, **changes})


def figures(found: Measured) -> tuple[np.ndarray, np.ndarray]:
    estimates = estimates_of(found, LIMITS)
    relative = np.array([e.relative for e in estimates])
    return relative, np.array([e.high - e.low for e in estimates]) / 2


def test_the_stronger_bank_is_the_measure_of_a_weak_one() -> None:
    # alone, six cylinders within 16 points of each other would all be sound, and their mean 1.00
    before = measured(0.84, 0.84)
    assert figures(before)[0].max() > 1.05
    found = compared_banks(before, setup(), LIMITS)
    assert found is not None
    relative, half = figures(found.measured)
    np.testing.assert_allclose(relative, np.where(SECOND, 0.84, 1.0), atol=1e-9)
    np.testing.assert_allclose(half, 1.96 * 0.02, rtol=1e-6)
    assert [round(b.mean, 9) for b in found.balance.banks] == [1.0, 0.84]
    assert found.balance.difference.points == pytest.approx(16.0)


def test_a_bank_clearly_further_off_is_where_the_free_fit_has_it() -> None:
    found = compared_banks(measured(0.93, 0.70, error=0.04), setup(), LIMITS)
    assert found is not None
    relative, half = figures(found.measured)
    np.testing.assert_allclose(relative, np.where(SECOND, 0.70, 1.0), atol=1e-9)
    np.testing.assert_allclose(half, 1.96 * 0.04, rtol=1e-6)
    assert [e.call for e in estimates_of(found.measured, LIMITS)].count("suspect") == 3


def test_where_both_are_as_likely_intervals_hold_both() -> None:
    # 1.96 * 0.1 * sqrt(2 / 3) = 16 points: the free fit's 17 are no clearer than the one fit's 10
    found = compared_banks(measured(0.90, 0.83, error=0.10), setup(), LIMITS)
    assert found is not None
    relative, half = figures(found.measured)
    np.testing.assert_allclose(relative, np.where(SECOND, 0.90, 1.0), atol=1e-9)
    assert (relative - half)[SECOND].max() < 0.83


def test_a_doubtful_bank_widens_its_cylinders() -> None:
    sure = measured(1.0, 0.80, error=0.15)
    found = compared_banks(sure, setup(), LIMITS)
    assert found is not None
    assert found.balance.is_doubtful
    assert found.balance.difference.call == "even"
    relative, half = figures(found.measured)
    np.testing.assert_allclose(relative, 1.0, atol=1e-9)
    assert (relative - half)[SECOND].max() < 0.80 < (figures(sure)[0] - figures(sure)[1]).min()


def test_two_weak_cylinders_of_a_bank_widen_no_other() -> None:
    strengths = np.where(np.isin(ORDER, (4, 5)), 30.0, np.where(SECOND, 90.0, 100.0))
    before = measured(1.0, 1.0, strengths=strengths, banks_freed=Freed(strengths, 0.2 * np.eye(6)))
    found = compared_banks(before, setup(), LIMITS)
    assert found is not None
    assert found.balance.is_doubtful
    assert found.measured is before


def test_banks_alike_change_nothing() -> None:
    before = measured(1.0, 0.99)
    found = compared_banks(before, setup(), LIMITS)
    assert found is not None
    assert found.measured is before


@pytest.mark.parametrize(
    ("banks", "changes"),
    [
        (None, {}),
        (((1, 2, 3), (4, 5, 6)), {"labelings": (ORDER, (*ORDER[1:], ORDER[0]))}),
        (((1, 2, 3), (4, 5, 6)), {"alternatives": (measured(1.0, 1.0),)}),
    ],
)
def test_without_banks_or_numbers_nothing_is_compared(banks, changes) -> None:
    assert compared_banks(measured(0.7, 0.7, **changes), setup(banks), LIMITS) is None
