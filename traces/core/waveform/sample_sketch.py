"""Whether two files hold samples of the same recording, whole or cut, told from small sketches.

A sketch holds the smallest hashes of windows of consecutive samples; which windows are taken hangs
on the samples alone, so that a cut file takes the same ones. Comparing smallest hashes is the
bottom-k sketch of Broder, "On the resemblance and containment of documents" (1997).
"""

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from traces.core.waveform.waveform import Channel, Waveform

MOST_HASHES = 96
"""Of one file; 1 kB of JSON."""

_WINDOW = 32
_LEAST_LEVELS = 8
"""Different values in a window: fewer are common to many recordings, as at rest or of a switch."""
_ONE_IN = 16
_MOST_SAMPLES = 8_000_000
"""Of one channel; a longer one is told by its beginning."""
_LEAST_SHARED, _LEAST_HASHES = 0.5, 8
_MIX = np.uint64(0x9E3779B97F4A7C15)
_POWER = np.uint64(0xD1342543DE82EF95)

_Hashes = NDArray[np.uint64]


def sketch_of(waveform: Waveform) -> tuple[int, ...]:
    """Return the sketch of a file's channels, smallest hash first; empty where nothing tells.

    Parameters
    ----------
    waveform
        Channels of float32 samples; those of few levels (switches, rests) say nothing.
    """
    found = [_smallest(channel) for channel in waveform.channels]
    merged = np.unique(np.concatenate([np.empty(0, np.uint64), *found]))
    # 53 bits: JSON of any reader keeps them whole
    return tuple(int(h) for h in merged[:MOST_HASHES])


def is_same_recording(one: Collection[int], other: Collection[int]) -> bool:
    """Return whether two sketches are of one recording, of which either may be a part.

    Of two recordings of the same engine no window of 32 samples is alike, as noise goes; half of
    what the shorter one holds is asked for, because a window at a cut or a gap is lost.
    """
    if not one or not other:
        return False
    # Beyond the smaller of both ends one of the sketches is silent.
    end = min(max(one), max(other))
    first, second = ({h for h in sketch if h <= end} for sketch in (one, other))
    fewer = min(len(first), len(second))
    return fewer >= _LEAST_HASHES and len(first & second) >= _LEAST_SHARED * fewer


def _smallest(channel: Channel) -> _Hashes:
    found: list[_Hashes] = []
    size = min(channel.values.size, _MOST_SAMPLES)
    carried = np.empty(0, np.float32)
    for part in channel.blocks(last=size):
        values = np.concatenate([carried, np.asarray(part, np.float32)])
        found.append(_smallest_in(values))
        carried = values[-(_WINDOW - 1) :]
    together = np.unique(np.concatenate([np.empty(0, np.uint64), *found]))
    return together[:MOST_HASHES]


def _smallest_in(values: NDArray[np.float32]) -> _Hashes:
    if values.size < _WINDOW:
        return np.empty(0, np.uint64)
    bits = np.where(values == 0, np.float32(0), values).view(np.uint32).astype(np.uint64)
    mixed = _mixed(bits)
    starts = np.flatnonzero(mixed[: values.size - _WINDOW + 1] % np.uint64(_ONE_IN) == 0)
    if starts.size == 0:
        return np.empty(0, np.uint64)
    windows = starts[:, np.newaxis] + np.arange(_WINDOW)
    ordered = np.sort(values[windows], axis=1)
    levels = 1 + (np.diff(ordered, axis=1) > 0).sum(axis=1)
    telling = windows[(levels >= _LEAST_LEVELS) & np.isfinite(ordered).all(axis=1)]
    hashes = np.zeros(len(telling), np.uint64)
    for column in range(_WINDOW):
        hashes = _mixed(hashes * _POWER + mixed[telling[:, column]])
    return np.unique(hashes >> np.uint64(11))[:MOST_HASHES]


def _mixed(values: _Hashes) -> _Hashes:
    """Return values with their bits spread (the finaliser of SplitMix64, Steele et al. 2014)."""
    spread = (values + _MIX).astype(np.uint64)
    spread = (spread ^ (spread >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    spread = (spread ^ (spread >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return spread ^ (spread >> np.uint64(31))
