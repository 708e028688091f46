"""Data of an empty shop, for processes that tests start: made once in a test run."""

import fcntl
import json
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
_OF_THE_TESTS = {"DATABASE_URL", "BROKER_URL", "DJANGO_SETTINGS_MODULE", "HOST"}


def outside(data_dir: Path, **more: str) -> dict[str, str]:
    """Return the environment of a process that has its own data and nothing of the test run's."""
    kept = {name: value for name, value in os.environ.items() if name not in _OF_THE_TESTS}
    return {**kept, "DATA_DIR": str(data_dir), **more}


def managed(
    commands: list[list[str]], env: dict[str, str], *, given: bytes = b""
) -> subprocess.CompletedProcess[bytes]:
    """Run commands of `manage.py` one after the other in one process, until one fails.

    Starting a process takes longer than most commands do.
    """
    code = (
        "import json, os, sys\n"
        "os.environ.setdefault('DJANGO_SETTINGS_MODULE', 'shopdiag.settings')\n"
        "from django.core.management import execute_from_command_line\n"
        "for words in json.loads(sys.argv[1]):\n"
        "    execute_from_command_line(['manage.py', *words])\n"
    )
    return subprocess.run(
        [sys.executable, "-c", code, json.dumps(commands)],
        cwd=ROOT,
        env=env,
        input=given,
        capture_output=True,
        check=False,
    )


def migrated() -> Path:
    """Return a folder to copy: a database with its tables and the engine library."""
    data = Path(os.environ["SHOPDIAG_TEST_DATA"])
    data.mkdir(parents=True, exist_ok=True)
    made, making = data / "migrated", data / "being-migrated"
    with (data / "migrated.lock").open("w") as lock:
        # other processes of a parallel run ask for it too
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not made.exists():
            commands = [["migrate", "--no-input", "-v", "0"], ["load_engines", "-v", "0"]]
            done = managed(commands, outside(making))
            assert done.returncode == 0, done.stderr
            making.rename(made)
    return made
