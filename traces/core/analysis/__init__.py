"""The way in: any signal judged, events measured, files judged by manifest."""

from traces.core.analysis.any_signal import judge
from traces.core.analysis.balance_files import (
    Entry,
    manifest_entries,
    results_of,
    setup_from,
    text_of,
)
from traces.core.analysis.idle_roles import channel_roles
from traces.core.analysis.measured_event import with_measured_event
from traces.core.analysis.pressure_files import BesideFiles, beside_from

__all__ = [
    "BesideFiles",
    "Entry",
    "beside_from",
    "channel_roles",
    "judge",
    "manifest_entries",
    "results_of",
    "setup_from",
    "text_of",
    "with_measured_event",
]
