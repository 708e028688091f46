"""Bank against bank over several captures of one engine in one state."""

import math
from collections.abc import Sequence
from statistics import fmean, stdev

from engines.core.positions import bank_labels
from shopdiag.people.core.words import gettext as _
from traces.core.pooling.random_effects import student_t
from traces.core.report import ONE_OF_TWO, BankDifference, Report, apart_words


def pool_banks(reports: Sequence[Report]) -> BankDifference | None:
    """Return how the banks differ by all captures that compare the same two.

    Parameters
    ----------
    reports
        Of one engine in one state; those without banks are passed over.

    Returns
    -------
    BankDifference or None
        `uneven` where half of the captures or more call it so, of the bank that is weaker on the
        mean. None where fewer than two captures compare the same two banks.

    Notes
    -----
    What the method gets wrong about an engine comes back in every capture of it, so that
    intervals do not shrink by pooling; what differs between captures adds to them as squares,
    with Student's t.
    """
    compared = [r for r in reports if r.bank_difference is not None and len(r.banks) == 2]
    if not compared:
        return None
    first, second = (bank.cylinders for bank in compared[0].banks)
    found = [
        r.bank_difference
        for r in compared
        if r.bank_difference is not None and {b.cylinders for b in r.banks} == {first, second}
    ]
    if len(found) < 2:
        return None
    points = [d.points if d.weaker == second else -d.points for d in found]
    mean = fmean(points)
    weaker = second if mean >= 0 else first
    own = math.sqrt(fmean((d.high - d.points) ** 2 for d in found))
    between = student_t(len(found) - 1) * stdev(points) / math.sqrt(len(found))
    half = math.hypot(own, between)
    uneven = sum(d.call == "uneven" and d.weaker == weaker for d in found)
    return BankDifference(
        points=abs(mean),
        low=abs(mean) - half,
        high=abs(mean) + half,
        weaker=weaker,
        call="uneven" if 2 * uneven >= len(found) else "even",
    )


def pooled_bank_line(reports: Sequence[Report]) -> str:
    """Return what several captures say of the banks together; "" where they do not."""
    difference = pool_banks(reports)
    if difference is None:
        return ""
    compared = next(r for r in reports if r.bank_difference is not None)
    banks = [bank.cylinders for bank in compared.banks]
    apart = apart_words(difference)
    if difference.call == "even":
        return _("Bank against bank: even; they differ by {apart}.").format(apart=apart)
    weaker = bank_labels(banks)[banks.index(difference.weaker)]
    return _("Bank against bank: {weaker} is weaker by {apart}. {one_of_two}").format(
        weaker=weaker, apart=apart, one_of_two=ONE_OF_TWO
    )
