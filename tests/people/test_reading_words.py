"""Texts of the pure packages are worded when they are read, in the reader's language."""

import json
from collections.abc import Iterator

import pytest
from django.utils import translation

from shopdiag.people.core import words
from shopdiag.people.core.words import NOTHING, Text, say, say_count, stays, translate_by, worded
from tests.people.marking import Marking


class Mistaken(Marking):
    """One whose translations ask for figures that are not there."""

    def __init__(self, wrong: str) -> None:
        self.wrong = wrong

    def gettext(self, message: str) -> str:
        return f"{message} {self.wrong}"

    def ngettext(self, singular: str, plural: str, number: int) -> str:
        return f"{super().ngettext(singular, plural, number)} {self.wrong}"


@pytest.fixture
def marking() -> Iterator[None]:
    before = translate_by(Marking())
    yield
    translate_by(before)


def test_django_words_them_in_the_service() -> None:
    assert words._translator is translation


def test_english_is_what_stands_in_the_code() -> None:
    low = say("{which}: {share} %", which=say("cylinder {n}", n=3), share=57)
    assert str(low) == "cylinder 3: 57 %"
    assert [str(say_count("{count} cycle", "{count} cycles", n)) for n in (0, 1, 2)] == [
        "0 cycles",
        "1 cycle",
        "2 cycles",
    ]
    assert (str(NOTHING), bool(NOTHING), bool(low)) == ("", False, True)


def test_what_is_kept_is_worded_by_whoever_reads(marking: None) -> None:
    low = say("{which} low", which=say_count("{count} one", "{count} ones", 2))
    assert str(low) == "⟦⟦2 ones⟧ low⟧"
    assert str(say("flat: {channel}", channel="{B} 100 %")) == "⟦flat: {B} 100 %⟧"
    assert str(say("plain {braces}")) == "⟦plain {braces}⟧"
    assert str(stays("1-3-4-2")) == "⟦1-3-4-2⟧"
    assert words.gettext("a") == "⟦a⟧"
    assert words.pgettext("verb", "open") == "⟦verb: open⟧"


@pytest.mark.parametrize(
    "text",
    [
        NOTHING,
        say("No {braces} are filled"),
        say("{which} at {share} %", which=say("cylinder {n}", n=3), share=57),
        say_count("{count} cycle", "{count} cycles", 1, of=say("crank")),
    ],
)
def test_it_is_stored_and_read_back(text: Text, marking: None) -> None:
    stored = json.loads(json.dumps(text.to_json()))
    assert Text.from_json(stored) == text
    assert worded({"a": [stored, 1], "b": "as it is"}) == {"a": [str(text), 1], "b": "as it is"}


def test_what_was_stored_as_a_sentence_stands() -> None:
    assert str(Text.from_json("Only {3} cycles.")) == "Only {3} cycles."


@pytest.mark.parametrize(
    "wrong", ["{0}", "{unheard_of}", "{unclosed", "{which.nothing}", "{which[a]}", "{which:d}"]
)
def test_a_translation_with_wrong_braces_costs_no_sentence(wrong: str) -> None:
    before = translate_by(Mistaken(wrong))
    try:
        assert str(say("{which} is low", which="3")) == "3 is low"
        assert str(say_count("{count} of {which}", "{count} of {which}s", 2, which="a")) == (
            "2 of as"
        )
    finally:
        translate_by(before)
