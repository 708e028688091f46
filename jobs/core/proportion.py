"""A proportion with the interval that its count leaves open."""

from dataclasses import dataclass
from math import sqrt

Z_95 = 1.959964
"""The normal deviate that leaves 2.5 % beyond it on either side."""


@dataclass(frozen=True, slots=True)
class Proportion:
    """`count` of `total`, each from 0; `total` may be 0, and then nothing is known."""

    count: int
    total: int

    @property
    def share(self) -> float | None:
        """The share from 0 to 1; None of nothing."""
        return self.count / self.total if self.total else None

    @property
    def interval(self) -> tuple[float, float] | None:
        """The score interval of 95 %; None of nothing.

        Wilson, Probable inference, the law of succession, and statistical inference, Journal of
        the American Statistical Association 22 (1927), pp. 209-212. It stays within 0 and 1 and
        holds for small counts, where the plain one is zero wide at none and all.
        """
        if not self.total:
            return None
        p, n = self.count / self.total, self.total
        wide = Z_95**2 / n
        middle = (p + wide / 2) / (1 + wide)
        half = Z_95 * sqrt(p * (1 - p) / n + wide / (4 * n)) / (1 + wide)
        return max(0.0, middle - half), min(1.0, middle + half)
