"""One bank of an engine against the other: whether a whole bank is low, as by its cam timing."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing
from numpy.typing import NDArray

from traces.core.findings import Finding, finding
from traces.core.humps import Limits, half_width
from traces.core.report import BankBalance, BankDifference, BankMean
from traces.core.setup import Banks
from traces.core.waveform import Floats

_STANDS_OUT = 0.10
"""From which a cylinder's difference to the rest of its bank is its own: bank-mates of sound
simulated engines lie within 2 to 3 % (standard deviation)."""
_BESIDE_A_FAULT = 1.6
"""Factor on what is asked where a cylinder stands out: figures of the others suffer from it."""
_HIGH_FROM = 1.10
_LARGE_BANK, _OF_SMALL = 5, 0.92
"""Up to how many cylinders a share of the limit is enough where banks fire evenly: larger banks
show a point larger than they are. Sound simulated engines came out up to 4.6 points apart with
small banks, and once 5.4 with large ones, which did lie 4.2 apart."""
_LEAST_WITHOUT_ONE = 0.5
"""Share of the limit that has to be left without the cylinder that speaks most for it."""
_NOT_BY_SCATTER = 0.93
"""How sure it must be that the difference is not one of cylinders that scatter within their banks,
by Student's t; banks that are late as a whole keep their cylinders alike."""
_MOST_LEFT_OUT = 1
_NEARLY = 0.85
"""Share of the limit from which a bank low as a whole is doubtful: figures are 1.6 points off
(RMS)."""
_WIDE_POINTS = 8.0
"""Difference up to which an interval may reach without a word: one tooth of a camshaft makes
4 to 22 points in simulated engines."""


@dataclass(frozen=True, slots=True, eq=False)
class CylinderFigures:
    """Figures of all cylinders, by firing position.

    Parameters
    ----------
    numbers
        Cylinder numbers, shape (n,).
    relative
        Relative compression, shape (n,).
    per_cycle
        The same in each engine cycle, cycles brought to one level, shape (cycles, n).
    covariance
        Of what the method gets wrong, shape (n, n): what is wrong with all cylinders of a bank
        alike does not average out.
    is_even_fire
        Whether firings are evenly spaced. Where they are not, the spacing alternates as the
        banks do, and wrong angles look like a bank.
    """

    numbers: tuple[int, ...]
    relative: Floats
    per_cycle: Floats
    covariance: Floats
    is_even_fire: bool = True


def compare_banks(
    banks: Banks, figures: CylinderFigures, limits: Limits, even_within: float
) -> BankBalance:
    """Compare the weakest bank with the others.

    Parameters
    ----------
    banks
        Cylinder numbers of each bank; together all of `figures`.
    limits
        For banks of a single cylinder, whose difference is that cylinder's.
    even_within
        Difference of the means, as a share of a sound cylinder, from which banks are uneven;
        a part of it is enough of small ones that fire evenly.
    """
    kept = [_alike(bank, figures, limits) for bank in banks]
    means = [float(figures.relative[at].mean()) for at in kept]
    weaker = int(np.argmin(means))
    others = np.concatenate([at for i, at in enumerate(kept) if i != weaker])
    weights = _mean_of(others, figures) - _mean_of(kept[weaker], figures)
    points = 100 * float(weights @ figures.relative)
    half = 100 * _half_width(weights, figures)
    left_out = sorted(set(figures.numbers) - {figures.numbers[i] for at in kept for i in at})
    limit = _limit_for(banks, even_within) if figures.is_even_fire else even_within
    clear = half <= points and len(left_out) <= _MOST_LEFT_OUT
    low, high = figures.relative[kept[weaker]], figures.relative[others]
    single = None if left_out else 1 - limits.watch_below
    asked = _BESIDE_A_FAULT * even_within if left_out else limit
    uneven = clear and _is_whole_bank(low, high, limit=asked, limit_of_single=single)
    nearly = _is_whole_bank(low, high, limit=_NEARLY * limit, limit_of_single=None)
    return BankBalance(
        banks=tuple(_bank_mean(bank, at, figures) for bank, at in zip(banks, kept, strict=True)),
        difference=BankDifference(
            points=points,
            low=points - half,
            high=points + half,
            weaker=banks[weaker],
            call="uneven" if uneven else "even",
        ),
        left_out=tuple(left_out),
        is_doubtful=not uneven
        and (nearly or points >= 100 * limit or points + half > _WIDE_POINTS),
    )


