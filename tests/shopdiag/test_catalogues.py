"""Catalogues of translations: read, compiled and held against the English."""

import gettext
from pathlib import Path

import pytest

from shopdiag.catalogues import CatalogueError, Entry, compiled, compiled_folder, doubts, entries

CATALOGUE = r"""
msgid ""
msgstr ""
"Content-Type: text/plain; charset=UTF-8\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\n"

#: one.py
msgid "cylinder"
msgstr "cilindro"

#: one.py two.py
msgctxt "verb"
msgid "order"
msgstr "pedir"

#: one.py
#, python-format
msgid "%(n)s cylinder"
msgid_plural "%(n)s cylinders"
msgstr[0] "%(n)s cilindro"
msgstr[1] ""
"%(n)s "
"cilindros"

#: two.py
msgid "nobody said this yet"
msgstr ""

#, fuzzy
#| msgid "before"
msgid "after"
msgstr "antes"

#~ msgid "gone"
#~ msgstr "ido"
"""


@pytest.fixture
def source(tmp_path: Path) -> Path:
    folder = tmp_path / "locale" / "es" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    (folder / "django.po").write_text(CATALOGUE.lstrip(), encoding="utf-8")
    return tmp_path / "locale"


def _words(folder: Path) -> gettext.NullTranslations:
    return gettext.translation("django", folder, ["es"])


def test_the_standard_library_reads_what_was_compiled(source, tmp_path):
    words = _words(compiled_folder(source, tmp_path / "made"))
    assert words.gettext("cylinder") == "cilindro"
    assert words.pgettext("verb", "order") == "pedir"
    assert words.gettext("order") == "order"
    said = [words.ngettext("%(n)s cylinder", "%(n)s cylinders", n) % {"n": n} for n in (1, 3)]
    assert said == ["1 cilindro", "3 cilindros"]


@pytest.mark.parametrize("text", ["nobody said this yet", "after", "gone"])
def test_what_is_not_translated_stays_english(source, tmp_path, text):
    assert _words(compiled_folder(source, tmp_path / "made")).gettext(text) == text


def test_another_wording_is_compiled_into_another_folder(source, tmp_path):
    made = tmp_path / "made"
    first = compiled_folder(source, made)
    assert compiled_folder(source, made) == first
    file = source / "es" / "LC_MESSAGES" / "django.po"
    file.write_text(CATALOGUE.lstrip().replace('"cilindro"', '"émbolo"'), encoding="utf-8")
    second = compiled_folder(source, made)
    assert _words(second).gettext("cylinder") == "émbolo"
    assert sorted(made.iterdir()) == sorted([first, second])


def test_a_broken_catalogue_is_named(source, tmp_path):
    file = source / "es" / "LC_MESSAGES" / "django.po"
    file.write_text('msgid "one"\nmsgstr "uno\n', encoding="utf-8")
    with pytest.raises(CatalogueError, match="django"):
        entries(file)
    file.write_text('msgid "one"\nmsgstr "uno"\nmsgid "two"\nmsgstr "dos"\n', encoding="utf-8")
    with pytest.raises(CatalogueError, match="django"):
        compiled_folder(source, tmp_path / "made")


def test_an_entry_keeps_what_translators_need(source):
    head, cylinder, order, plural, *_ = entries(source / "es" / "LC_MESSAGES" / "django.po")
    assert (head.text, cylinder.comments) == ("", ["#: one.py"])
    assert (order.context, order.text) == ("verb", "order")
    assert plural == Entry(
        ["#: one.py"],
        {"python-format"},
        None,
        "%(n)s cylinder",
        "%(n)s cylinders",
        ["%(n)s cilindro", "%(n)s cilindros"],
    )
    assert compiled([head, cylinder, order, plural])


FITTING = [
    ("%(a)s of %(b)s", "de %(b)s, %(a)s"),
    ("{share:.0f} % of {name}", "el {share:.0f} % de {name}"),
    ("100 %% <b>now</b>", "ahora <b>100 %%</b>"),
    ("not 100 % sure", "no es 100 % seguro"),
    ("%(share)s % sent", "%(share)s % enviado"),  # of a script, which fills names only
    ("limits < 3", "límites < 3"),
]
DOUBTFUL = [
    ("%(name)s", "%(nombre)s"),
    ("%(name)s", "nombre"),
    ("{name}", "{nombre}"),
    ("name", "{name}"),
    ("100 %% of %(name)s", "100 % de %(name)s"),
    ("100 % of it", "100 %% de ello"),
    ("<b>now</b>", "ahora"),
    ("end ", "fin"),
    ("%s", "nada"),
]


@pytest.mark.parametrize(("english", "spanish"), FITTING)
def test_a_translation_that_fits_raises_no_doubt(english, spanish):
    assert doubts(Entry(text=english, translations=[spanish])) == []


@pytest.mark.parametrize(("english", "spanish"), DOUBTFUL)
def test_a_translation_that_does_not_fit_is_doubted(english, spanish):
    assert len(doubts(Entry(text=english, translations=[spanish]))) == 1


def test_only_the_singular_may_leave_the_figure_out():
    entry = Entry(text="%(n)s tooth", plural="%(n)s teeth", translations=["un diente", "dientes"])
    assert len(doubts(entry)) == 1
    said = Entry(text="one tooth", plural="%(n)s teeth")
    for one in ("un diente", "%(n)s diente"):
        said.translations = [one, "%(n)s dientes"]
        assert doubts(said) == []
