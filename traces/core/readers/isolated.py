"""Readers whose libraries are not to be trusted with a stranger's file: in a process of their own.

A hostile file may crash such a library, have it search for ever or ask for all memory. The
process is bounded, and whatever becomes of it, the caller sees a recording or one sentence.
"""

import json
import os
import struct
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Any

import numpy as np

from shopdiag.people.core.process_bounds import bound_process
from shopdiag.people.core.words import Text, say
from traces.core.readers.hdf5 import Hdf5Reader
from traces.core.readers.mdf import MdfReader
from traces.core.readers.packed import source_of
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import Reader, Source
from traces.core.readers.stream import Block, Column, Stream
from traces.core.readers.tdms import TdmsReader

UNTRUSTED: tuple[Reader, ...] = (Hdf5Reader(), TdmsReader(), MdfReader())

_MOST_MEMORY_BYTES = 4 << 30  # of addresses; libraries reserve far more than they touch
_MOST_PROCESSOR_S = 600
_FRAME = struct.Struct("<cQ")
_ROWS = struct.Struct("<Q?")
_LONGEST_FRAME = 256 << 20
_ROOT = Path(__file__).resolve().parents[3]


@dataclass(frozen=True, slots=True)
class IsolatedReader:
    """A reader that runs in a bounded process.

    Parameters
    ----------
    inner
        One of `UNTRUSTED`.
    """

    inner: Reader

    @property
    def format(self) -> str:
        """Plain name of the kind of file."""
        return self.inner.format

    def sniff(self, source: Source) -> bool:
        """Ask the reader itself; only the head is looked at."""
        return self.inner.sniff(source)

    @contextmanager
    def open(self, source: Source) -> Iterator[Stream]:
        """Have the process open the file, and take its blocks as they come.

        Raises
        ------
        ReadError
            The reader's own, or one that says that the file cannot be read.
        """
        about = [self.format, str(source.path.resolve()), json.dumps(source.rate_hz)]
        paths = [str(_ROOT), os.environ.get("PYTHONPATH", "")]
        environment = os.environ | {
            "PYTHONPATH": os.pathsep.join(filter(None, paths)),
            "OPENBLAS_NUM_THREADS": "1",
            "OMP_NUM_THREADS": "1",
        }
        process = subprocess.Popen(  # noqa: S603 - our own module, nothing of the file's
            [sys.executable, "-m", __name__, *about],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment,
        )
        with process:
            try:
                assert process.stdout is not None  # noqa: S101 - narrows the type; it is a pipe
                frames = _frames(process.stdout, self.format)
                kind, payload = next(frames)
                if kind != b"S":
                    raise self._unreadable()
                stream = _stream(json.loads(payload))
                stream.blocks = _blocks(frames, stream)
                yield stream
            finally:
                process.kill()

    def _unreadable(self) -> ReadError:
        return _unreadable(self.format)


def _unreadable(kind: str) -> ReadError:
    return ReadError(
        say("This {kind} file is damaged or cannot be read here; save it as CSV or WAV.", kind=kind)
    )


def _stream(about: dict[str, Any]) -> Stream:
    columns = tuple(Column(**column) for column in about.pop("columns"))
    return Stream(columns=columns, blocks=iter(()), **about)


def _blocks(frames: Iterator[tuple[bytes, bytes]], stream: Stream) -> Iterator[Block]:
    for kind, payload in frames:
        if kind == b"N":
            stream.notes[:] = map(Text.from_json, json.loads(payload))
            return
        rows, timed = _ROWS.unpack_from(payload)
        at = _ROWS.size
        count = rows * len(stream.columns)
        values = np.frombuffer(payload, np.float32, count, at).reshape(-1, rows)
        times = np.frombuffer(payload, np.float64, rows, at + 4 * count) if timed else None
        yield Block(values, times)


def _frames(pipe: IO[bytes], kind: str) -> Iterator[tuple[bytes, bytes]]:
    """Yield what the process sends.

    Raises
    ------
    ReadError
        The process' own, or where it ended without a word.
    """
    while True:
        head = pipe.read(_FRAME.size)
        if len(head) < _FRAME.size:
            raise _unreadable(kind)
        mark, length = _FRAME.unpack(head)
        if length > _LONGEST_FRAME:
            raise _unreadable(kind)
        payload = pipe.read(length)
        if len(payload) < length:
            raise _unreadable(kind)
        if mark == b"E":
            raise ReadError(Text.from_json(json.loads(payload)))
        yield mark, payload


def _send(pipe: IO[bytes], mark: bytes, *payload: bytes) -> None:
    pipe.write(_FRAME.pack(mark, sum(map(len, payload))))
    for part in payload:
        pipe.write(part)


def _main(kind: str, path: str, rate_hz: str) -> None:
    bound_process(memory_bytes=_MOST_MEMORY_BYTES, processor_s=_MOST_PROCESSOR_S)
    reader = next(one for one in UNTRUSTED if one.format == kind)
    # libraries may print; only frames belong into the pipe
    with os.fdopen(os.dup(1), "wb", buffering=1 << 20) as pipe:
        os.dup2(2, 1)
        try:
            # what the user calls it is a stranger's text, and no reader here asks for it
            with reader.open(source_of(Path(path), kind, json.loads(rate_hz))) as stream:
                about = {
                    "format": stream.format,
                    "columns": [asdict(column) for column in stream.columns],
                    "rate_hz": stream.rate_hz,
                    "t0_s": stream.t0_s,
                    "rows": stream.rows,
                    "index": stream.index,
                    "full_scale": stream.full_scale,
                    "coding": stream.coding,
                }
                _send(pipe, b"S", json.dumps(about).encode())
                for block in stream.blocks:
                    timed = block.times is not None
                    _send(
                        pipe,
                        b"B",
                        _ROWS.pack(block.values.shape[1], timed),
                        np.ascontiguousarray(block.values, np.float32).tobytes(),
                        b"" if block.times is None else block.times.astype(np.float64).tobytes(),
                    )
                _send(pipe, b"N", json.dumps([note.to_json() for note in stream.notes]).encode())
        except ReadError as error:
            _send(pipe, b"E", json.dumps(error.why.to_json()).encode())
        pipe.flush()
        # what libraries do on the way out is of no interest
        os._exit(0)


if __name__ == "__main__":
    _main(*sys.argv[1:])
