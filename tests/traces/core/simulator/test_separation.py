"""The simulator judges the analysis, so the two share nothing but the slider-crank."""

import ast
from pathlib import Path

import pytest

CORE = Path(__file__).parents[4] / "traces" / "core"
SHARED = {"traces.core.slider_crank", "traces.core.setup", "traces.core.waveform"}


def imported(path):
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
            names.update(f"{node.module}.{alias.name}" for alias in node.names)
    return names


@pytest.mark.parametrize(
    "path",
    [p for p in sorted(CORE.rglob("*.py")) if CORE / "simulator" not in p.parents],
    ids=lambda p: str(p.relative_to(CORE)),
)
def test_analysis_does_not_import_the_simulator(path):
    assert not any(name.startswith("traces.core.simulator") for name in imported(path))


@pytest.mark.parametrize("path", sorted((CORE / "simulator").glob("*.py")), ids=lambda p: p.name)
def test_simulator_imports_only_what_is_shared(path):
    modules = {n for n in imported(path) if n.startswith("traces")}
    outside = {n for n in modules if not n.startswith("traces.core.simulator")}
    assert {".".join(n.split(".")[:3]) for n in outside} <= SHARED
