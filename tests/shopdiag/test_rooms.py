"""Rooms of the core: each says what it offers, and nobody reaches past its door."""

import ast
import importlib
import pkgutil
from pathlib import Path

import pytest

import traces.core

ROOT = Path(__file__).parents[2]
CORE = ROOT / "traces" / "core"
ROOMS = sorted(m.name for m in pkgutil.iter_modules([str(CORE)]) if m.ispkg)
FROM_OUTSIDE = sorted(
    path
    for folder in ("shopdiag", "engines", "traces", "jobs")
    for path in (ROOT / folder).rglob("*.py")
)


def _room(path: Path) -> str:
    return path.relative_to(CORE).parts[0] if path.is_relative_to(CORE) else ""


def test_no_module_lies_outside_a_room():
    loose = [m.name for m in pkgutil.iter_modules([str(CORE)]) if not m.ispkg]
    assert loose == []
    assert ROOMS


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_says_what_it_is_and_offers_what_it_names(room):
    module = importlib.import_module(f"{traces.core.__name__}.{room}")
    assert module.__doc__
    for name in getattr(module, "__all__", ()):
        assert hasattr(module, name), name
        # a function named like its module would hide the module
        assert not (CORE / room / f"{name}.py").exists(), name


@pytest.mark.parametrize("path", FROM_OUTSIDE, ids=lambda p: str(p.relative_to(ROOT)))
def test_others_enter_by_the_door(path):
    nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
    modules = {n.module for n in nodes if isinstance(n, ast.ImportFrom) and n.module}
    modules |= {name.name for n in nodes if isinstance(n, ast.Import) for name in n.names}
    inner = [m.split(".") for m in modules if m.startswith("traces.core.") and m.count(".") > 2]
    assert [parts for parts in inner if parts[2] != _room(path)] == []
