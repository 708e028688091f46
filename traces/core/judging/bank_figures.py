"""Figures of cylinders that agree with what is said of their banks."""

from dataclasses import dataclass, replace

import numpy as np

from traces.core.humps import Limits, find_reference
from traces.core.judging.bank_balance import CylinderFigures, compare_banks
from traces.core.preparation import Freed, Measured
from traces.core.report import BankBalance
from traces.core.setup import AnalysisSetup
from traces.core.waveform import Floats

_DEVIATIONS = 1.96  # in half a 95 % interval


@dataclass(frozen=True, slots=True, eq=False)
class ComparedBanks:
    """What was measured, and how the banks of the engine differ by it."""

    measured: Measured
    balance: BankBalance


def compared_banks(
    measured: Measured, setup: AnalysisSetup, limits: Limits
) -> ComparedBanks | None:
    """Compare the banks of an engine, and let its cylinders' figures follow them.

    What is known of cylinders, each alone, pulls them together, and half of what a bank lacks may
    be taken for a load that comes every other firing. Where a bank differs as a whole, the
    stronger bank is the measure of all, and where the fit with free banks has them further apart,
    its figures are the cylinders'. Where banks may differ, intervals hold both.

    Parameters
    ----------
    measured
        With one labeling only, else cylinders have no bank.
    setup
        Whose banks are compared.
    limits
        Of the cylinders' calls.

    Returns
    -------
    ComparedBanks or None
        None where the set-up names no banks, or cylinders are not known.
    """
    if setup.banks is None or measured.alternatives or len(measured.labelings) != 1:
        return None
    if (setup.opened_plug,) in setup.banks:
        return None  # nothing is left of that bank
    mean = find_reference(measured.strengths, limits, measured.raised).mean
    freed = measured.banks_freed or _as_measured(measured)
    figures = CylinderFigures(
        numbers=measured.labelings[0],
        relative=freed.strengths / mean,
        per_cycle=measured.cycles_at_one_level() / mean,
        covariance=freed.covariance,
        is_even_fire=setup.firing_order.is_even,
    )
    balance = compare_banks(setup.banks, figures, limits, setup.bank_even_within)
    if measured.banks_freed is None:
        return ComparedBanks(measured, balance)
    if balance.difference.call == "uneven":
        return _by_stronger_bank(measured, freed, balance, mean)
    if _may_differ(balance, setup.bank_even_within):
        measured = replace(measured, method_errors=_holding_both(measured, freed, mean, mean))
    return ComparedBanks(measured, balance)


def _may_differ(balance: BankBalance, even_within: float) -> bool:
    """Return whether a whole bank may be low, and not a cylinder or two of it."""
    is_apart = balance.difference.points >= 100 * even_within
    return balance.is_doubtful and is_apart and not balance.left_out


def _as_measured(measured: Measured) -> Freed:
    errors, correlation = measured.method_errors, measured.error_correlation
    if correlation is None:
        correlation = np.eye(errors.size)
    return Freed(measured.strengths, correlation * np.outer(errors, errors))


def _by_stronger_bank(
    measured: Measured, freed: Freed, balance: BankBalance, mean: float
) -> ComparedBanks:
    """Return figures relative to the stronger bank, or banks; those of free banks where clear."""
    numbers = np.array(measured.labelings[0])
    low = np.isin(numbers, balance.difference.weaker)
    kept = ~np.isin(numbers, balance.left_out)
    measure = ~low & kept
    fitted = measured.strengths

    def apart(strengths: Floats) -> float:
        return float(1 - strengths[low & kept].mean() / strengths[measure].mean())

    half = (balance.difference.high - balance.difference.points) / 100
    level = float(freed.strengths[measure].mean())
    errors = _holding_both(measured, freed, float(fitted[measure].mean()), level)
    if apart(freed.strengths) - half > apart(fitted):
        moved = freed.strengths - fitted
        errors = np.maximum(measured.method_errors, np.sqrt(np.diag(freed.covariance)))
        measured = replace(
            measured, strengths=freed.strengths, per_cycle=measured.per_cycle + moved
        )
    measured = replace(measured, method_errors=errors, measure=measure)
    return ComparedBanks(measured, balance.relative_to(level / mean))


def _holding_both(measured: Measured, freed: Freed, fitted_level: float, level: float) -> Floats:
    """Return errors with which each interval holds the figure with a bank free to differ."""
    off = np.abs(freed.strengths / level - measured.strengths / fitted_level) / _DEVIATIONS
    return np.maximum(measured.method_errors, np.hypot(off, np.sqrt(np.diag(freed.covariance))))
