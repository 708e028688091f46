"""Spanish is complete: every text has it, and no page of a furnished shop shows English."""

import re

import pytest
from django.conf import settings
from django.utils import translation

from shopdiag.catalogues import doubts, entries
from shopdiag.people.models import User
from shopdiag.people.services import token_create
from shopdiag.people.shop_forms import zone_choices
from tests.shopdiag.furnished import Furnished
from tests.shopdiag.pseudo_locale import pattern_of, texts_of
from tests.shopdiag.test_translated import LEFT_OUT, RECORDED, UNTRANSLATED, typed

CATALOGUES = sorted((settings.CATALOGUES / "es" / "LC_MESSAGES").glob("*.po"))
_WORD = re.compile(r"[^\W\d_]{2,}")
_CUT = re.compile(r"\w+…")  # a long text's last word
_COMMA = re.compile(r'[\w:-]+="-?\d+,\d+"')
_FILLED = re.compile(r"%\(\w+\)|\{[^{}]*\}")


def _catalogue() -> list:
    return [entry for path in CATALOGUES for entry in entries(path) if entry.text]


def test_there_are_texts_of_pages_and_of_scripts():
    assert [path.name for path in CATALOGUES] == ["django.po", "djangojs.po"]
    assert all(len(entries(path)) > 40 for path in CATALOGUES)


def test_every_text_has_its_spanish_in_every_form():
    lacking = [entry.text for entry in _catalogue() if not entry.is_translated]
    assert lacking == []


def test_spanish_fills_in_what_english_does():
    assert {entry.text: doubts(entry) for entry in _catalogue() if doubts(entry)} == {}


def _spanish_words() -> set[str]:
    """Return every word of our own Spanish, and of the framework's (dates, passwords)."""
    # gettext keeps its own head under the text "".
    known = translation.trans_real.translation("es")._catalog.items()  # type: ignore[attr-defined]
    texts = " ".join(str(spanish) for english, spanish in known if english)
    return {word.lower() for word in _WORD.findall(_FILLED.sub(" ", texts))}


@pytest.fixture
def in_spanish():
    with translation.override("es"):
        yield


@pytest.fixture
def pages(in_spanish, furnished: Furnished, client_for) -> dict[str, str]:
    """Return every page as the owner sees it in Spanish."""
    token_create(member=furnished.cast.owner, label="till")
    User.objects.update(language="es")
    client = client_for(furnished.cast.owner)
    found: dict[str, str] = {}
    for name, address in furnished.addresses().items():
        if name in LEFT_OUT or name.startswith("api:") or name == "people:sign-out":
            continue
        answer = client.get(address)
        if answer.streaming:
            b"".join(answer.streaming_content)
        elif "html" in answer.get("Content-Type", ""):
            found[name] = answer.content.decode()
    assert len(found) > 20
    return found


def test_no_page_shows_english_and_no_attribute_a_decimal_comma(pages):
    zones = {label for _, zones in zone_choices() for _, label in zones}
    data = pattern_of(
        typed() | UNTRANSLATED | RECORDED | zones | set(dict(settings.LANGUAGES).values())
    )
    spanish = _spanish_words()
    assert {"cilindro", "nov"} <= spanish
    assert not {"delivery", "weak"} & spanish
    left: dict[str, dict[str, list[str]]] = {}
    for name, page in pages.items():
        for text in texts_of(page):
            seen = _CUT.sub("", data.sub(" ", text))
            words = [w for w in _WORD.findall(seen) if w.lower() not in spanish]
            if words:
                left.setdefault(name, {})[text] = words
    assert left == {}
    # Scripts and drawings read numbers with a point.
    assert {name: found for name, page in pages.items() if (found := _COMMA.findall(page))} == {}
