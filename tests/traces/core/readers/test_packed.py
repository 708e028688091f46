"""ZIP and gzip: one recording inside, bounded however well it packs, no name taken as a path."""

import gzip
import io
import struct
import tempfile
import tracemalloc
import zipfile

import numpy as np
import pytest

from tests.traces.core.readers import files
from tests.wording import says
from traces.core.readers import ReadError, read
from traces.core.readers.delimited import DelimitedReader
from traces.core.readers.packed import PackedReader, source_of, unpacked_folder

MIB = 1 << 20


@pytest.fixture
def write(tmp_path):
    def _write(content: bytes, name: str = "packed.bin"):
        path = tmp_path / name
        path.write_bytes(content)
        return path

    return _write


def test_the_note_names_what_was_unpacked(write) -> None:
    notes = read(write(files.content("zipped text"))).notes
    assert says(map(str, notes), "packed.unpacked-from-archive", name="crank.csv")
    notes = read(write(files.content("gzipped text")), name="crank.csv.gz").notes
    assert says(map(str, notes), "packed.unpacked-from-archive", name="crank.csv")


def test_a_name_is_never_a_path(write, tmp_path) -> None:
    archive = files.zipped(**{"../../escaped.csv": files.content("delimited text")})
    folder = tmp_path / "a" / "b"
    folder.mkdir(parents=True)
    path = folder / "evil.zip"
    path.write_bytes(archive)
    recording = read(path)
    assert recording.samples == files.SAMPLES
    assert "“escaped.csv”" in str(recording.notes[0])
    assert not list(tmp_path.rglob("escaped.csv"))


def test_what_an_operating_system_adds_does_not_count(write) -> None:
    text = files.content("delimited text")
    archive = {
        "__MACOSX/._crank.csv": b"x",
        ".DS_Store": b"y",
        "folder/": b"",
        "folder/a.csv": text,
    }
    assert read(write(files.zipped(**archive))).samples == files.SAMPLES


TEXT = files.content("delimited text")
REFUSED = {
    "two": (files.zipped(a__csv=TEXT, b__csv=TEXT), "holds 2 files"),
    "none": (files.zipped(), "holds no file"),
    "folders": (files.zipped(**{"folder/": b""}), "holds no file"),
    "picture": (files.zipped(a__png=b"\x89PNG\r\n\x1a\n" + bytes(20)), r"picture \(PNG\)"),
    "empty": (files.zipped(a__csv=b""), "is empty"),
    "zip in zip": (files.zipped(a__zip=files.zipped(a__csv=TEXT)), "archive inside"),
    "zip in gzip": (gzip.compress(files.zipped(a__csv=TEXT)), "archive inside"),
    "office": (files.zipped(**{"[Content_Types].xml": b"<Types/>", "x.xml": b"<x/>"}), "office"),
    "gzip cut": (gzip.compress(TEXT)[:-20], "damaged or cut off"),
    "gzip checksum": (gzip.compress(TEXT)[:-8] + bytes(8), "damaged or cut off"),
}


@pytest.mark.parametrize("kind", sorted(REFUSED))
def test_other_contents_are_refused_in_a_sentence(write, kind: str) -> None:
    content, words = REFUSED[kind]
    with pytest.raises(ReadError, match=words) as raised:
        read(write(content))
    assert str(raised.value).endswith(".")


def test_a_locked_archive_says_so(write) -> None:
    content = bytearray(files.zipped(a__csv=TEXT))
    # the flag in the local header and in the directory (APPNOTE 6.3.10, 4.4.4)
    content[6] |= 1
    content[content.rfind(b"PK\x01\x02") + 8] |= 1
    with pytest.raises(ReadError) as refused:
        read(write(bytes(content)))
    assert says(refused.value, "packed.zip-archive-locked-password")


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_packings_that_ask_for_memory_are_refused(write, method: int) -> None:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", method) as made:
        made.writestr("a.csv", TEXT)
    with pytest.raises(ReadError) as refused:
        read(write(file.getvalue()))
    assert says(refused.value, "packed.zip-archive-packed-way")


def _zeros_zip() -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as made, made.open("a.csv", "w") as into:
        for _ in range(64):
            into.write(b"0\n" * (MIB // 2))
    return file.getvalue()


def _zeros_npz() -> bytes:
    file = io.BytesIO()
    np.savez_compressed(file, A=np.zeros(16 * MIB, np.float32))
    return file.getvalue()


@pytest.mark.parametrize(
    "make",
    [_zeros_zip, lambda: gzip.compress(b"0\n" * 32 * MIB), _zeros_npz],
    ids=["zip", "gzip", "npz"],
)
def test_what_unpacks_to_far_more_is_refused_in_little_memory(write, make) -> None:
    path = write(make())
    assert path.stat().st_size < MIB
    tracemalloc.start()
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "packed.unpacks-far-more-recording")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 8 * MIB


def test_a_size_that_lies_is_not_believed(write) -> None:
    content = bytearray(_zeros_zip())
    at = content.rfind(b"PK\x01\x02")
    content[at + 24 : at + 28] = (1000).to_bytes(4, "little")  # unpacked size in the directory
    with pytest.raises(ReadError):
        read(write(bytes(content)))


def test_a_directory_that_would_fill_memory_is_refused(write) -> None:
    content = bytearray(files.zipped(a__csv=TEXT))
    at = content.rfind(b"PK\x05\x06")
    content[at + 12 : at + 16] = (1 << 30).to_bytes(4, "little")
    with pytest.raises(ReadError) as refused:
        read(write(bytes(content)))
    assert says(refused.value, "packed.zip-archive-lists-too")


def test_a_directory_that_the_longer_record_tells_is_refused(write) -> None:
    content = files.zipped(a__csv=TEXT)
    end = content.rfind(b"PK\x05\x06")
    size, begin = struct.unpack_from("<2L", content, end + 12)
    directory = content[begin : begin + size] * 30_000
    entries = (30_000, 30_000, len(directory), begin)
    long_end = struct.pack("<4sQ2H2L4Q", b"PK\x06\x06", 44, 45, 45, 0, 0, *entries)
    locator = struct.pack("<4sLQL", b"PK\x06\x07", 0, begin + len(directory), 1)
    lie = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 1, 1, size, begin, 0)
    path = write(content[:begin] + directory + long_end + locator + lie)
    with zipfile.ZipFile(path) as archive:
        assert len(archive.infolist()) == 30_000
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "packed.zip-archive-lists-too")


def test_all_arrays_of_an_archive_share_one_limit(write, monkeypatch) -> None:
    one = io.BytesIO()
    np.savez(one, a=np.arange(1000.0), b=np.arange(1000.0))
    path = write(one.getvalue())
    assert read(path).samples == 1000
    monkeypatch.setattr("traces.core.readers.numpy_files.MOST_BYTES", 12_000)
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "packed.unpacks-far-more-recording")


def test_what_a_killed_process_leaves_lies_where_the_sweep_looks(write, tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    packed = write(gzip.compress(b"Time,clamp\n0.0,1.0\n0.1,2.0\n0.2,1.0\n"), "crank.csv.gz")
    reader = PackedReader([DelimitedReader()])
    with reader.open(source_of(packed, packed.name, None)) as stream:
        assert stream.notes
        assert len(list(unpacked_folder().iterdir())) == 1
        assert {path.name for path in tmp_path.iterdir()} == {packed.name, unpacked_folder().name}
    assert not list(unpacked_folder().iterdir())
