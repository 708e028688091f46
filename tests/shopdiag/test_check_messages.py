"""Collecting the texts finds what cannot be translated well."""

import os
import shutil

import pytest
from django.core.management import CommandError, call_command


@pytest.fixture
def code(tmp_path, monkeypatch):
    """Return a folder whose code is looked through."""
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
