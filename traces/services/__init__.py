"""Writes to captures and runs."""

from traces.core.setup import Conditions
from traces.services.captures import (
    AddedCapture,
    CaptureRefusedError,
    capture_add,
    capture_digest,
    reading_retry,
    stored_drop,
)
from traces.services.cases import case_run_add
from traces.services.event_angles import (
    EventAngleError,
    event_angle_keep,
    event_angle_learn,
    event_angle_retire,
)
from traces.services.known_good import (
    KnownGoodError,
    is_plainly_good,
    known_good_keep,
    known_good_retire,
)
from traces.services.manual_edits import run_adjust, run_redo, run_undo
from traces.services.notes import NoteRefusedError, note_pin, note_strike
from traces.services.readings import reading_correct, reading_take_again, shape_forget
from traces.services.runs import TokenUsedError, run_add
from traces.services.same_setup import run_like_add

__all__ = [
    "AddedCapture",
    "CaptureRefusedError",
    "Conditions",
    "EventAngleError",
    "KnownGoodError",
    "NoteRefusedError",
    "TokenUsedError",
    "capture_add",
    "capture_digest",
    "case_run_add",
    "event_angle_keep",
    "event_angle_learn",
    "event_angle_retire",
    "is_plainly_good",
    "known_good_keep",
    "known_good_retire",
    "note_pin",
    "note_strike",
    "reading_correct",
    "reading_retry",
    "reading_take_again",
    "run_add",
    "run_adjust",
    "run_like_add",
    "run_redo",
    "run_undo",
    "shape_forget",
    "stored_drop",
]
