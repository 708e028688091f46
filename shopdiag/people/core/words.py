"""What people read, in the reader's language, from packages that know no framework.

English texts are the message ids. `gettext` and its kin translate at once, where a reader is
waiting. `say` keeps a text with what fills it, and words it each time it is read: so it may be a
constant, or be made by a worker and stored. Without `translate_by` all is English.
"""

import gettext as standard
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Protocol

from shopdiag.people.core.numerals import fillable


class Translator(Protocol):
    """Whoever knows the reader's language, each time it is asked; for threads at once."""

    def gettext(self, message: str, /) -> str: ...
    def ngettext(self, singular: str, plural: str, number: int, /) -> str: ...
    def pgettext(self, context: str, message: str, /) -> str: ...


_AS_IT_STANDS = "{words}"
_translator: Translator = standard.NullTranslations()


def translate_by(translator: Translator) -> Translator:
    """Let a translator word all texts from now on, and return the one before.

    Called once, by the wiring, before anybody reads.
    """
    global _translator  # the one place where a framework is let in
    before, _translator = _translator, translator
    return before


def gettext(message: str) -> str:
    """Return a text in the reader's language."""
    return fillable(_translator.gettext(message))


def ngettext(singular: str, plural: str, number: int) -> str:
    """Return a text in the form that goes with a number."""
    return fillable(_translator.ngettext(singular, plural, number))


def pgettext(context: str, message: str) -> str:
    """Return a short text whose meaning depends on where it stands."""
    return fillable(_translator.pgettext(context, message))


def gettext_noop(message: str) -> str:
    """Return a text as it is, marked for translators; who reads it translates it."""
    return message


@dataclass(frozen=True, slots=True)
class Text:
    """A text that is worded when it is read, by `str` or in a template.

    Parameters
    ----------
    message, plural
        English, with the names of figures in {braces}; `plural` where the form goes with `count`.
    figures
        What fills it: names to words that stand as they are, or other texts.
    """

    message: str
    figures: "tuple[tuple[str, str | Text], ...]" = ()
    plural: str = ""
    count: int = 0

    def __str__(self) -> str:
        if not self.figures:
            return gettext(self.message) if self.message else ""
        if self.plural:
            translated = ngettext(self.message, self.plural, self.count)
        else:
            translated = gettext(self.message)
        if self.message == _AS_IT_STANDS:
            return translated.format_map(dict(self.figures))
        try:
            return translated.format(**dict(self.figures))
        except (LookupError, ValueError, AttributeError, TypeError):
            # a translation that asks for what is not there must not cost the reader the sentence
            english = self.plural if self.plural and self.count != 1 else self.message
            return english.format(**dict(self.figures))

    def __bool__(self) -> bool:
        return bool(self.message)

    def filled(self, **figures: object) -> "Text":
        """Return the same text with what fills it."""
        return replace(self, figures=_plain(figures))

    def to_json(self) -> dict[str, Any]:
        """Return plain JSON values; `from_json` reads them back."""
        figures = {n: f.to_json() if isinstance(f, Text) else f for n, f in self.figures}
        plural = {"plural": self.plural, "count": self.count} if self.plural else {}
        return {"say": self.message} | ({"figures": figures} if figures else {}) | plural

    @classmethod
    def from_json(cls, data: str | Mapping[str, Any]) -> "Text":
        """Read what `to_json` wrote, or a sentence that was stored as it was told."""
        if isinstance(data, str):
            return cls(data)
        figures = data.get("figures", {}).items()
        return cls(
            data["say"],
            tuple((n, f if isinstance(f, str) else cls.from_json(f)) for n, f in figures),
            data.get("plural", ""),
            data.get("count", 0),
        )


NOTHING = Text("")


def say(message: str, **figures: object) -> Text:
    """Return a text with what fills it, worded when it is read."""
    return Text(message, _plain(figures))


def say_count(singular: str, plural: str, count: int, **figures: object) -> Text:
    """Return a text in the form that goes with a count, which fills {count}."""
    return Text(singular, _plain({"count": count} | figures), plural, count)


def worded(value: Any) -> Any:  # noqa: ANN401 - any plain JSON value
    """Return plain JSON values with the texts in them in the reader's language."""
    if isinstance(value, Mapping):
        if "say" in value:
            return str(Text.from_json(value))
        return {name: worded(part) for name, part in value.items()}
    return [worded(part) for part in value] if isinstance(value, list) else value


def stays(words: object) -> Text:
    """Return words that stand as they are in every language."""
    return Text(_AS_IT_STANDS, _plain({"words": words}))


def _plain(figures: Mapping[str, object]) -> tuple[tuple[str, "str | Text"], ...]:
    return tuple((n, f if isinstance(f, Text) else str(f)) for n, f in figures.items())
