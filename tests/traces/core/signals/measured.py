"""Recordings that lie beside the project, each read once."""

from functools import cache
from pathlib import Path

from traces.core.readers import read
from traces.core.waveform.waveform import Waveform


@cache
def measured(path: Path) -> Waveform:
    """Return what was recorded; nobody can write into it."""
    return read(path).waveform
