"""What is mutated, and which tests are asked whether they notice."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]

_TEXT_READERS = (
    "delimited.py",
    "text_*.py",
    "correcting.py",
    "timebase.py",
    "shape.py",
    "clock.py",
)


@dataclass(frozen=True)
class Area:
    """One part of the code with its tests, both as patterns from the project's folder."""

    name: str
    code: tuple[str, ...]
    tests: tuple[str, ...]

    @property
    def modules(self) -> list[str]:
        """Paths of the modules, from the project's folder."""
        return [path for path in _found(self.code) if not path.endswith("__init__.py")]

    @property
    def test_files(self) -> list[str]:
        """Paths of the test files, from the project's folder.

        Files of the browser and of worker processes are left out: a mutant lives in the one
        process that runs the tests.
        """
        return [
            path
            for path in _found(self.tests)
            if not path.endswith("_browser.py")
            and "pytest.mark.queue" not in (ROOT / path).read_text(encoding="utf-8")
        ]


def _found(patterns: tuple[str, ...]) -> list[str]:
    def each() -> Iterator[Path]:
        for pattern in patterns:
            yield from sorted(ROOT.glob(pattern))

    return list(dict.fromkeys(str(path.relative_to(ROOT)) for path in each()))


AREAS = (
    Area(
        "twin",
        ("traces/core/twin/*.py",),
        ("tests/traces/core/twin/test_*.py", "tests/traces/core/judging/test_*.py"),
    ),
    Area(
        "pipeline",
        ("traces/core/judging/*.py",),
        ("tests/traces/core/judging/test_*.py", "tests/traces/core/analysis/test_*.py"),
    ),
    Area(
        "sync",
        ("traces/core/sync/*.py",),
        (
            "tests/traces/core/sync/test_*.py",
            "tests/traces/core/crank/test_*.py",
            "tests/traces/core/judging/test_*.py",
        ),
    ),
    Area(
        "text reading",
        tuple(f"traces/core/readers/{name}" for name in _TEXT_READERS),
        ("tests/traces/core/readers/test_*.py",),
    ),
    Area(
        "services",
        ("jobs/services/*.py", "traces/services/*.py"),
        ("tests/jobs/work/test_*.py", "tests/jobs/views/test_*.py", "tests/traces/test_*.py"),
    ),
)
