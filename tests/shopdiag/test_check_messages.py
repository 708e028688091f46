"""Collecting the texts finds what cannot be translated well."""

import os
import shutil

import pytest
from django.core.management import CommandError, call_command


@pytest.fixture
def code(tmp_path, monkeypatch, settings):
    """Return a folder whose code is looked through, without a further language."""
    settings.LANGUAGES = [("en", "English")]
    settings.CATALOGUES = tmp_path / "locale"
    if shutil.which("xgettext") is None and not os.environ.get("CI"):
        pytest.skip("GNU gettext is not installed here.")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_texts_are_counted_and_no_catalogue_is_left(code, capsys):
    (code / "page.html").write_text('{% translate "One" %}{% translate "Two" %}')
    (code / "script.js").write_text('gettext("Three" + " words");')
    call_command("check_messages")
    assert capsys.readouterr().out.startswith("3 ")
    assert sorted(path.name for path in code.rglob("*")) == ["page.html", "script.js"]


@pytest.mark.parametrize("text", ['_("%s and %s")', '_("broken\n'])
def test_what_cannot_be_collected_well_is_refused(code, text):
    (code / "module.py").write_text(text)
    with pytest.raises(CommandError):
        call_command("check_messages")


def test_a_missing_gettext_is_said(code, monkeypatch):
    monkeypatch.setenv("PATH", "")
    with pytest.raises(CommandError, match="gettext"):
        call_command("check_messages")


@pytest.mark.parametrize(
    "catalogue",
    [
        None,
        'msgid "One"\nmsgstr ""\n',
        '#, fuzzy\nmsgid "One"\nmsgstr "Uno"\n',
        'msgid "One"\nmsgstr "Uno %(n)s"\n',
        'msgid "One"\nmsgstr "Uno"\n\nmsgid "Gone"\nmsgstr "Ido"\n',
    ],
    ids=["no catalogue", "no words", "to be looked at", "another placeholder", "said no more"],
)
def test_a_language_that_lacks_something_is_refused(code, settings, catalogue):
    settings.LANGUAGES = [("en", "English"), ("es", "Español")]
    (code / "module.py").write_text('_("One")')
    folder = settings.CATALOGUES / "es" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    head = 'msgid ""\nmsgstr "Content-Type: text/plain; charset=UTF-8\\n"\n\n'
    if catalogue is not None:
        (folder / "django.po").write_text(head + catalogue)
    with pytest.raises(CommandError, match=r"One|Gone"):
        call_command("check_messages")
    (folder / "django.po").write_text(head + 'msgid "One"\nmsgstr "Uno"\n')
    call_command("check_messages")
