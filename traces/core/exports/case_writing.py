"""Writing a case into one archive, in memory that does not grow with the recording."""

import hashlib
import io
import json
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import IO, Any

import numpy as np
from numpy.lib.format import write_array_header_1_0
from numpy.typing import NDArray

from traces.core.case import MANIFEST, RESULT, SAMPLES, Case
from traces.core.readers import MOST_RATIO
from traces.core.waveform import Channel

_NO_DATE = (1980, 1, 1, 0, 0, 0)  # the earliest that the format knows
_MODE = 0o644 << 16


def write_case(into: IO[bytes], case: Case, channels: Sequence[Channel]) -> Case:
    """Write a case and return it with the digest of its samples.

    Parameters
    ----------
    into
        A file that can be written to at any place.
    case
        What to say; its `samples` and `sha256` are taken from the channels.
    channels
        In the case's order, equally long.
    """
    digest = hashlib.sha256()
    for part in _rows(channels):
        digest.update(part)
    case = replace(case, samples=channels[0].values.size, sha256=digest.hexdigest())
    with zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED) as archive:
        # the manifest comes first and bare: readers know the file by it
        archive.writestr(_member(MANIFEST, zipfile.ZIP_STORED), _json(case.manifest()))
        samples = _member(SAMPLES, _method(channels))
        samples.file_size = 4 * case.samples * len(channels)
        with archive.open(samples, "w", force_zip64=samples.file_size > 1 << 30) as member:
            member.write(_header((len(channels), case.samples)))
            for part in _rows(channels):
                member.write(part)
        archive.writestr(_member(RESULT, zipfile.ZIP_DEFLATED), _json(case.result))
    return case


def _rows(channels: Sequence[Channel]) -> Iterator[memoryview]:
    for channel in channels:
        for part in channel.blocks():
            row: NDArray[Any] = np.ascontiguousarray(part, dtype="<f4")
            yield row.data.cast("B")


def _method(channels: Sequence[Channel]) -> int:
    """Return how samples are packed: not at all where they would look like a bomb.

    What is tried is a beginning of each channel; readers refuse from `MOST_RATIO` on.
    """
    tried = packed = 0
    for channel in channels:
        part = np.ascontiguousarray(next(channel.blocks()), dtype="<f4").data.cast("B")
        packed += len(zlib.compress(part))
        tried += len(part)
    return zipfile.ZIP_DEFLATED if tried < MOST_RATIO // 10 * packed else zipfile.ZIP_STORED


def _header(shape: tuple[int, int]) -> bytes:
    file = io.BytesIO()
    write_array_header_1_0(file, {"descr": "<f4", "fortran_order": False, "shape": shape})
    return file.getvalue()


def _member(name: str, method: int) -> zipfile.ZipInfo:
    """Return a member that tells neither when nor on what machine it was made."""
    member = zipfile.ZipInfo(name, _NO_DATE)
    member.compress_type = method
    member.create_system = 3
    member.external_attr = _MODE
    return member


def _json(data: dict[str, Any]) -> bytes:
    return json.dumps(data, allow_nan=False, indent=1).encode()
