"""`makemessages` finds the texts of the content files, with the entry they belong to."""

import ast
from pathlib import Path

import pytest
from django.core.management.commands import makemessages

from engines.core.content import CODES, _tables, texts_of
from shopdiag.management.commands.makemessages import Command, ContentBuildFile

ROOT = Path(__file__).parents[2]
FILES = sorted(
    path for app in ("engines", "traces", "jobs") for path in (ROOT / app).rglob("texts/*.toml")
)


def _texts(table: dict) -> list[str]:
    found = []
    for key, value in table.items():
        if isinstance(value, dict):
            found += _texts(value)
        elif key not in CODES:
            found.append(" ".join(value.split()))
    return found


def test_there_are_content_files() -> None:
    assert len(FILES) >= 15


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parts[-4]} {path.stem}")
def test_every_text_of_a_content_file_is_found_where_it_stands(path: Path) -> None:
    found = list(texts_of(path))
    assert [f.text for f in found] == _texts(_tables(path))
    lines = path.read_text(encoding="utf-8").splitlines()
    assert all(lines[f.line - 1].startswith(f"{f.key} = ") for f in found)


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parts[-4]} {path.stem}")
def test_translators_are_given_each_with_its_entry(path: Path, tmp_path: Path) -> None:
    folder = tmp_path / "texts"
    folder.mkdir()
    copy = folder / path.name
    copy.write_bytes(path.read_bytes())
    file = ContentBuildFile(
        Command(), "django", makemessages.TranslatableFile(str(folder), path.name, None)
    )
    file.preprocess()
    written = Path(file.work_path).read_text(encoding="utf-8")
    calls = [node for node in ast.walk(ast.parse(written)) if isinstance(node, ast.Call)]
    found = list(texts_of(path))
    assert [(c.lineno, ast.literal_eval(c.args[0])) for c in calls] == [
        (f.line, f.text) for f in found
    ]
    lines = written.splitlines()
    for text in found:
        assert f"# Translators: {path.stem}: {text.entry}, {text.key}" in lines[text.line - 2]
    file.cleanup()
    assert [p.name for p in folder.iterdir()] == [path.name]


def test_what_programs_read_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "notes.toml"
    path.write_text('[a.b]\nseverity = "stop"\nmessage = """\nOne\n  two."""\nremedy = "3"\n')
    assert [(t.entry, t.key, t.line, t.text) for t in texts_of(path)] == [
        ("a.b", "message", 3, "One two."),
        ("a.b", "remedy", 6, "3"),
    ]
