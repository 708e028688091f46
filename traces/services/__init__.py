"""Writes to captures and runs."""

from traces.core.conditions import Conditions
from traces.services.captures import (
    AddedCapture,
    CaptureRefusedError,
    capture_add,
    capture_digest,
    reading_retry,
)
from traces.services.runs import TokenUsedError, run_add

__all__ = [
    "AddedCapture",
    "CaptureRefusedError",
    "Conditions",
    "TokenUsedError",
    "capture_add",
    "capture_digest",
    "reading_retry",
    "run_add",
]
