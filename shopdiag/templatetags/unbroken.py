"""VINs and firing orders inside text, which are read as one piece."""

import re

from django.utils.functional import Promise
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

_PIECE = re.compile(r"(\b(?=[A-Z]*[0-9])[A-HJ-NPR-Z0-9]{17}\b|\b\d{1,2}(?:-\d{1,2})+\b)")


_LONG_CHARACTERS = 18
"""From here a piece is set smaller on a phone: a VIN is shorter, a twelve's order longer."""


def keep_whole(text: object) -> SafeString:
    """Return a text, escaped, whose VINs and firing orders no line breaks.

    What is markup already comes back as it is.
    """
    if isinstance(text, Promise):
        text = str(text)
    if isinstance(text, SafeString):
        return text
    # what the pattern matched stands at every second place
    pieces = enumerate(_PIECE.split(str(text)))
    return format_html_join(
        "",
        "{}",
        (
            (format_html('<span class="{}">{}</span>', _class(piece), piece) if n % 2 else piece,)
            for n, piece in pieces
        ),
    )


def _class(piece: str) -> str:
    return "unbroken unbroken-long" if len(piece) >= _LONG_CHARACTERS else "unbroken"
