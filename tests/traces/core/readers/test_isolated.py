"""Formats whose libraries are bounded by a process of their own, and those libraries alone."""

import contextlib
import importlib
import os
import signal
import struct
import subprocess
import sys
from pathlib import Path

import h5py
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import traces
from tests.traces.core.readers import files
from tests.wording import named, says
from traces.core.readers import ReadError, read
from traces.core.readers.gathering import gather
from traces.core.readers.isolated import UNTRUSTED
from traces.core.readers.packed import source_of

INNER = {reader.format: reader for reader in UNTRUSTED}
_FUZZ = settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40, deadline=None
)


def _inner(path, kind: str) -> int | None:
    """Read with the library in this very process."""
    try:
        with INNER[kind].open(source_of(path, "x", None)) as stream:
            return gather(stream).samples
    except ReadError:
        return None


@pytest.mark.parametrize("kind", ["HDF5", "TDMS"])
@_FUZZ
@given(
    patches=st.lists(
        st.tuples(st.floats(0, 1, exclude_max=True), st.binary(min_size=1, max_size=8)),
        min_size=1,
        max_size=6,
    )
)
def test_any_bytes_changed_read_or_refuse(tmp_path, kind: str, patches) -> None:
    content = bytearray(files.content(kind))
    for place, patch in patches:
        at = int(place * len(content))
        content[at : at + len(patch)] = patch
    path = tmp_path / "patched.bin"
    path.write_bytes(content)
    _inner(path, kind)


@pytest.mark.parametrize("kind", ["HDF5", "TDMS"])
@_FUZZ
@given(share=st.floats(0, 1, exclude_max=True))
def test_a_file_that_is_cut_off_is_never_a_whole_one(tmp_path, kind: str, share: float) -> None:
    whole = files.content(kind)
    path = tmp_path / "cut.bin"
    path.write_bytes(whole[: int(share * len(whole))])
    samples = _inner(path, kind)
    # each segment of a TDMS file is a whole recording
    assert samples is None or (kind == "TDMS" and samples < files.SAMPLES)


@pytest.mark.usefixtures("forked_reader")
@pytest.mark.parametrize("share", [0.01, 0.1, 0.5, 0.9, 0.99])
def test_a_cut_off_mdf4_file_is_refused(tmp_path, share: float) -> None:
    whole = files.content("MDF4")
    path = tmp_path / "cut.mf4"
    path.write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(ReadError, match="damaged"):
        read(path)


@pytest.mark.usefixtures("forked_reader")
@pytest.mark.parametrize("seed", range(6))
def test_a_damaged_mdf4_file_reads_or_is_refused(tmp_path, seed: int) -> None:
    rng = np.random.default_rng(seed)
    content = np.frombuffer(files.content("MDF4"), np.uint8).copy()
    content[rng.integers(64, content.size, 40)] = rng.integers(0, 256, 40)
    path = tmp_path / "patched.mf4"
    path.write_bytes(content.tobytes())
    with contextlib.suppress(ReadError):
        assert read(path).samples > 1


def test_a_process_that_dies_leaves_a_sentence(tmp_path, monkeypatch) -> None:
    started = subprocess.Popen

    def dying(*args, **kwargs):
        process = started(*args, **kwargs)
        os.kill(process.pid, signal.SIGKILL)
        return process

    monkeypatch.setattr(subprocess, "Popen", dying)
    with pytest.raises(ReadError) as refused:
        read(files.written("HDF5", tmp_path))
    assert says(refused.value, "isolated.file-damaged-cannot-read")


@pytest.mark.parametrize("kind", sorted(INNER))
def test_without_the_library_the_sentence_says_what_to_install(
    tmp_path, monkeypatch, kind: str
) -> None:
    def absent(name: str):
        raise ImportError(name)

    path = files.written(kind, tmp_path)
    monkeypatch.setattr(importlib, "import_module", absent)
    with (
        pytest.raises(ReadError) as refused,
        INNER[kind].open(source_of(path, "x", None)),
    ):
        pass
    assert says(refused.value, "recording.files-need-library-whoever")


def _hdf5(tmp_path: Path, fill) -> Path:
    path = tmp_path / "made.h5"
    with h5py.File(path, "w") as file:
        fill(file)
    return path


@pytest.mark.usefixtures("forked_reader")
def test_hdf5_follows_nothing_out_of_the_file(tmp_path) -> None:
    secret = tmp_path / "secret.h5"
    with h5py.File(secret, "w") as file:
        file["clamp"] = np.arange(100.0)
    raw = tmp_path / "raw.bin"
    raw.write_bytes(bytes(800))

    def fill(file) -> None:
        file["link"] = h5py.ExternalLink(str(secret), "/A")
        file["soft"] = h5py.SoftLink("/B")
        file["coil"] = np.arange(100.0)
        file.create_dataset("raw", (100,), np.float64, external=[(str(raw), 0, 800)])
        layout = h5py.VirtualLayout((100,), np.float64)
        layout[:] = h5py.VirtualSource(str(secret), "clamp", (100,))
        file.create_virtual_dataset("virtual", layout)

    recording = read(_hdf5(tmp_path, fill))
    assert [channel.name for channel in recording.channels] == ["coil"]
    assert all(name in str(recording.notes[0]) for name in ("link", "soft", "raw", "virtual"))


