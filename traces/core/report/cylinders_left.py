"""Which cylinders a hump may be of, where its number is not known."""

from collections.abc import Sequence

from traces.core.report.results import Report


def fitting_cylinders(report: Report, sequence: Sequence[int]) -> dict[int, tuple[int, ...]]:
    """Return by place of the firing sequence the cylinders that fit.

    A way to lay the firing order fits where it makes the low places one of the sets left open.

    Parameters
    ----------
    sequence
        The firing order that was judged with.

    Returns
    -------
    dict
        Numbers in ascending order; empty where cylinders are known, and where the sets leave
        every cylinder or none, so that nothing is to be left out.
    """
    count = len(sequence)
    low = [e.position - 1 for e in report.estimates if e.call == "suspect"]
    sets = {frozenset(c) for c in report.candidates if c}
    if report.cylinders_known or not low or len(report.estimates) != count:
        return {}
    ways = [
        way
        for way in range(count)
        if frozenset(sequence[(place + way) % count] for place in low) in sets
    ]
    if not 0 < len(ways) < count:
        return {}
    return {
        place + 1: tuple(sorted(sequence[(place + way) % count] for way in ways))
        for place in range(count)
    }
