"""Row numbers as they come out of an address or a form."""

_MOST_DIGITS = 18
"""More does not fit the database's 64 bits, and far more than that is no number at all."""


def is_row_id(text: str) -> bool:
    """Return whether `text` can be a row's number: plain digits, not too many."""
    return text.isascii() and text.isdecimal() and len(text) <= _MOST_DIGITS
