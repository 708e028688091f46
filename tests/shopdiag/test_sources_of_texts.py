"""What people read names its source or leaves the figure out; nobody is told “from memory”."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
APPS = ("traces", "jobs", "engines", "shopdiag")
PAGES = [
    ROOT / "README.md",
    *sorted((ROOT / "docs").rglob("*.md")),
    *sorted((ROOT / "templates").rglob("*.*")),
    *sorted(p for app in APPS for p in (ROOT / app).rglob("*.json")),
]


def texts_of(path: Path) -> list[str]:
    """Return a module's texts without its docstrings, which are for the next owner."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    notes = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in notes
    ]


@pytest.mark.parametrize("app", APPS)
def test_no_text_of_the_code_is_from_memory(app):
    told = [
        (path.name, text)
        for path in sorted((ROOT / app).rglob("*.py"))
        for text in texts_of(path)
        if "from memory" in text.lower()
    ]
    assert told == []


def test_no_page_or_data_is_from_memory():
    assert len(PAGES) > 50
    pages = [p for p in PAGES if "from memory" in p.read_text(encoding="utf-8").lower()]
    assert pages == []


def test_texts_are_found_and_docstrings_are_not(tmp_path):
    path = tmp_path / "one.py"
    path.write_text('"""Of a module, from memory."""\nSAID = f"{1} from memory"\nX = {"k": "v"}\n')
    assert texts_of(path) == [" from memory", "k", "v"]