@pytest.mark.usefixtures("forked_reader")
def test_hdf5_tables_and_times(tmp_path) -> None:
    def fill(file) -> None:
        file["t"] = 5 + np.arange(100) / 50
        file["data"] = np.arange(200.0).reshape(100, 2)
        file["words"] = "nothing"

    recording = read(_hdf5(tmp_path, fill))
    assert [channel.name for channel in recording.channels] == ["data 1", "data 2"]
    assert (recording.rate_hz, recording.t0_s) == (50.0, 5.0)
    assert recording.channels[1].values[:3].tolist() == [1, 3, 5]


def test_hdf5_that_unpacks_to_far_more_than_it_weighs_is_refused(tmp_path) -> None:
    path = _hdf5(
        tmp_path, lambda f: f.create_dataset("clamp", (90_000_000,), "f4", chunks=(1 << 16,))
    )
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "recording.file-unpacks-far-more")


def test_hdf5_in_pieces_that_fill_memory_is_refused(tmp_path) -> None:
    def fill(file) -> None:
        file.create_dataset("clamp", (1 << 26,), "f8", chunks=(1 << 26,), compression="gzip")

    with pytest.raises(ReadError) as refused:
        read(_hdf5(tmp_path, fill))
    assert says(refused.value, "hdf5.hdf5-file-packed-pieces")


@pytest.mark.usefixtures("forked_reader")
@pytest.mark.parametrize(
    ("head", "words"),
    [
        (b"UnFinMF 4.10    ", named("mdf.mdf-file-never-closed")),
        (b"MDF     3.30    ", named("mdf.mdf-file-older-version")),
    ],
)
def test_mdf_files_that_are_not_read_say_why(tmp_path, head: bytes, words: str) -> None:
    path = tmp_path / "old.mdf"
    path.write_bytes(head + bytes(100))
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, words)


def test_nothing_is_imported_before_it_is_needed() -> None:
    code = (
        "import sys, traces.core.readers; "
        "sys.exit(any(m in sys.modules for m in ('h5py', 'nptdms', 'asammdf')))"
    )
    root = Path(traces.__file__ or traces.__path__[0]).parent.parent
    assert subprocess.run([sys.executable, "-c", code], check=False, cwd=root).returncode == 0


@pytest.mark.usefixtures("forked_reader")
@pytest.mark.parametrize(
    "name", ["a\0b.h5", "a\ud800b.h5", "a" * 200_000], ids=["nul", "half", "long"]
)
def test_what_a_file_is_called_does_not_matter(tmp_path, name: str) -> None:
    path = _hdf5(tmp_path, lambda file: file.create_dataset("clamp", data=np.arange(100.0)))
    assert read(path, name=name).samples == 100


@pytest.mark.usefixtures("forked_reader")
def test_hdf5_with_an_empty_dataset_is_not_damaged(tmp_path) -> None:
    def fill(file):
        file["clamp"] = np.arange(100.0)
        file["later"] = h5py.Empty("f8")

    found = read(_hdf5(tmp_path, fill))
    assert found.samples == 100
    assert any("“later”" in str(note) for note in found.notes)


@pytest.mark.usefixtures("forked_reader")
def test_tdms_with_the_high_bytes_first(tmp_path) -> None:
    """Written by the format's description: only the mask has its low byte first."""
    samples = np.arange(100.0)

    def text(words: str) -> bytes:
        return struct.pack(">L", len(words)) + words.encode()

    about = struct.pack(">L", 1) + text("/'g'/'clamp'") + struct.pack(">3LQ", 20, 10, 1, 100)
    about += struct.pack(">L", 1) + text("wf_increment") + struct.pack(">Ld", 10, 1e-3)
    raw = samples.astype(">f8").tobytes()
    mask = (1 << 1) | (1 << 2) | (1 << 3) | (1 << 6)
    lead_in = b"TDSm" + struct.pack("<L", mask)
    lead_in += struct.pack(">L2Q", 4713, len(about) + len(raw), len(about))
    path = tmp_path / "big.tdms"
    path.write_bytes(lead_in + about + raw)
    found = read(path)
    assert found.channels[0].values.tolist() == samples.tolist()
    assert found.rate_hz == 1000.0
    path.write_bytes(lead_in + about + raw[:-8])
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "tdms.tdms-file-damaged-cut")
