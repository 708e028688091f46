"""What the shop's own results say beside a capture that is about to be signed."""

from jobs.core.learning import LEAST_CHECKED, HitRate
from jobs.core.proportion import Proportion
from shopdiag.people.core.words import gettext as _


def confirmed_line(rate: HitRate, *, is_uneven: bool, on_this_engine: bool) -> str:
    """Return how calls of this kind fared so far; empty where too few were checked.

    Parameters
    ----------
    is_uneven
        Whether the capture calls cylinders suspect; else what counts is how those called good
        were found.
    on_this_engine
        Whether the calls are those of this engine, or of all engines.
    """
    kind = rate.suspect if is_uneven else rate.sound
    if kind.total < LEAST_CHECKED:
        return ""
    return _line(is_uneven, on_this_engine).format(**_figures(kind))


def _line(is_uneven: bool, on_this_engine: bool) -> str:
    if is_uneven and on_this_engine:
        return _(
            "In the newest jobs here, {count} of {total} suspect calls on this engine were "
            "confirmed by gauge or leak-down ({low} to {high} %)."
        )
    if is_uneven:
        return _(
            "In the newest jobs here, {count} of {total} suspect calls on any engine were "
            "confirmed by gauge or leak-down ({low} to {high} %)."
        )
    if on_this_engine:
        return _(
            "In the newest jobs here, {count} of {total} cylinders called good on this engine"
            " were found good by gauge or leak-down ({low} to {high} %)."
        )
    return _(
        "In the newest jobs here, {count} of {total} cylinders called good on any engine "
        "were found good by gauge or leak-down ({low} to {high} %)."
    )


def _figures(kind: Proportion) -> dict[str, int]:
    low, high = kind.interval or (0.0, 1.0)
    return {
        "count": kind.count,
        "total": kind.total,
        "low": round(100 * low),
        "high": round(100 * high),
    }
