"""How a capture's file was read: now, before, and as remembered for files of its shape."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext

from traces.core.readers import (
    Correction,
    CorrectionError,
    ReadError,
    lines_of,
    shown_lines,
    source_of,
)
from traces.models import Capture, FileShape, Reading, Run, Work
from traces.selectors.file_words import Understood

_MOST_SHAPES = 50


@dataclass(frozen=True, slots=True)
class FilePage:
    """A capture's file as its card shows it.

    Parameters
    ----------
    current
        The reading that counts.
    newest
        One that was asked for later and is not done: it waits, runs or failed; else None.
    earlier
        Readings that were made before and gave other samples, newest first.
    remembered
        What later files of this shape are read with, as long as nobody forgets it.
    recalled
        What was remembered when this file came in, where it was read with that.
    same_samples
        Numbers of the readings whose samples count now; runs made from others are older.
    """

    current: Reading
    newest: Reading | None
    earlier: tuple[Reading, ...]
    remembered: FileShape | None
    recalled: FileShape | None
    same_samples: frozenset[int]

    @property
    def failed(self) -> Reading | None:
        """A reading by hand that could not be done; the current one stays."""
        newest = self.newest
        return newest if newest and newest.state == Work.State.FAILED else None

    @property
    def understood(self) -> Understood | None:
        """What the file was understood to be; None until it was read."""
        if self.current.state != Work.State.DONE:
            return None
        return Understood(self.current.understood)

    @property
    def correction_words(self) -> str:
        """What a person said about the file, as one line; "" where nobody did."""
        return str(correction_of(self.current).words)

    @property
    def recalled_words(self) -> str:
        """Who said when what this file was read with from the start; "" where nobody did."""
        if self.recalled is None:
            return ""
        said_on = date_format(timezone.localtime(self.recalled.created_at), "j M Y")
        return gettext(
            "Read as corrected by %(created_by)s on %(said_on)s for files of this "
            "shape: %(correction_words)s."
        ) % {
            "created_by": self.recalled.created_by.name,
            "said_on": said_on,
            "correction_words": self.correction_words,
        }

    @property
    def to_correct(self) -> Correction:
        """What the form begins with: what was last said, also where that failed."""
        return correction_of(self.newest or self.current)


def file_page(capture: Capture) -> FilePage:
    """Return what a capture's file card shows."""
    current = capture.reading
    readings = tuple(
        Reading.objects.filter(capture=capture)
        .select_related("asked_by__user")
        .defer("understood")
        .order_by("-pk")
    )
    newest = readings[0] if readings and readings[0].pk > current.pk else None
    if newest and newest.state == Work.State.DONE:
        newest = None
    # the current one was fetched without who asked for it
    current.asked_by = next((one.asked_by for one in readings if one.pk == current.pk), None)
    shapes: tuple[FileShape, ...] = ()
    if current.correction:
        shapes = tuple(
            FileShape.objects.filter(shop_id=capture.shop_id, shape=current.shape).select_related(
                "created_by__user"
            )[:_MOST_SHAPES]
        )
    return FilePage(
        current=current,
        newest=newest,
        earlier=_earlier(current, readings),
        remembered=next((row for row in shapes if row.forgotten_at is None), None),
        recalled=_recalled(current, shapes),
        same_samples=frozenset(
            one.pk for one in readings if one.samples_file == current.samples_file
        ),
    )


def reading_anew(capture: Capture) -> Reading | None:
    """Return a reading that was asked for after the current one and is not done."""
    newest = Reading.objects.filter(capture=capture, pk__gt=capture.reading.pk).last()
    return None if newest and newest.state == Work.State.DONE else newest


def is_read_anew(run: Run) -> bool:
    """Return whether the file is taken for something else now than when a run judged it."""
    readings = Reading.objects.filter(
        pk__in=[run.reading_id, run.capture.current_reading_id]
    ).values_list("samples_file", flat=True)
    return len(set(readings)) > 1


def first_lines(capture: Capture) -> list[dict[str, Any]]:
    """Return the first lines of a file that could not be read; none where it is no text."""
    try:
        source = source_of(Path(capture.original.path), capture.original_name, None)
        _, lines = lines_of(source)
    except (ReadError, OSError):
        return []
    return [
        {"line": number, "text": text.replace("\t", "⇥ ")} for number, text in shown_lines(lines)
    ]


def shape_remembered(shop_id: int, shape: str) -> FileShape | None:
    """Return what a shop's files of a shape are read with: the newest that is not forgotten."""
    rows = FileShape.objects.filter(shop_id=shop_id, shape=shape, forgotten_at=None)
    return rows.first() if shape else None


def correction_of(reading: Reading) -> Correction:
    """Return what a person said about a file; nothing where that cannot be understood any more."""
    try:
        return Correction.from_json(reading.correction)
    except CorrectionError:
        return Correction()


def _earlier(current: Reading, readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
    found: dict[Any, Reading] = {}
    for reading in readings:
        if reading.state == Work.State.DONE and reading.samples_file != current.samples_file:
            found.setdefault(reading.samples_file, reading)
    return tuple(found.values())


def _recalled(current: Reading, shapes: tuple[FileShape, ...]) -> FileShape | None:
    """Return the newest row of the time with the very correction that the file was read with."""
    if current.asked_by_id is not None or current.finished_at is None:
        return None
    finished_at = current.finished_at
    return next(
        (
            row
            for row in shapes
            if row.created_at <= finished_at and row.correction == current.correction
        ),
        None,
    )
