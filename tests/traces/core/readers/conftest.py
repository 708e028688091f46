"""Formats that are read in a process of their own, without the start of one."""

import subprocess

import pytest

from tests.traces.core.readers.forked_reader import ForkedReader


@pytest.fixture
def forked_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fork the process of isolated readers off this one."""
    monkeypatch.setattr(subprocess, "Popen", ForkedReader)
