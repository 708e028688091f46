"""One pass over a stream: samples put by, extremes made, rows laid on an even grid."""

from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

import numpy as np

from shopdiag.people.core.words import say
from traces.core.readers.clock import Clock
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import Recording, refuse_channels, refuse_too_many
from traces.core.readers.sample_file import SampleFile, SampleRow
from traces.core.readers.spool import Spool
from traces.core.readers.stream import Block, Stream
from traces.core.readers.timebase import ONE_ROW, TimeBase, as_states, time_base
from traces.core.waveform import Channel, Samples, Summary, Summing

# What a 32-bit sample cannot hold, and what instruments write for "out of range": 9.9e37
# (SCPI-99 vol. 1, 7.2.1.4 and .5, from memory: infinity is 9.9E37, not a number 9.91E37).
_LARGEST = 9.0e37

_BLOCKS_WAITING = 2
_OTHER_LENGTH = say("The file holds more or fewer samples than it says; save or copy it again.")


class _Track:
    """One channel as it grows."""

    def __init__(self, kept: Spool[np.float32] | SampleRow) -> None:
        self.kept = kept
        self._summing = Summing()

    def add(self, part: Samples) -> None:
        if part.size == 0:
            return
        low, high = float(part.min()), float(part.max())
        if not (low >= -_LARGEST and high <= _LARGEST):
            part = np.where(np.abs(part) <= _LARGEST, part, np.float32(np.nan))
        self._summing.add(part)
        self.kept.add(part)

    def summary(self) -> Summary:
        return self._summing.summary()


def gather(stream: Stream, *, folder: Path | None = None, keep_at: Path | None = None) -> Recording:
    """Take a stream's blocks and return the recording.

    Parameters
    ----------
    stream
        As a reader opened it.
    folder
        Where samples lie that are too many for memory, in files without a name.
    keep_at
        A NumPy file that is to hold the samples, shape (channels, samples). Where the file
        says how many there are, they are written nowhere else.

    Raises
    ------
    ReadError
        If there is nothing, too much, or time does not rise.
    """
    refuse_channels(len(stream.columns))
    keeping = _Keeping(len(stream.columns), folder, keep_at)
    clock = Clock(folder)
    try:
        refuse_too_many((stream.rows or 0) * len(stream.columns))
        tracks = keeping.tracks(stream.rows)
        return _assembled(stream, tracks, clock, _taken(stream, tracks, clock), keeping)
    except BaseException:
        keeping.discard()
        raise
    finally:
        clock.close()
        keeping.close()


class _Keeping:
    """Where samples are kept: in spools, or at once in the file that is to hold them."""

    def __init__(self, channels: int, folder: Path | None, keep_at: Path | None) -> None:
        self._channels = channels
        self._folder = folder
        self._keep_at = keep_at
        self._file: SampleFile | None = None
        self._spools: list[Spool[np.float32]] = []

    def tracks(self, samples: int | None) -> list[_Track]:
        """Return a track for each channel; their length may be known."""
        if self._keep_at is None or samples is None:
            spools = [Spool(np.float32, self._folder) for _ in range(self._channels)]
            self._spools += spools
            return [_Track(spool) for spool in spools]
        self._file = SampleFile(self._keep_at, self._channels, samples)
        return [_Track(row) for row in self._file.rows]

    def arrays(self, tracks: list[_Track]) -> tuple[Samples, ...]:
        """Return all samples, from the file that is to hold them where there is one."""
        if self._keep_at is not None and self._file is None:
            self._file = SampleFile(self._keep_at, self._channels, tracks[0].kept.size)
            for row, track in zip(self._file.rows, tracks, strict=True):
                if isinstance(track.kept, Spool):
                    row.take(track.kept)
                    track.kept.close()
        if self._file is not None:
            return self._file.arrays()
        return tuple(track.kept.array() for track in tracks if isinstance(track.kept, Spool))

    def close(self) -> None:
        for spool in self._spools:
            spool.close()
        if self._file is not None:
            self._file.close()

    def discard(self) -> None:
        if self._file is not None:
            self._file.discard()


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
            if stream.rows is not None and rows > stream.rows:
                raise ReadError(_OTHER_LENGTH)
            waiting.append(behind.submit(_take, block, tracks, clock))
            if len(waiting) > _BLOCKS_WAITING:
                waiting.popleft().result()
        for one in waiting:
            one.result()
    if rows == 0:
        raise ReadError(say("The file holds no samples; record again and save it anew."))
    if rows == 1:
        raise ReadError(ONE_ROW)
    if stream.rows is not None and rows < stream.rows:
        raise ReadError(_OTHER_LENGTH)
    return rows


def _take(block: Block, tracks: list[_Track], clock: Clock) -> None:
    for track, values in zip(tracks, block.values, strict=True):
        track.add(values)
    if block.times is not None:
        clock.add(block.times)


def _assembled(
    stream: Stream, tracks: list[_Track], clock: Clock, rows: int, keeping: _Keeping
) -> Recording:
    base = _base(stream, clock, rows)
    if base.grid != "rows" and not stream.index:
        kept = [track.kept for track in tracks if isinstance(track.kept, Spool)]
        base = as_states(base, kept, clock)
    if base.grid != "rows":
        refuse_too_many(base.samples * len(tracks))
        tracks = _placed(tracks, base, clock, keeping)
    rate_hz = base.rate_hz
    if stream.index or not clock.count:
        rate_hz = stream.rate_hz or 0.0
    summaries = tuple(track.summary() for track in tracks)
    parts = zip(stream.columns, keeping.arrays(tracks), summaries, strict=True)
    return Recording(
        format=stream.format,
        channels=tuple(Channel(c.name, c.unit, values, told) for c, values, told in parts),
        t0_s=base.t0_s,
        rate_hz=rate_hz or None,
        uniform=base.grid not in ("uneven", "steps"),
        notes=(*stream.notes, *base.notes),
        full_scale=stream.full_scale,
        summaries=summaries,
    )


def _placed(tracks: list[_Track], base: TimeBase, clock: Clock, keeping: _Keeping) -> list[_Track]:
    """Return tracks on an even grid."""
    placed = keeping.tracks(base.samples)
    for track, onto in zip(tracks, placed, strict=True):
        if isinstance(track.kept, Spool):
            share = track.summary().missing / track.kept.size
            for part in base.place(track.kept, clock, share):
                onto.add(part)
            track.kept.close()
    return placed


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
        stream.notes.append(say("The column that counts the rows does not; their order counts."))
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
