"""Content files are checked when they are loaded, and say what is wrong with them."""

from dataclasses import dataclass
from pathlib import Path

import pytest

from engines.core.content import ContentError, content, nested


@dataclass(frozen=True, slots=True)
class Note:
    """A text and who says so."""

    text: str
    source: str = ""


def _file(folder: Path, text: str) -> Path:
    path = folder / "notes.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_line_breaks_inside_a_text_count_as_blanks(tmp_path) -> None:
    path = _file(
        tmp_path, '[a]\ntext = """\nOne\n  two."""\n\n[b]\ntext = "Three"\nsource = "me"\n'
    )
    assert dict(content(path, Note)) == {"a": Note("One two."), "b": Note("Three", "me")}
    assert list(content(path, Note)) == ["a", "b"]


def test_tables_of_tables_are_named_by_both(tmp_path) -> None:
    path = _file(tmp_path, '[a.stop]\ntext = "One"\n[a.warn]\ntext = "Two"\n')
    assert dict(nested(path, Note)) == {("a", "stop"): Note("One"), ("a", "warn"): Note("Two")}


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ('[a]\nsource = "me"\n', "text"),
        ('[a]\ntext = "One"\nsorce = "me"\n', "sorce"),
        ('[a]\ntext = "  "\n', "text"),
        ("[a]\ntext = 3\n", "text"),
        ('a = "One"\n', "a"),
        ('[a]\ntext = "One"\n[a]\ntext = "Two"\n', "notes.toml"),
        ("[a\n", "notes.toml"),
    ],
)
def test_what_is_wrong_is_refused_and_named(tmp_path, text, named) -> None:
    path = _file(tmp_path, text)
    with pytest.raises(ContentError) as refused:
        content(path, Note)
    assert named in str(refused.value)
    assert "notes.toml" in str(refused.value)


def test_a_table_of_no_tables_is_refused_where_tables_are_wanted(tmp_path) -> None:
    for text in ('[a]\ntext = "One"\n', 'a = "One"\n'):
        with pytest.raises(ContentError):
            nested(_file(tmp_path, text), Note)


def test_a_file_that_is_not_there_is_refused(tmp_path) -> None:
    with pytest.raises(ContentError):
        content(tmp_path / "none.toml", Note)
