"""Reading a capture's file: what it is understood to be, and its compact copy."""

from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings

from traces.core.inspection import inspection
from traces.core.readers import read
from traces.core.readers.case_files import read_case
from traces.core.readers.storing import files_of, write_summaries
from traces.models import Reading
from traces.runs.carrying import carry_out
from traces.selectors.samples import derived_folder


def reading_read(reading_id: int) -> bool:
    """Read one capture's file, if that waits to be done; return whether it was done here."""
    written: list[Path] = []

    def do(reading: Reading, token: UUID) -> dict[str, Any]:
        return _read(reading, token, written)

    token = carry_out(Reading, reading_id, do)
    for path in written:
        if token is None:
            path.unlink(missing_ok=True)
        else:
            _remove_others(path.parent, token)
    return token is not None


def _read(reading: Reading, token: UUID, written: list[Path]) -> dict[str, Any]:
    capture = reading.capture
    path = derived_folder(capture.pk) / f"{token.hex}.npy"
    path.parent.mkdir(parents=True, exist_ok=True)
    written += files_of(path)
    recording = read(
        Path(capture.original.path),
        name=capture.original_name,
        rate_hz=reading.rate_hz_given,
        folder=path.parent,
        keep_at=path,
    )
    write_summaries(path, recording)
    understood = inspection(recording, file=capture.original_name)
    if case := read_case(Path(capture.original.path)):
        understood["case"] = case.to_json()
    return {
        "understood": understood,
        "samples_file": str(path.relative_to(settings.MEDIA_ROOT)),
    }


def _remove_others(folder: Path, token: UUID) -> None:
    """Remove copies of attempts whose worker died before it could settle."""
    for path in folder.glob("*.npy"):
        if not path.name.startswith(token.hex):
            path.unlink(missing_ok=True)
