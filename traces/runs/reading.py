"""Reading a capture's file: what it is understood to be, and its compact copy."""

import logging
from dataclasses import replace
from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db.models import Q

from shopdiag.people.core.words import say
from traces.core.analysis import channel_roles
from traces.core.readers import (
    Correction,
    CorrectionError,
    ReadError,
    Recording,
    files_of,
    inspection,
    read,
    read_case,
    write_summaries,
)
from traces.core.waveform import sketch_of
from traces.models import Capture, FileShape, Reading
from traces.runs.carrying import carry_out
from traces.selectors.readings import shape_remembered
from traces.selectors.samples import derived_folder

logger = logging.getLogger(__name__)


def reading_read(reading_id: int) -> bool:
    """Read one capture's file, if that waits to be done; return whether it was done here."""
    written: list[Path] = []

    def do(reading: Reading, token: UUID) -> dict[str, Any]:
        return _read(reading, token, written)

    token = carry_out(Reading, reading_id, do, then=_take_over)
    for path in written:
        if token is None:
            path.unlink(missing_ok=True)
        else:
            _remove_leftovers(path.parent, reading_id)
    return token is not None


def _read(reading: Reading, token: UUID, written: list[Path]) -> dict[str, Any]:
    capture = reading.capture
    path = derived_folder(capture.pk) / f"{token.hex}.npy"
    path.parent.mkdir(parents=True, exist_ok=True)
    written += files_of(path)
    recording = _recording(reading, path)
    write_summaries(path, recording)
    understood = inspection(recording, file=capture.original_name)
    # worded by whoever reads them
    understood["notes"] = [note.to_json() for note in recording.notes]
    if case := read_case(Path(capture.original.path)):
        understood["case"] = case.to_json()
    return {
        "understood": understood,
        "roles": _roles(recording),
        "sketch": [] if recording.rate_hz is None else sketch_of(recording.waveform),
        "samples_file": str(path.relative_to(settings.MEDIA_ROOT)),
        # a reading by hand keeps the shape under which the file came in
        "shape": reading.shape or recording.shape,
        "correction": recording.correction.to_json() if recording.correction else {},
    }


def _roles(recording: Recording) -> dict[str, Any]:
    """Say what the channels show; without an answer where that goes wrong: the file is read."""
    if recording.rate_hz is None:
        return {}
    try:
        return channel_roles(recording.waveform).to_json()
    except (ArithmeticError, LookupError, ValueError):
        logger.exception("What the channels show was not found.")
        return {}


def _recording(reading: Reading, keep_at: Path) -> Recording:
    """Read the file as a person says, else as was said about files of its shape before."""
    capture = reading.capture

    def once(**how: Any) -> Recording:  # noqa: ANN401 - what `read` takes
        return read(
            Path(capture.original.path),
            name=capture.original_name,
            rate_hz=reading.rate_hz_given,
            folder=keep_at.parent,
            keep_at=keep_at,
            **how,
        )

    if reading.asked_by_id is not None:
        return once(correction=Correction.from_json(reading.correction) or None)
    recalled: list[FileShape] = []

    def recall(shape: str) -> Correction | None:
        row = shape_remembered(capture.shop_id, shape)
        if row is None:
            return None
        try:
            correction = Correction.from_json(row.correction)
        except CorrectionError:
            # of a version that knew other fields
            return None
        recalled.append(row)
        return correction

    try:
        return once(recall=recall)
    except ReadError as error:
        if not recalled:
            raise
        recording = once()
        note = say(
            "What was corrected in files of this shape does not fit this one: {why}", why=error.why
        )
        return replace(recording, notes=(*recording.notes, note))


def _take_over(reading_id: int) -> None:
    """Make a reading its capture's current one, and remember what a person said for its shape."""
    reading = Reading.objects.select_related("capture").get(pk=reading_id)
    # of two that were asked for, the later counts, whichever is done first
    counts = Capture.objects.filter(
        Q(current_reading=None) | Q(current_reading_id__lte=reading_id), pk=reading.capture_id
    ).update(current_reading=reading)
    if counts and reading.asked_by_id is not None and reading.correction and reading.shape:
        FileShape.objects.create(
            shop_id=reading.capture.shop_id,
            shape=reading.shape,
            correction=reading.correction,
            learned_from=reading.capture,
            created_by_id=reading.asked_by_id,
        )


def _remove_leftovers(folder: Path, reading_id: int) -> None:
    """Remove copies of attempts whose worker died before it could settle.

    Copies of the capture's other readings stay: earlier runs were made from them.
    """
    # Files are listed before rows: an attempt is on its row before it writes.
    lying = list(folder.glob("*.npy"))
    kept: set[str] = set()
    readings = Reading.objects.filter(capture__readings=reading_id)
    for samples_file, token in readings.values_list("samples_file", "attempt_token"):
        kept |= {Path(samples_file).stem, token.hex if token else ""}
    for path in lying:
        if path.name.split(".")[0] not in kept:
            path.unlink(missing_ok=True)
