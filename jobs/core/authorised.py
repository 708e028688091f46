"""Minutes and amounts a customer agreed to: how they read, and which are asked back."""

import re

from jobs.core.amounts import UNITS_PER_EURO, amount_read, money
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

USUAL_MINUTES = (10, 300)
"""Of a diagnosis: below it mostly hours typed as minutes, above it a digit too many."""

USUAL_REPAIR_MINUTES = (10, 2_400)
"""Of a repair: up to a week of work, as for an engine rebuilt (common practice)."""

FAR_APART = 5
"""An order's minutes that many times less than authorised are a slip; any more need a call."""

USUAL_DIAGNOSIS = (20.0, 1_000.0)
USUAL_REPAIR = (40.0, 10_000.0)
"""In currencies whose unit buys about as much as a euro (common practice)."""

_CURRENCY = re.compile(r"(?<![A-Za-z])[A-Za-z]{3}(?![A-Za-z])")
_ASK = gettext_noop("Check the figure; confirm it if it is right.")


def doubts_about_minutes(
    minutes: int,
    *,
    authorised: int | None = None,
    usual: tuple[int, int] = USUAL_MINUTES,
) -> tuple[str, ...]:
    """Return why minutes are likely a slip, or need a call; empty where they do not.

    Parameters
    ----------
    minutes
        As typed.
    authorised
        What the customer authorised, for the minutes of an order; None for the customer's own,
        and where none were noted.
    usual
        Least and most: `USUAL_MINUTES` or `USUAL_REPAIR_MINUTES`.
    """
    if minutes == authorised:
        return ()
    least, most = usual
    if minutes < least:
        return (
            _("{minutes:,} minutes is next to nothing; were hours meant? {ask}").format(
                minutes=minutes, ask=_(_ASK)
            ),
        )
    if minutes > most:
        return (
            _("{minutes:,} minutes is {hours:.3g} hours. {ask}").format(
                minutes=minutes, hours=minutes / 60, ask=_(_ASK)
            ),
        )
    if authorised is not None and minutes > authorised:
        return (
            _(
                "{minutes:,} minutes is more than the {authorised:,} that the customer "
                "authorised. Agree on more first, or confirm that the order says so."
            ).format(minutes=minutes, authorised=authorised),
        )
    if authorised is not None and minutes * FAR_APART < authorised:
        return (
            _(
                "{minutes:,} minutes is far from the {authorised:,} that were authorised. {ask}"
            ).format(minutes=minutes, authorised=authorised, ask=_(_ASK)),
        )
    return ()


def order_minutes_words(minutes: int | None, authorised: int | None, *, is_repair: bool) -> str:
    """Return an order's time as it stands beside the word “Authorised”.

    Only what the customer authorised reads so; what an order plans beyond it is told apart.
    """
    if minutes is None:
        return _("time not noted: ask before you start")
    if is_repair and authorised is None:
        return _("{minutes:,} minutes planned for the agreed repair").format(minutes=minutes)
    if authorised is None:
        return _("no time noted, {minutes:,} minutes planned: ask before you start").format(
            minutes=minutes
        )
    if minutes > authorised:
        return _(
            "{authorised:,} minutes; {minutes:,} are planned: call before the rest is used"
        ).format(authorised=authorised, minutes=minutes)
    return _("{minutes:,} minutes").format(minutes=minutes)


def doubts_about_amount(
    amount: str, currency: str, *, usual: tuple[float, float]
) -> tuple[str, ...]:
    """Return why an amount is likely a slip; empty where it is not, or nothing can be said.

    Parameters
    ----------
    amount
        As typed; one that says more than a number, a currency or “up to” is passed over.
    currency
        The shop's; one that stands in the amount wins.
    usual
        Least and most in euros: `USUAL_DIAGNOSIS` or `USUAL_REPAIR`.
    """
    value = amount_read(amount)
    named = [code.upper() for code in _CURRENCY.findall(amount) if code.upper() in UNITS_PER_EURO]
    units = UNITS_PER_EURO.get(named[0] if named else currency.upper())
    if value is None or units is None:
        return ()
    least, most = usual
    told = money(value, named[0] if named else currency)
    if value < least * units:
        return (_("{told} is next to nothing. {ask}").format(told=told, ask=_(_ASK)),)
    if value > most * units:
        return (_("{told} is a lot. {ask}").format(told=told, ask=_(_ASK)),)
    return ()
