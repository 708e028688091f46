"""What people read speaks the trade's words: the ones that were given up stay away."""

import ast
import re
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
APPS = ("jobs", "traces", "engines", "shopdiag")
FORBIDDEN = (
    r"stands? low",
    r"vanish(es|ed)?\b",
    r"by ear\b",
    r"\bmakers?\b",
    r"sound (neighbours|cylinders?)",
    r"load stands",
    r"stands? degrees",
    r"turning by hand",
    r"(sign|turned) round\b",
    r"whoever is free",
    r"has it since",
    r"\b(its|battery's|the) posts\b",
    r"\bhand-back\b",
    r"handed back",
    r"from memory",
    r"made safe|fuel safe",
    r"teeth a crank turn",
    r"of these missing",
    r"how often it comes",
    r"of the firing sequence",
    r"take it along",
    r"make the case",
    r"sheet for the customer",
    r"shares of (full scale|the recorder)",
    r"hatched ones",
    r"\bas device\b",
    r"what it amounts to",
    r"no clear change",
    r"first look\b",
    r"listened to",
    r"could not be reproduced",
    r"not mechanical",
    r"\bair heard",
    r"leak \(%\)",
    r"gauge, (dry|wet)",
    r"what this means",
    r"how to read this curve",
    r"would disprove",
    r"throttle open\b",
    r"\b(he|his|him)\b",
)


def _shown_in_python(path: Path) -> Iterator[str]:
    """Yield the string literals of a module, docstrings and mere keys left out."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    notes = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            is_key = re.fullmatch(r"[a-z_-]+", node.value)
            if id(node) not in notes and not is_key:
                yield node.value


def _shown_in_markup(path: Path) -> Iterator[str]:
    """Yield a page, a script or a document, comments left out."""
    yield re.sub(r"\{#.*?#\}|/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)


def _modules() -> Iterator[Path]:
    for path in chain.from_iterable((ROOT / app).rglob("*.py") for app in APPS):
        if not {"migrations", "simulator"} & set(path.parts):
            yield path


def _markup() -> Iterator[Path]:
    yield from (p for p in (ROOT / "templates").rglob("*") if p.suffix in {".html", ".svg", ".txt"})
    yield from (ROOT / "shopdiag" / "static" / "js").glob("*.js")
    yield from (ROOT / "engines" / "data").glob("*.json")
    yield from (ROOT / "README.md", ROOT / "docs" / "case.md", ROOT / "docs" / "balance.md")


@pytest.fixture(scope="module")
def shown() -> dict[str, str]:
    """Everything shown, by file."""
    python = {path: "\n".join(_shown_in_python(path)) for path in _modules()}
    markup = {path: "\n".join(_shown_in_markup(path)) for path in _markup()}
    return {str(path.relative_to(ROOT)): text for path, text in (python | markup).items()}


def test_there_is_something_to_look_through(shown: dict[str, str]) -> None:
    assert "templates/base.html" in shown
    assert "no weak cylinder" in shown["traces/core/report/wording.py"]
    assert sum(map(len, shown.values())) > 200_000


@pytest.mark.parametrize("phrase", FORBIDDEN)
def test_given_up_phrases_stay_away(shown: dict[str, str], phrase: str) -> None:
    pattern = re.compile(phrase.replace(" ", r"\s+"), re.IGNORECASE)
    found = {
        file: text[max(0, hit.start() - 40) : hit.end() + 40]
        for file, text in shown.items()
        if (hit := pattern.search(text))
    }
    assert found == {}
