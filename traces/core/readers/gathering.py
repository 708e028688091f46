"""One pass over a stream: samples put by, extremes made, rows laid on an even grid."""

from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

import numpy as np

from traces.core.minmax import Summary, Summing
from traces.core.readers.clock import Clock
from traces.core.readers.recording import ReadError, Recording, refuse_channels, refuse_too_many
from traces.core.readers.spool import Spool
from traces.core.readers.stream import Block, Column, Stream
from traces.core.readers.timebase import ONE_ROW, TimeBase, time_base
from traces.core.waveform import Channel, Samples

# What a 32-bit sample cannot hold, and what instruments write for "out of range": 9.9e37
# (SCPI-99 vol. 1, 7.2.1.4 and .5, from memory: infinity is 9.9E37, not a number 9.91E37).
_LARGEST = 9.0e37

_BLOCKS_WAITING = 2


class _Track:
    """One channel as it grows."""

    def __init__(self, folder: Path | None) -> None:
        self.spool = Spool(np.float32, folder)
        self._summing = Summing()

    def add(self, part: Samples) -> None:
        if part.size == 0:
            return
        low, high = float(part.min()), float(part.max())
        if not (low >= -_LARGEST and high <= _LARGEST):
            part = np.where(np.abs(part) <= _LARGEST, part, np.float32(np.nan))
        self._summing.add(part)
        self.spool.add(part)

    def summary(self) -> Summary:
        return self._summing.summary()


def gather(stream: Stream, *, folder: Path | None = None) -> Recording:
    """Take a stream's blocks and return the recording.

    Parameters
    ----------
    stream
        As a reader opened it.
    folder
        Where samples lie that are too many for memory, in files without a name.

    Raises
    ------
    ReadError
        If there is nothing, too much, or time does not rise.
    """
    refuse_channels(len(stream.columns))
    tracks = [_Track(folder) for _ in stream.columns]
    clock = Clock(folder)
    try:
        return _assembled(stream, tracks, clock, _taken(stream, tracks, clock), folder)
    finally:
        clock.close()
        for track in tracks:
            track.spool.close()


def _taken(stream: Stream, tracks: list[_Track], clock: Clock) -> int:
    """Take all blocks; return the number of rows.

    While a block is put by, the next is read: both leave Python's lock for most of their time.
    """
    rows = 0
    with ThreadPoolExecutor(max_workers=1) as behind:
        waiting: deque[Future[None]] = deque()
        for block in stream.blocks:
            rows += block.values.shape[1]
            refuse_too_many(rows * len(tracks))
            waiting.append(behind.submit(_take, block, tracks, clock))
            if len(waiting) > _BLOCKS_WAITING:
                waiting.popleft().result()
        for one in waiting:
            one.result()
    if rows == 0:
        raise ReadError("The file holds no samples; record again and save it anew.")
    if rows == 1:
        raise ReadError(ONE_ROW)
    return rows


def _take(block: Block, tracks: list[_Track], clock: Clock) -> None:
    for track, values in zip(tracks, block.values, strict=True):
        track.add(values)
    if block.times is not None:
        clock.add(block.times)


def _assembled(
    stream: Stream, tracks: list[_Track], clock: Clock, rows: int, folder: Path | None
) -> Recording:
    base = _base(stream, clock, rows)
    summaries = [track.summary() for track in tracks]
    if base.grid != "rows":
        refuse_too_many(base.samples * len(tracks))
        for i, track in enumerate(tracks):
            placed = _Track(folder)
            share = summaries[i].missing / rows
            for part in base.place(track.spool, clock, share):
                placed.add(part)
            track.spool.close()
            tracks[i], summaries[i] = placed, placed.summary()
    rate_hz = base.rate_hz
    if stream.index or not clock.count:
        rate_hz = stream.rate_hz or 0.0
    return Recording(
        format=stream.format,
        channels=tuple(
            _channel(column, track) for column, track in zip(stream.columns, tracks, strict=True)
        ),
        t0_s=base.t0_s,
        rate_hz=rate_hz or None,
        uniform=base.grid != "uneven",
        notes=(*stream.notes, *base.notes),
        full_scale=stream.full_scale,
        summaries=tuple(summaries),
    )


def _base(stream: Stream, clock: Clock, rows: int) -> TimeBase:
    """Return where the rows belong, by their times, their numbers or just their order."""
    if not clock.count:
        return TimeBase(stream.t0_s, stream.rate_hz or 0.0, rows)
    if not stream.index:
        return time_base(clock)
    try:
        base = time_base(clock)
    except ReadError:
        base = None
    if base is None or base.grid == "uneven":
        stream.notes.append("The column that counts the rows does not; their order counts.")
        return TimeBase(stream.t0_s, stream.rate_hz or 0.0, rows)
    # a count from 0 or from 1 says nothing about the start; the heading does
    return TimeBase(
        stream.t0_s,
        stream.rate_hz or 0.0,
        base.samples,
        base.grid,
        step_s=base.step_s,
        notes=base.notes,
    )


def _channel(column: Column, track: _Track) -> Channel:
    return Channel(column.name, column.unit, track.spool.array())
