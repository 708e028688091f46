"""Recordings that lie beside the project, and small traces with a known answer."""

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from traces.core.analysis.balance_files import setup_from
from traces.core.setup.analysis_setup import AnalysisSetup

_SHARED = Path(__file__).resolve().parents[4] / "shared"


def _folder(name: str) -> Path:
    folder = _SHARED / name
    if not folder.is_dir():
        if os.environ.get("CI"):
            pytest.fail(f"CI must have the folder {name} beside the project.")
        pytest.skip(f"The folder {name} is not beside the project; its recordings are wanted.")
    return folder


@dataclass(frozen=True)
class Reference:
    """One reference capture: its file, its line of the manifest, and the truth."""

    path: Path
    line: dict[str, Any]

    @property
    def setup(self) -> AnalysisSetup:
        return setup_from(self.line)

    @property
    def truth(self) -> dict[str, Any]:
        return dict(self.line["truth"])

    @property
    def every_deg(self) -> int | None:
        return self.line["sync"]["every_deg"] if self.line["sync"] else None


@pytest.fixture(scope="session")
def references() -> dict[str, Reference]:
    folder = _folder("captures")
    lines = (folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines()
    entries = [json.loads(line) for line in lines]
    return {e["file"][:6]: Reference(folder / e["file"], e) for e in entries}


@pytest.fixture(scope="session")
def real() -> Path:
    return _folder("real")
