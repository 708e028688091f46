"""Numbers bear the decimal sign of the reader; what is no number, and what programs read, stays."""

import json

import pytest
from django.utils import translation

from shopdiag.people.core.numerals import written
from shopdiag.people.core.words import gettext, ngettext, say, say_count, stays
from shopdiag.people.models import User
from shopdiag.templatetags.components import fixed, rounded

COMMA = ["es", "en-150"]
POINT = ["en", "es-419"]
NUMBERS = [
    ("0.80", "0,80"),
    ("−0.5", "−0,5"),
    ("1,234", "1\xa0234"),
    ("12,345,678.25", "12\xa0345\xa0678,25"),
    ("0.21 V", "0,21 V"),
    ("2.5 %", "2,5 %"),
    ("31.25°", "31,25°"),
    ("7", "7"),
]
NO_NUMBERS = [
    "1, 3",
    "1-3-4-2",
    "0.1.0",
    "scope 2.5.csv",
    "30.11.2026",
    "KX 204",
    "1,2",
    "3.4.",
    "",
]


@pytest.mark.parametrize("language", COMMA)
@pytest.mark.parametrize(("english", "expected"), NUMBERS)
def test_a_number_bears_the_readers_decimal_sign(language, english, expected):
    with translation.override(language):
        assert written(english) == expected


@pytest.mark.parametrize("language", POINT)
@pytest.mark.parametrize(("english", "_expected"), NUMBERS)
def test_where_a_point_is_written_nothing_changes(language, english, _expected):
    with translation.override(language):
        assert written(english) == english


@pytest.mark.parametrize("language", [*COMMA, *POINT])
def test_a_negative_number_bears_a_minus_sign(language):
    with translation.override(language):
        assert written("-5 °") == "\u22125 °"
        assert gettext("a {angle:.0f}° b").format(angle=-84.0) == "a \u221284° b"
        assert gettext("a {trim} b").format(trim="-3 %") == "a \u22123 % b"
        assert gettext("a {self} b").format(self="1-3-4-2") == "a 1-3-4-2 b"
        assert fixed(-0.31, 0) == "0"
        assert rounded(-0.0004, 3) == "0"
        assert rounded(-12.5, 3) == written("-12.5")
        assert rounded(None, 3) == ""
        for text in ("-", "a-5", "1-3-4-2", "-5-3"):
            assert written(text) == text


@pytest.mark.parametrize("text", NO_NUMBERS)
def test_what_is_no_number_stays(text):
    with translation.override("es"):
        assert written(text) == text


def test_numbers_are_rewritten_on_their_way_into_a_text():
    with translation.override("en-150"):
        assert gettext("a {share:.2f} b").format(share=0.8) == "a 0,80 b"
        assert gettext("a {least} b").format(least="0.8 V") == "a 0,8 V b"
        assert ngettext("{n:,} a", "{n:,} b", 2000).format(n=2000) == "2\xa0000 b"
        assert str(say("a {share}, {name}", share="0.80", name="x 2.5.csv")) == "a 0,80, x 2.5.csv"
        assert str(say_count("{count} a", "{count} b", 2, share="1")) == "2 b"
        assert str(stays("0.80")) == "0.80"


def test_what_is_stored_keeps_its_point():
    with translation.override("es"):
        text = say("a {share}", share=f"{0.8:.2f}")
    assert json.loads(json.dumps(text.to_json())) == {
        "say": "a {share}",
        "figures": {"share": "0.80"},
    }
    assert str(text) == "a 0.80"


@pytest.mark.parametrize(
    ("language", "sign", "stated"),
    [
        ("en", "", "en"),
        ("en", ",", "en-150"),
        ("en", ".", "en"),
        ("es", "", "es"),
        ("es", ".", "es-419"),
        ("es", ",", "es"),
    ],
)
def test_the_shop_may_say_how_numbers_are_written(cast, client_for, language, sign, stated):
    User.objects.filter(pk=cast.owner.user_id).update(language=language)
    cast.shop.decimal_sign = sign
    cast.shop.save()
    page = client_for(cast.owner).get("/people/shop/")
    assert page["Content-Language"] == stated
    assert f'<html lang="{stated}"' in page.content.decode()
    # What is typed keeps its point in every language, and is read back with either sign.
    assert 'value="0.8"' in page.content.decode()