def _limit_for(banks: Sequence[Sequence[int]], even_within: float) -> float:
    """Return from which difference banks of so many cylinders that fire evenly are uneven."""
    is_large = min(len(bank) for bank in banks) >= _LARGE_BANK
    return even_within * (1.0 if is_large else _OF_SMALL)


def _is_whole_bank(
    low: Floats, others: Floats, *, limit: float, limit_of_single: float | None
) -> bool:
    """Return whether a bank is lower than the others as a whole, not by one cylinder of it.

    `limit_of_single` is for a bank of one cylinder; None where a bank of more has one left.
    """
    difference = float(others.mean() - low.mean())
    if min(low.size, others.size) == 1:
        return limit_of_single is not None and difference >= limit_of_single
    without = float(np.sort(others)[:-1].mean() - np.sort(low)[1:].mean())
    over_scatter = float(scipy.special.stdtrit(low.size + others.size - 2, _NOT_BY_SCATTER))
    return (
        difference >= limit
        and without >= _LEAST_WITHOUT_ONE * limit
        and difference >= over_scatter * _scatter_error(low, others)
    )


def _scatter_error(one: Floats, other: Floats) -> float:
    """Return the standard error of a difference of means by the scatter within both."""
    squares = float(((one - one.mean()) ** 2).sum() + ((other - other.mean()) ** 2).sum())
    variance = squares / (one.size + other.size - 2)
    return math.sqrt(variance * (1 / one.size + 1 / other.size))


def bank_findings(balance: BankBalance, suspects: Sequence[int]) -> list[Finding]:
    """Say which bank is lower, or that this trace does not tell.

    Parameters
    ----------
    suspects
        Cylinders called low: where they are all of a bank of one, they speak for themselves.
    """
    difference = balance.difference
    points, low, high = (
        f"{value:.0f}" for value in (difference.points, difference.low, difference.high)
    )
    if difference.call == "uneven":
        if len(difference.weaker) == 1 and difference.weaker[0] in suspects:
            return []
        cylinders = ", ".join(map(str, difference.weaker))
        return [finding("bank-uneven", cylinders=cylinders, points=points, low=low, high=high)]
    if min(len(bank.cylinders) for bank in balance.banks) == 1:
        return []
    if balance.is_doubtful:
        return [finding("bank-uncertain", points=points, low=low, high=high)]
    return []


def _alike(bank: Sequence[int], figures: CylinderFigures, limits: Limits) -> NDArray[np.intp]:
    """Return the positions of a bank's cylinders without those that stand out among them.

    A cylinder high by liquid or carbon goes first, then those low by a fault of their own; a
    bank low as a whole keeps them all.
    """
    kept = [i for i, number in enumerate(figures.numbers) if number in bank]
    while len(kept) > 1:
        values = figures.relative[kept]
        rest = (values.sum() - values) / (values.size - 1)
        high, low = int(np.argmax(values)), int(np.argmin(values))
        if values[high] > max(_HIGH_FROM, rest[high] + _STANDS_OUT):
            kept.pop(high)
        elif values[low] < min(limits.watch_below, rest[low] - _STANDS_OUT):
            kept.pop(low)
        else:
            break
    return np.array(kept, dtype=np.intp)


def _mean_of(at: NDArray[np.intp], figures: CylinderFigures) -> Floats:
    """Return the weights of a mean over positions, shape (n,)."""
    weights = np.zeros(figures.relative.size)
    weights[at] = 1 / at.size
    return weights


def _half_width(weights: Floats, figures: CylinderFigures) -> float:
    method = math.sqrt(max(float(weights @ figures.covariance @ weights), 0.0))
    return half_width(figures.per_cycle @ weights, method)


def _bank_mean(bank: tuple[int, ...], at: NDArray[np.intp], figures: CylinderFigures) -> BankMean:
    weights = _mean_of(at, figures)
    mean = float(weights @ figures.relative)
    half = _half_width(weights, figures)
    return BankMean(bank, mean, max(0.0, mean - half), mean + half)
