"""Sentences of the pure packages reach translators; nobody hides the name that translates."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ON_THE_COMMAND_LINE = frozenset(
    {
        "traces/core/analysis/balance_files.py",
        "traces/core/analysis/pressure_files.py",
        "traces/core/readers/inspecting.py",
    }
)
"""What these say is printed at a terminal, where programs read it: it stays English."""

CORES = sorted(
    path
    for core in (
        "traces/core",
        "jobs/core",
        "engines/core",
        "traces/practice/core",
        "shopdiag/people/core",
    )
    for path in (ROOT / core).rglob("*.py")
    if str(path.relative_to(ROOT)) not in ON_THE_COMMAND_LINE
)
OURS = sorted(
    path
    for app in ("shopdiag", "engines", "traces", "jobs")
    for path in (ROOT / app).rglob("*.py")
    if "import gettext as _" in (text := path.read_text(encoding="utf-8"))
    or "gettext_lazy as _" in text
)

TRANSLATES = frozenset({"_", "say", "say_count", "gettext", "ngettext", "pgettext", "gettext_noop"})
FOR_DEVELOPERS = frozenset({"ValueError", "TypeError", "KeyError", "ContentError"})
NAMES = frozenset(
    {
        # of verdicts, formats, channels, courses and groups of codes, which programs compare
        *("not judged", "delimited text", "edge times", "no table", "now and then", "glow plugs"),
        *("battery voltage", "crank sensor"),
        # of what recorders write into files
        *("out of range", "over range", "logic level"),
        # faults of the program, which a person never reads
        "a row of samples is not full",
        "the band system is singular",
        "the cycle hangs on its start beyond all measure",
        "no channels",
    }
)

_WORDS = re.compile(r"[A-Za-z]{2,}[,;:]? [a-z]{2,}")


def _text(node: ast.AST) -> str:
    if isinstance(node, ast.JoinedStr):
        parts = (v.value if isinstance(v, ast.Constant) else "" for v in node.values)
        return " {} ".join(map(str, parts))
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""


def _is_code(node: ast.AST, above: list[ast.AST], source: str) -> bool:
    """Return whether a text is a docstring, a pattern, an annotation, or compared with."""
    first = source.splitlines()[node.lineno - 1].encode()[node.col_offset :]  # type: ignore[attr-defined]
    kinds = (ast.Compare, ast.Subscript, ast.arg)
    return (
        isinstance(above[-1], ast.Expr | ast.JoinedStr | ast.AnnAssign)
        or first.startswith((b"r", b"R"))
        or any(isinstance(one, kinds) for one in above)
    )


def _called(above: list[ast.AST]) -> set[str]:
    calls = (one.func for one in above if isinstance(one, ast.Call))
    return {getattr(f, "id", getattr(f, "attr", "")) for f in calls}


def _walk(node: ast.AST, above: list[ast.AST]) -> Iterator[tuple[ast.AST, list[ast.AST]]]:
    for child in ast.iter_child_nodes(node):
        inside = [*above, node]
        yield child, inside
        yield from _walk(child, inside)


def escaped(source: str) -> list[str]:
    """Return the sentences that no translator sees."""
    return [
        text
        for node, above in _walk(ast.parse(source), [])
        if _WORDS.search(text := _text(node))
        and text not in NAMES
        and not _called(above) & (TRANSLATES | FOR_DEVELOPERS)
        and not _is_code(node, above, source)
    ]


@pytest.mark.parametrize("path", CORES, ids=lambda p: str(p.relative_to(ROOT)))
def test_translators_see_every_sentence_of_the_pure_packages(path: Path) -> None:
    assert escaped(path.read_text(encoding="utf-8")) == []


def test_a_sentence_that_escaped_is_found() -> None:
    source = (
        '"""Doc of a module."""\n'
        "def f(n: int) -> str:\n"
        '    """Doc of a function."""\n'
        '    if n == "two words":\n'
        '        raise ValueError("not for people")\n'
        '    say("seen by them {n}", n=f"{n} cylinders low")\n'
        '    return f"{n} cylinders low" if n else "none is low"\n'
    )
    assert escaped(source) == [" {}  cylinders low", "none is low"]


def _hidden(function: ast.AST) -> bool:
    """Return whether a function binds `_` itself; a comprehension has a room of its own."""
    own = (ast.ListComp, ast.SetComp, ast.DictComp, ast.GeneratorExp, ast.Lambda, ast.FunctionDef)
    for child in ast.iter_child_nodes(function):
        if isinstance(child, own):
            continue
        if isinstance(child, ast.Name) and child.id == "_" and isinstance(child.ctx, ast.Store):
            return True
        if _hidden(child):
            return True
    return False


@pytest.mark.parametrize("path", OURS, ids=lambda p: str(p.relative_to(ROOT)))
def test_what_translates_is_not_hidden_in_a_function(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    functions = [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)]
    assert [f.name for f in functions if _hidden(f)] == []
