"""Amounts of money: the one way they are read, and the one way they are written."""

import re

from shopdiag.people.core.numerals import written

UNITS_PER_EURO = {
    **dict.fromkeys(("EUR", "USD", "GBP", "CHF", "CAD", "AUD", "NZD", "SGD"), 1.0),
    **dict.fromkeys(("SEK", "NOK", "DKK", "CZK", "CNY", "HKD", "ZAR", "MXN", "THB"), 10.0),
    **dict.fromkeys(("JPY", "INR", "PHP", "HUF", "ISK"), 100.0),
    **dict.fromkeys(("KRW", "CLP"), 1_000.0),
    **dict.fromkeys(("IDR", "VND"), 10_000.0),
}
"""Rounded to powers of ten, which is enough for a digit too many; others are not asked back."""

_PARTING = " .,'\u2019\xa0\u202f"
BARE_NUMBER = re.compile(rf"\d+(?:[{_PARTING}]\d+)*")
_AMOUNT = re.compile(
    rf"(?P<whole>[1-9]\d{{0,2}}(?:(?P<parting>[{_PARTING}])\d{{3}})(?:(?P=parting)\d{{3}})*|\d+)"
    r"(?:(?!(?P=parting))[.,](?P<cents>\d{1,2}))?"
)
_WORD = re.compile(r"[^\W\d]+")
_BESIDE = {"up", "to", "max", "at", "most", "about", *map(str.lower, UNITS_PER_EURO)}


def amount_read(amount: str) -> float | None:
    """Return the number in an amount; None where it has none or several, or says more.

    A point or comma before three digits parts thousands: amounts have two decimals at most.
    """
    found = BARE_NUMBER.findall(amount)
    beside = {word.lower() for word in _WORD.findall(BARE_NUMBER.sub(" ", amount))}
    if len(found) != 1 or beside - _BESIDE or re.search(r"[-\u2212]\s*\d", amount):
        return None
    read = _AMOUNT.fullmatch(found[0])
    if read is None:
        return None
    digits = "".join(filter(str.isdecimal, read["whole"]))
    return float(f"{digits}.{read['cents'] or 0}")


def money(amount: float, currency: str = "") -> str:
    """Return an amount with its currency, cents only where there are some.

    Written as in English, to fill in a text of `jobs.core`, which writes it as the reader does.
    """
    figure = f"{amount:,.{0 if float(amount).is_integer() else 2}f}"
    return f"{figure} {currency}".strip()


def money_written(amount: float, currency: str = "") -> str:
    """Return an amount with its currency as the reader writes numbers."""
    return f"{written(money(amount))} {currency}".strip()


def amount_written(amount: str) -> str:
    """Return an amount that somebody typed as the reader writes numbers; else as it was typed."""
    value = amount_read(amount)
    if value is None:
        return amount
    figure = money_written(value)
    return BARE_NUMBER.sub(lambda _: figure, amount, count=1)


def amount_with_currency(amount: str, currency: str) -> str:
    """Return an amount with the currency; one that says more than a number stays as typed."""
    amount = amount.strip()
    return f"{amount} {currency}" if BARE_NUMBER.fullmatch(amount) else amount
