"""How long plugs take to reach: which figures are asked back."""

from collections.abc import Iterable

from shopdiag.people.core.words import gettext as _

MOST_MINUTES = 1440
MOST_USUAL_MINUTES = 180
"""Hardly any plugs take longer than three hours to reach (common practice); 900 is mostly 90."""


def doubts_about_access(minutes: Iterable[int]) -> tuple[str, ...]:
    """Return why minutes to reach plugs are likely a slip; empty where they are not."""
    most = max(minutes, default=0)
    if most <= MOST_USUAL_MINUTES:
        return ()
    return (
        _(
            "{minutes:,} minutes is {hours:.3g} hours to reach plugs. Check the "
            "figure; confirm it if it is right."
        ).format(minutes=most, hours=most / 60),
    )
