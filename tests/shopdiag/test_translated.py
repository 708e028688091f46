"""No text escapes translation."""

import re
from pathlib import Path

import pytest
from django.template import Context, Template
from django.utils.translation import gettext, ngettext, pgettext

from tests.shopdiag.pseudo_locale import accented, accents, pattern_of, plain_words, texts_of

ROOT = Path(__file__).parents[2] / "templates"
TEMPLATES = sorted(
    str(path.relative_to(ROOT))
    for path in ROOT.rglob("*")
    if path.suffix in {".html", ".svg"} and path.name != "kit.html"  # for developers
)
# What is the same in every language.
UNTRANSLATED = {"shopdiag", "sha256", "Hz", "kPa", "bar", "psi", "km", "mi", "mV", "ms"}


_TRANSLATED = re.compile(r"{% blocktranslate.*?{% endblocktranslate %}|{%.*?%}|{{.*?}}", re.DOTALL)
_COMMENT = re.compile(r"{#.*?#}|{% comment %}.*?{% endcomment %}")


def _bare(template: str) -> list[str]:
    """Return the texts of a template that no tag translates, whatever branch they stand in."""
    texts = texts_of(_TRANSLATED.sub("", _COMMENT.sub("", template)))
    return [text for text in texts if plain_words(text, pattern_of(UNTRANSLATED))]


@pytest.mark.parametrize("file", TEMPLATES, ids=str)
def test_no_template_holds_a_text_that_cannot_be_translated(file):
    assert _bare((ROOT / file).read_text(encoding="utf-8")) == []


def test_a_bare_text_in_a_branch_is_found():
    template = '{% if a %}<p title="{% translate "Said" %}">{{ b }} escaped</p>{% endif %}'
    assert _bare(template) == ["escaped"]


def test_a_text_that_nobody_wrapped_is_found():
    page = Template("<p>{% translate 'Wrapped' %}</p><p aria-label='Escaped'>KX 204</p>Bare")
    with accents():
        texts = texts_of(page.render(Context()))
    data = pattern_of({"KX 204"})
    assert [text for text in texts if plain_words(text, data)] == ["Escaped", "Bare"]


def test_a_text_handed_to_a_wrapped_one_is_found():
    page = Template("{% blocktranslate %}It is {{ word }}.{% endblocktranslate %}")
    with accents():
        (text,) = texts_of(page.render(Context({"word": "escaped"})))
    assert plain_words(text, re.compile("$^")) == ["escaped"]


def test_placeholders_and_markup_stay():
    text = "<b>%(name)s</b> at %(share).1f&nbsp;% {count} of %s"
    kept = ("<b>%(name)s</b>", "%(share).1f&nbsp;%", "{count}", "%s")
    assert all(piece in accented(text) for piece in kept)
    with accents():
        assert gettext("word") == pgettext("a context", "word") == accented("word")
        assert ngettext("%(n)s hump", "%(n)s humps", 2) % {"n": 2} == f"2 {accented('humps')}"
