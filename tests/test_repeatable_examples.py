"""Hypothesis' examples where CI is set, and on a developer's machine."""

import os
import subprocess
import sys
from pathlib import Path

_DRAW = """
import sys
from tests.repeatable_examples import repeat_examples
repeat_examples()
from hypothesis import given, strategies as st
if "load" in sys.argv:
    import traces.core.twin.model
drawn = []
@given(st.integers(), st.text(), st.floats())
def collect(whole, text, number):
    drawn.append((whole, text, number))
collect()
print(ascii(drawn))
"""


def _drawn(tmp_path: Path, ci: str, *arguments: str) -> str:
    env = {k: v for k, v in os.environ.items() if k != "CI"}
    told = subprocess.run(
        [sys.executable, "-c", _DRAW, *arguments],
        cwd=Path(__file__).parents[1],
        env={
            **env,
            **({"CI": ci} if ci else {}),
            "HYPOTHESIS_STORAGE_DIRECTORY": str(tmp_path),
        },
        capture_output=True,
        text=True,
        check=False,
    )
    assert told.returncode == 0, told.stderr
    assert told.stdout.count("(") >= 100
    return told.stdout


def test_ci_draws_the_same_whatever_is_loaded(tmp_path):
    assert _drawn(tmp_path, "1") == _drawn(tmp_path, "1", "load")


def test_a_developers_run_draws_its_own(tmp_path):
    assert _drawn(tmp_path / "first", "") != _drawn(tmp_path / "second", "")
