"""One run of some test files in a process of its own, with modules that are not as they stand.

What the tests and the code need from others is imported once, before the process is forked off;
the project's own modules are imported in it, so that the changed ones are in nobody's way.
"""

import ast
import builtins
import importlib
import importlib.abc
import importlib.machinery
import json
import os
import resource
import shutil
import signal
import sys
import tempfile
import traceback
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import CodeType, ModuleType

from mutation.areas import ROOT
from mutation.mutants import source

_AT_HAND = (
    *("numpy", "scipy.optimize", "scipy.signal", "scipy.stats", "scipy.linalg", "pandas"),
    *("django.db", "django.test", "django.forms", "plotly.graph_objects", "soundfile", "PIL.Image"),
    *("pytest", "playwright.sync_api", "pypdf"),
)
_REACHED = "__reached__"
_ARGUMENTS = (*("-x", "-q", "-n", "0", "-p", "no:cacheprovider"), "-m", "not browser and not queue")


def be_ready() -> None:
    """Import what every run needs, none of it the project's own."""
    os.environ |= {"DJANGO_SETTINGS_MODULE": "tests.settings", "CI": "1"}
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ[name] = "1"
    for module in _AT_HAND:
        importlib.import_module(module)


@dataclass(frozen=True)
class Outcome:
    """How a run ended: pytest's exit code, minus the signal, or None where no test ran."""

    code: int
    cpu_s: float
    reached: frozenset[str]
    said: str


def run_tests(files: list[str], changed: Mapping[str, str], *, cpu_limit_s: float) -> Outcome:
    """Run test files with modules changed, by path; with none changed, tell what was reached."""
    folder = Path(tempfile.mkdtemp(prefix="shopdiag-mutant-"))
    pid = os.fork()
    if not pid:
        _be_the_child(files, changed, folder, cpu_limit_s)
    # A run that sleeps uses no processor time and ends by the clock.
    before = signal.signal(signal.SIGALRM, lambda *_: _end(pid))
    signal.alarm(int(20 * cpu_limit_s) + 60)
    _, status, used = os.wait4(pid, 0)
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)
    _end(pid)
    reached = folder / "reached"
    outcome = Outcome(
        code=os.waitstatus_to_exitcode(status),
        cpu_s=used.ru_utime + used.ru_stime,
        reached=frozenset(json.loads(reached.read_text()) if reached.exists() else ()),
        said=(folder / "said").read_text(encoding="utf-8", errors="replace"),
    )
    shutil.rmtree(folder, ignore_errors=True)
    return outcome


def _end(pid: int) -> None:
    """End what is left of a run: its process and those it started."""
    try:
        os.killpg(pid, signal.SIGKILL)
    except ProcessLookupError:
        return


def _be_the_child(
    files: list[str], changed: Mapping[str, str], folder: Path, cpu_limit_s: float
) -> None:
    code = 70
    try:
        os.setsid()
        said = os.open(folder / "said", os.O_CREAT | os.O_WRONLY)
        os.dup2(said, 1)
        os.dup2(said, 2)
        limit = int(cpu_limit_s) + 1
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
        os.environ["SHOPDIAG_TEST_DATA"] = str(folder / "data")
        os.chdir(ROOT)
        reached: set[str] = set()
        setattr(builtins, _REACHED, reached.add)
        sys.meta_path.insert(0, _Changed(changed))
        import pytest  # noqa: PLC0415 - ready since before the fork

        code = int(pytest.main([*_ARGUMENTS, *files]))
        (folder / "reached").write_text(json.dumps(sorted(reached)))
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        os._exit(code)


class _Changed(importlib.abc.MetaPathFinder):
    """Finds the changed modules; where none is changed, tells which functions are reached."""

    def __init__(self, changed: Mapping[str, str]) -> None:
        self._changed = changed
        self._packages = ("jobs.", "traces.")

    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        if not name.startswith(self._packages):
            return None
        spec = importlib.machinery.PathFinder.find_spec(name, path, target)
        if spec is None or spec.origin is None:
            return None
        where = Path(spec.origin)
        if not where.is_relative_to(ROOT) or where.suffix != ".py":
            return None
        own = str(where.relative_to(ROOT))
        if own in self._changed:
            spec.loader = _Loader(name, spec.origin, compile(self._changed[own], own, "exec"))
        elif not self._changed:
            spec.loader = _Loader(name, spec.origin, _telling(own))
        return spec


class _Loader(importlib.machinery.SourceFileLoader):
    def __init__(self, name: str, origin: str, code: CodeType) -> None:
        super().__init__(name, origin)
        self._code = code

    def get_code(self, fullname: str) -> CodeType:  # noqa: ARG002 - the name is its parent's
        return self._code


def _telling(path: str) -> CodeType:
    """Return a module whose functions tell that they are called."""
    tree = ast.parse(source(path))
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            name = ast.Constant(f"{path}:{node.lineno}")
            call = ast.Expr(ast.Call(ast.Name(_REACHED, ast.Load()), [name], []))
            is_told = ast.get_docstring(node, clean=False) is not None
            node.body.insert(int(is_told), call)
    return compile(ast.fix_missing_locations(tree), path, "exec")
