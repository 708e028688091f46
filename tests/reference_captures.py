"""The reference captures of `tests/references`: simulated elsewhere, with known truth."""

import gzip
import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings

from traces.core.analysis.balance_files import setup_from
from traces.core.setup.analysis_setup import AnalysisSetup

FOLDER = Path(__file__).parent / "references"
MANIFEST = FOLDER / "manifest.jsonl"


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


def all_references() -> dict[str, Reference]:
    """Return every reference capture by its name, "ref-01" and so on."""
    lines = map(json.loads, MANIFEST.read_text(encoding="utf-8").splitlines())
    return {line["file"][:6]: Reference(FOLDER / line["file"], line) for line in lines}


@cache
def unpacked(name: str) -> Path:
    """Return a reference capture as its recorder wrote it, not packed, in this run's folder."""
    path = Path(settings.DATA_DIR) / "references" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(gzip.decompress((FOLDER / f"{name}.gz").read_bytes()))
    return path
