"""Cases: what another installation hands on in one file (see `traces.core.case.case`)."""

import hashlib
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import Text, say
from traces.core.case import DAMAGED, MANIFEST, NO_CASE, RESULT, SAMPLES, Case, CaseError, parsed
from traces.core.readers.numpy_files import mapped
from traces.core.readers.packed import open_zip, source_of, unpack
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import TROUBLE, Source, refuse_swollen, refuse_too_many
from traces.core.readers.stream import BLOCK_ROWS, Block, Column, Stream
from traces.core.waveform import let_go

_FIRST_NAME = 30  # offset of a name in a local header (APPNOTE 6.3.10, 4.3.7)
_MOST_JSON_BYTES = 4 << 20
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_PIECE_BYTES = 1 << 20


class CaseReader:
    """A capture as a colleague sent it; its set-up and result are `read_case`'s."""

    format = "case"

    def sniff(self, source: Source) -> bool:
        """Look for an archive whose first member is the manifest."""
        head = source.head
        if not head.startswith(b"PK\x03\x04") or len(head) < _FIRST_NAME:
            return False
        length = int.from_bytes(head[26:28], "little")
        return head[_FIRST_NAME : _FIRST_NAME + length] == MANIFEST.encode()

    @contextmanager
    def open(self, source: Source) -> Iterator[Stream]:
        """Unpack the samples into a file of our own and hold them against the manifest.

        Raises
        ------
        ReadError
            If the case is damaged, or its samples are not those that the manifest names.
        """
        with open_zip(source) as archive:
            case = _case_in(archive)
            refuse_too_many(case.samples * len(case.channels))
            refuse_swollen(case.samples * len(case.channels), source.size)
            with tempfile.TemporaryFile() as unpacked:
                _take(archive, SAMPLES, unpacked)
                values = _values(unpacked, (len(case.channels), case.samples))
                if _digest(values) != case.sha256:
                    raise ReadError(DAMAGED)
                yield Stream(
                    format=self.format,
                    columns=tuple(Column(c.role, c.unit) for c in case.channels),
                    blocks=_blocks(values),
                    rate_hz=case.rate_hz,
                    t0_s=case.start_s,
                    full_scale=case.full_scale,
                    notes=_notes(case),
                )


def read_case(path: Path) -> Case | None:
    """Return what a file says as a case; None where it is none.

    Raises
    ------
    ReadError
        If it is a damaged one.
    """
    source = source_of(path, path.name, None)
    if not CaseReader().sniff(source):
        return None
    with open_zip(source) as archive:
        return _case_in(archive)


def _case_in(archive: zipfile.ZipFile) -> Case:
    names = sorted(member.filename for member in archive.infolist())
    if not {MANIFEST, SAMPLES, RESULT} <= set(names):
        raise ReadError(NO_CASE)
    if len(names) > len({MANIFEST, SAMPLES, RESULT}):
        raise ReadError(DAMAGED)
    said = {}
    for key, name in (("manifest", MANIFEST), ("result", RESULT)):
        with tempfile.SpooledTemporaryFile(max_size=_MOST_JSON_BYTES) as text:
            _take(archive, name, text, _MOST_JSON_BYTES)
            text.seek(0)
            said[key] = text.read()
    try:
        return Case.from_json({key: parsed(text) for key, text in said.items()})
    except CaseError as error:
        raise ReadError(error.why) from None


def _take(
    archive: zipfile.ZipFile, name: str, into: IO[bytes], most_bytes: int | None = None
) -> None:
    """Unpack one member; never under a name that the archive gives."""
    try:
        member = archive.getinfo(name)
        if member.flag_bits & 0x1 or member.compress_type not in _METHODS:
            raise ReadError(DAMAGED)
        if most_bytes is not None and member.file_size > most_bytes:
            raise ReadError(DAMAGED)
        packed = archive.open(member)
    except TROUBLE:
        raise ReadError(DAMAGED) from None
    with packed:
        unpack(packed, into, member.compress_size, say("case"))


def _values(file: IO[bytes], shape: tuple[int, int]) -> NDArray[np.float32]:
    """Map the samples, which must be exactly what the manifest says."""
    size = file.tell()
    file.seek(0)
    values = mapped(file, size)
    if not isinstance(values, np.memmap) or values.dtype != np.dtype("<f4"):
        raise ReadError(DAMAGED)
    by_row = values.flags.c_contiguous and values.shape == shape
    if not by_row or values.offset + values.nbytes != size:
        raise ReadError(DAMAGED)
    return values


def _digest(values: NDArray[np.float32]) -> str:
    digest = hashlib.sha256()
    step = _PIECE_BYTES // 4
    for row in values:
        for first in range(0, row.size, step):
            digest.update(np.ascontiguousarray(row[first : first + step]).data.cast("B"))
        let_go(values)
    return digest.hexdigest()


def _blocks(values: NDArray[np.float32]) -> Iterator[Block]:
    for first in range(0, values.shape[1], BLOCK_ROWS):
        yield Block(np.array(values[:, first : first + BLOCK_ROWS]))
        let_go(values)


def _notes(case: Case) -> list[Text]:
    notes = [
        say(
            "A case from another installation, recorded as {read_as} there; channels "
            "carry the names of their parts in the test.",
            read_as=case.read_as,
        )
    ]
    if case.part == "crank":
        notes.append(say("It holds the crank only, not all that the sender recorded."))
    return notes
