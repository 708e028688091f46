"""The library's words in the reader's language: names of engines, sources, how they are numbered.

The rows keep English, as `data/library.json` has it; what a shop writes of its own engines stands
as it is. A test holds that every text of the library is here.
"""

from shopdiag.people.core.words import gettext
from shopdiag.people.core.words import gettext_noop as _

_NAME_PARTS = frozenset(
    {
        _("Inline twin"),
        _("Inline three"),
        _("Inline four"),
        _("Inline five"),
        _("Inline six"),
        _("Narrow-angle six"),
        _("Flat four"),
        _("Flat six"),
        _("V twin 45°"),
        _("even 360"),
        _("odd-fire 150/90"),
        _("odd-fire 90/54"),
        _("odd-fire 54/90"),
        _("semi-even 132/108"),
    }
)
_SENTENCES = frozenset(
    {
        _("Common practice; confirm on the engine or in the manufacturer's data."),
        _(
            "Common practice: two staggered rows under one head, counted through as one row; "
            "confirm on the engine or in the manufacturer's data."
        ),
        _("No published source at hand; confirm on the engine or in the manufacturer's data."),
        _(
            "From the front, the end opposite the flywheel (DIN 73021 counts this way). "
            "Manufacturers differ: confirm on the engine."
        ),
        _(
            "From the front, bank A first and then bank B (DIN 73021 counts this way; bank A is "
            "then the left one for somebody who faces the front end). Manufacturers differ, and "
            "some count from the flywheel end (ISO 1204): confirm on the engine."
        ),
        _(
            "From the front, odd numbers on bank A and even ones on bank B, as many manufacturers "
            "count. The bank that sits further forward usually holds cylinder 1 (common "
            "practice): confirm on the engine."
        ),
        _(
            "From the flywheel end, bank A first and then bank B (ISO 1204 counts from that end). "
            "Manufacturers differ: confirm on the engine."
        ),
    }
)


def library_name(name: str) -> str:
    """Return an engine's name of the library; layout codes and firing orders stay."""
    parts = name.split(", ")
    return ", ".join(gettext(part) if part in _NAME_PARTS else part for part in parts)


def library_sentence(text: str) -> str:
    """Return a source or a numbering of the library."""
    return gettext(text) if text in _SENTENCES else text
