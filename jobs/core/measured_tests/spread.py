"""Which rows lie too far from the mean, where one far out must not condemn the others."""

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import fmean, median

LEAST_COMPARED = 3
"""Of two rows that differ nothing tells which one is odd."""
SLACK = 1e-6
"""Figures turned from another unit must not miss a limit by rounding."""


@dataclass(frozen=True, slots=True)
class Spread:
    """How rows lie about their middle.

    Parameters
    ----------
    middle
        What the rows were held against.
    odd
        The rows that lie too far from it.
    is_settled
        Whether the rows tell which of them are odd; where not, `odd` is empty.
    is_of_mean
        Whether `middle` is the mean; else it is the median.
    """

    middle: float
    odd: frozenset[int | None]
    is_settled: bool
    is_of_mean: bool


def spread_of(values: Mapping[int | None, float], apart: float) -> Spread:
    """Return which rows lie more than `apart` from the others.

    A row is odd where it misses the mean and the median. One row far out moves the mean: where
    half of the rows or more miss it, the median alone counts. Where more than half miss the
    median too, nothing tells which are odd.

    Parameters
    ----------
    values
        By row; at least one.
    apart
        What a published rule allows from the mean, in the unit of the values.
    """
    mean, middle = fmean(values.values()), median(values.values())
    from_mean = {row for row, v in values.items() if abs(v - mean) > apart + SLACK}
    from_middle = {row for row, v in values.items() if abs(v - middle) > apart + SLACK}
    if len(values) < LEAST_COMPARED:
        return Spread(mean, frozenset(), is_settled=False, is_of_mean=True)
    if 2 * len(from_mean) < len(values):
        odd = from_mean & from_middle
        return Spread(mean, frozenset(odd), is_settled=True, is_of_mean=True)
    if 2 * len(from_middle) > len(values):
        return Spread(middle, frozenset(), is_settled=False, is_of_mean=False)
    # where both say the same, the rule is quoted as it was published
    is_of_mean = from_mean == from_middle
    return Spread(
        mean if is_of_mean else middle,
        frozenset(from_middle),
        is_settled=True,
        is_of_mean=is_of_mean,
    )
