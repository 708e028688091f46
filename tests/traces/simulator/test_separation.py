"""The simulator judges the analysis, so the two share nothing but the slider-crank."""

import ast
from pathlib import Path

import pytest

from traces.core.compression import slider_crank

TRACES = Path(__file__).parents[3] / "traces"
SHARED = {"traces.core.setup", "traces.core.signal_kinds", "traces.core.waveform"}
"""What a capture is set up as and consists of, and the codes of signals; nothing that judges."""
GEOMETRY = {f"traces.core.compression.{name}" for name in vars(slider_crank)}


def imported(path):
    """Return imported names with their modules."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.update(f"{node.module}.{alias.name}" for alias in node.names)
    return names


@pytest.mark.parametrize(
    "path", sorted((TRACES / "core").rglob("*.py")), ids=lambda p: str(p.relative_to(TRACES))
)
def test_analysis_does_not_import_the_simulator(path):
    assert not any(name.startswith("traces.simulator") for name in imported(path))


@pytest.mark.parametrize("path", sorted((TRACES / "simulator").glob("*.py")), ids=lambda p: p.name)
def test_simulator_imports_only_what_is_shared(path):
    names = {n for n in imported(path) if n.startswith("traces.core")} - GEOMETRY
    assert {n.rsplit(".", 1)[0] for n in names} <= SHARED
