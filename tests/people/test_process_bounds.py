"""A process that reads strangers' data ends where it takes too much."""

import subprocess
import sys

from shopdiag.people.core.process_bounds import bound_process

_BEGIN = f"from {bound_process.__module__} import bound_process as b; "


def ended(code: str) -> int:
    return subprocess.run(
        [sys.executable, "-c", _BEGIN + code], capture_output=True, check=False, timeout=60
    ).returncode


def test_memory_and_time_are_bounded_and_less_is_let_through():
    held = "b(memory_bytes=1 << 30, processor_s=1); "
    assert ended(held + "bytearray(1 << 20)") == 0
    assert ended("bytearray(3 << 29)") == 0
    assert ended(held + "bytearray(3 << 29)") != 0
    assert ended(held + "\nwhile True: pass") != 0
