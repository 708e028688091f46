"""Mutants: what they are, and that a module that is changed is the one that runs."""

import builtins
import importlib.util
from pathlib import Path

import numpy as np
import pytest

from mutation.__main__ import Reach, judge
from mutation.areas import AREAS, ROOT, Area
from mutation.child import _REACHED, _Changed
from mutation.mutants import Mutant, mutants_of, sample, source

PULSES = "traces/core/sync/pulses.py"
NAME = "traces.core.sync.pulses"


@pytest.mark.parametrize("area", AREAS, ids=lambda area: area.name)
def test_each_area_has_code_and_tests(area: Area):
    assert area.modules
    assert area.test_files
    assert all((ROOT / path).is_file() for path in [*area.modules, *area.test_files])
    assert not any("browser" in path for path in area.test_files)


def test_a_mutant_is_one_change_of_its_line():
    mutants = list(mutants_of(PULSES))
    assert len(mutants) > 100
    assert len({mutant.operator for mutant in mutants}) > 5
    for mutant in mutants[::40]:
        out, put = (
            [line for line in mutant.diff.splitlines() if line.startswith(sign)] for sign in "-+"
        )
        assert len(out) == len(put) == 1
        assert source(PULSES).splitlines()[mutant.line - 1] == out[0][1:]
        compile(mutant.code, PULSES, "exec")


def test_a_mutant_is_of_the_innermost_function():
    named = {mutant.function for mutant in mutants_of(PULSES)}
    assert "" in named
    lines = source(PULSES).splitlines()
    for name in named - {""}:
        path, _, line = name.rpartition(":")
        assert path == PULSES
        assert lines[int(line) - 1].lstrip().startswith("def ")


def test_a_sample_is_repeatable_and_takes_no_place_twice():
    mutants = list(mutants_of(PULSES))
    drawn = sample(mutants, 20, 1)
    assert drawn == sample(mutants, 20, 1)
    assert drawn != sample(mutants, 20, 2)
    assert len({(mutant.line, mutant.column) for mutant in drawn}) == 20
    every = sample(mutants, 10_000, 1)
    assert len(every) == len({(mutant.line, mutant.column) for mutant in mutants})


def _loaded(finder: _Changed) -> object:
    spec = finder.find_spec(NAME, [str(Path(PULSES).parent)])
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_changed_module_is_loaded_and_no_other():
    finder = _Changed({PULSES: "changed = True"})
    assert _loaded(finder).changed is True  # type: ignore[attr-defined]
    spec = finder.find_spec("traces.core.sync.events", ["traces/core/sync"])
    assert spec is not None
    assert spec.origin == str(ROOT / "traces/core/sync/events.py")
    assert type(spec.loader).__name__ == "SourceFileLoader"
    assert finder.find_spec("json", None) is None


def test_with_nothing_changed_functions_tell_that_they_are_called(monkeypatch):
    reached: set[str] = set()
    monkeypatch.setattr(builtins, _REACHED, reached.add, raising=False)
    module = _loaded(_Changed({}))
    assert reached == set()
    module.Pulses(np.zeros(1), np.ones(1)).periods_s()  # type: ignore[attr-defined]
    (name,) = reached
    assert "def periods_s" in source(PULSES).splitlines()[int(name.rpartition(":")[2]) - 1]


def test_what_no_test_reaches_is_told_as_that():
    mutant = next(m for m in mutants_of(PULSES) if m.function)
    elsewhere = Reach(frozenset({"traces/core/sync/events.py:1"}), 1.0)
    assert judge(mutant, {"tests/none.py": elsewhere}).word == "reached by none"
    outside = next(m for m in mutants_of(PULSES) if not m.function)
    assert judge(outside, {"tests/none.py": elsewhere}).word == "reached by none"


def test_a_mutant_that_is_not_there():
    with pytest.raises(TypeError):
        _ = Mutant(PULSES, "core/NumberReplacer", 10_000, 1, 0).code
