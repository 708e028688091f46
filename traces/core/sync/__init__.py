"""Events of the sync channel."""

from traces.core.sync.events import NO_SYNC, Sync, SyncState, Trouble, anchored_count, read_sync
from traces.core.sync.pulses import EDGE_TURNS_AT, Beat, Pulses, beat_of, find_pulses

__all__ = [
    "EDGE_TURNS_AT",
    "NO_SYNC",
    "Beat",
    "Pulses",
    "Sync",
    "SyncState",
    "Trouble",
    "anchored_count",
    "beat_of",
    "find_pulses",
    "read_sync",
]
