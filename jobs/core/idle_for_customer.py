"""What an idling engine showed before the repair and after it, in words for the customer."""

from collections.abc import Mapping

from jobs.core.pressure import percent
from shopdiag.people.core.words import gettext as _


def before_for_customer(
    shares: Mapping[int, float], missed: Mapping[int, float] | None = None
) -> str:
    """Return what weak cylinders added at idle, for the customer; empty without figures.

    Parameters
    ----------
    shares
        Over what the good ones add, by cylinder.
    missed
        The share of firings that gave next to nothing, of cylinders that come and go.
    """
    return " ".join(
        _(
            "With the engine idling, cylinder {number} came and went: it gave next to nothing in "
            "about {figure} of its firings."
        ).format(number=number, figure=percent(missed[number]))
        if missed and missed.get(number)
        else _(
            "With the engine idling, cylinder {number} gave about {figure} of what the good "
            "cylinders gave."
        ).format(number=number, figure=percent(share))
        for number, share in shares.items()
    )


def after_for_customer(
    shares: Mapping[int, float],
    missed: Mapping[int, float] | None = None,
    *,
    is_even: bool,
    is_alike: bool = True,
) -> str:
    """Return what cylinders add at idle after the repair, for the customer.

    Parameters
    ----------
    shares, missed
        As for `before_for_customer`.
    is_even
        Whether no cylinder is weak.
    is_alike
        Whether all are clearly good, none between weak and good.
    """
    figures = ", ".join(
        _("cylinder {number} next to nothing in about {figure} of its firings").format(
            number=number, figure=percent(missed[number])
        )
        if missed and missed.get(number)
        else _("cylinder {number} about {figure}").format(number=number, figure=percent(share))
        for number, share in shares.items()
    )
    if not is_even:
        said = _("Recorded again after the repair, the engine still idles unevenly.")
    elif is_alike:
        said = _("Recorded again after the repair, all cylinders give alike at idle.")
    else:
        said = _(
            "Recorded again after the repair, no cylinder is clearly weak at idle, but not all are "
            "clearly good."
        )
    return f"{said[:-1]}: {figures}." if figures else said
