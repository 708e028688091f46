"""Odometer readings that are asked back: slips beside the last reading and the vehicle's age."""

from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

KM_IN = {"km": 1.0, "mi": 1.609344}
"""Kilometres in one unit; the international mile is exact."""

MOST_KM_A_YEAR = 60_000.0
"""A taxi or courier's year (common practice); private cars do a quarter of it."""

LEAST_KM_A_YEAR = 2_000.0
"""Less is an unusual year; a digit that was left out mostly falls below it."""

MARGIN_YEARS = 0.25
"""Added to the time since the last reading, for a test drive or a tow in between."""

LEAST_RATED_YEARS = 3
MOST_RATED_YEARS = 25
"""A new vehicle may have stood, and one kept for its age is hardly driven."""

MOST_USUAL_KM = 1_000_000.0

_ASK = gettext_noop("Check the figure; confirm it if it is right.")


def doubts_about_odometer(
    reading: int,
    *,
    unit: str,
    last: int | None = None,
    years_since: float = 0.0,
    age_years: int | None = None,
) -> tuple[str, ...]:
    """Return why an odometer reading is likely a slip; empty where it is not.

    Parameters
    ----------
    reading
        In `unit`, `km` or `mi`.
    unit
        The shop's.
    last
        What the vehicle's visit before had; None where nothing is known.
    years_since
        From that visit until now.
    age_years
        This year less the model year; asked only where nothing is known from before.
    """
    if last is not None and reading < last:
        return (
            _(
                "{reading:,} {unit} is less than the {last:,} {unit} of the visit before. {ask}"
            ).format(reading=reading, unit=unit, last=last, ask=_(_ASK)),
        )
    km = reading * KM_IN[unit]
    if last is not None:
        if km - last * KM_IN[unit] > MOST_KM_A_YEAR * (max(years_since, 0.0) + MARGIN_YEARS):
            return (
                _(
                    "{reading:,} {unit} is {more:,} {unit} more than at the visit before. {ask}"
                ).format(reading=reading, unit=unit, more=reading - last, ask=_(_ASK)),
            )
    elif age_years is not None and km > MOST_KM_A_YEAR * (max(age_years, 0) + 1):
        return (
            _("{reading:,} {unit} is a lot for a vehicle of that year. {ask}").format(
                reading=reading, unit=unit, ask=_(_ASK)
            ),
        )
    elif (
        age_years is not None
        and LEAST_RATED_YEARS <= age_years <= MOST_RATED_YEARS
        and km < LEAST_KM_A_YEAR * age_years
    ):
        return (
            _("{reading:,} {unit} is little for a vehicle of that year. {ask}").format(
                reading=reading, unit=unit, ask=_(_ASK)
            ),
        )
    if km > MOST_USUAL_KM:
        return (
            _("{reading:,} {unit} is more than nearly any vehicle has done. {ask}").format(
                reading=reading, unit=unit, ask=_(_ASK)
            ),
        )
    return ()
