"""What every reader keeps to, whatever the format: the same recording, or one sentence."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.traces.core.readers import files
from tests.wording import says
from traces.core.readers import READERS, ReadError, read
from traces.core.readers.inspecting import inspection
from traces.core.readers.packed import source_of

ISOLATED = {"HDF5", "TDMS", "MDF4", "zipped HDF5"}
KINDS = sorted(files.MAKERS)
UNNAMED = ("NumPy, one array", "WAV", "zipped WAV", "FLAC", "gzipped FLAC", "Ogg")
NAMES = {"case": ["clamp", "sync"], **{kind: ["1", "2"] for kind in UNNAMED}}
# Each of its files costs the start of a process.
FUZZED = [kind for kind in KINDS if kind not in ISOLATED]
_FUZZ = settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25, deadline=None
)


def _expected_rate_hz(kind: str) -> float:
    return 8000.0 if kind == "Ogg" else files.RATE_HZ


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_recording_comes_out_of_every_format(tmp_path, kind: str) -> None:
    recording = read(files.written(kind, tmp_path), rate_hz=files.RATE_HZ)
    assert recording.format == files.FORMATS.get(kind, kind)
    assert recording.rate_hz == _expected_rate_hz(kind)
    assert recording.t0_s == 0.0
    assert recording.uniform
    assert recording.samples == files.SAMPLES
    named = [channel.name for channel in recording.channels]
    assert named == NAMES.get(kind, ["clamp", "coil"])
    within = 0.1 if kind == "Ogg" else 1e-4  # Ogg is made for the ear
    for channel, wanted in zip(recording.channels, (files.A, files.B), strict=True):
        assert channel.values.dtype == np.float32
        assert not channel.values.flags.writeable
        assert np.abs(channel.values - wanted).max() < within


@pytest.mark.parametrize("kind", KINDS)
def test_the_first_reader_that_knows_a_file_is_the_right_one(tmp_path, kind: str) -> None:
    source = source_of(files.written(kind, tmp_path), kind, None)
    taken = next(reader.format for reader in READERS if reader.sniff(source))
    packed = "zipped" in kind
    assert taken == ("archive" if packed else files.FORMATS.get(kind, kind))


@pytest.mark.usefixtures("forked_reader")
@pytest.mark.parametrize("kind", KINDS)
def test_summaries_are_those_of_the_samples(tmp_path, kind: str) -> None:
    recording = read(files.written(kind, tmp_path))
    for channel, told in zip(
        recording.channels, inspection(recording, file="x")["channels"], strict=True
    ):
        assert told["minimum"] == pytest.approx(channel.values.min(), rel=1e-6)
        assert told["maximum"] == pytest.approx(channel.values.max(), rel=1e-6)
        assert told["first"] == pytest.approx(channel.values[0], rel=1e-6)
        assert told["missing"] == 0


@pytest.mark.usefixtures("forked_reader")
@pytest.mark.parametrize("kind", KINDS)
def test_long_recordings_lie_on_disk_and_are_the_same(tmp_path, monkeypatch, kind: str) -> None:
    path = files.written(kind, tmp_path)
    in_memory = read(path)
    monkeypatch.setattr("traces.core.readers.spool._IN_MEMORY_BYTES", 256)
    folder = tmp_path / "folder"
    folder.mkdir()
    on_disk = read(path, folder=folder)
    assert all(isinstance(channel.values, np.memmap) for channel in on_disk.channels)
    for one, other in zip(in_memory.channels, on_disk.channels, strict=True):
        assert np.array_equal(one.values, other.values)
        assert np.array_equal(np.concatenate(list(other.blocks(64))), one.values)
    assert (in_memory.notes, in_memory.rate_hz) == (on_disk.notes, on_disk.rate_hz)
    assert list(folder.iterdir()) == []


@pytest.mark.usefixtures("forked_reader")
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("in_memory_bytes", [256, 8 << 20])
def test_samples_are_kept_where_wanted_and_nowhere_else(
    tmp_path, monkeypatch, kind: str, in_memory_bytes: int
) -> None:
    path = files.written(kind, tmp_path)
    usual = read(path, rate_hz=files.RATE_HZ)
    monkeypatch.setattr("traces.core.readers.spool._IN_MEMORY_BYTES", in_memory_bytes)
    folder = tmp_path / "folder"
    folder.mkdir()
    kept = read(path, rate_hz=files.RATE_HZ, folder=folder, keep_at=folder / "kept.npy")
    assert [one.name for one in folder.iterdir()] == ["kept.npy"]
    stored = np.load(folder / "kept.npy", mmap_mode="r")
    assert (stored.dtype, stored.shape) == (np.float32, (2, files.SAMPLES))
    for i, channel in enumerate(usual.channels):
        assert np.array_equal(stored[i], channel.values)
        assert np.array_equal(kept.channels[i].values, channel.values)
        assert not kept.channels[i].values.flags.writeable
        assert np.array_equal(kept.summaries[i].extremes, usual.summaries[i].extremes)
    assert inspection(kept, file="x") == inspection(usual, file="x")


@pytest.mark.usefixtures("forked_reader")
@pytest.mark.parametrize("kind", KINDS)
def test_where_reading_fails_no_samples_are_left(tmp_path, kind: str) -> None:
    content = files.content(kind)
    path = tmp_path / "cut.bin"
    path.write_bytes(content[: len(content) // 2])
    kept = tmp_path / "kept.npy"
    try:
        read(path, rate_hz=files.RATE_HZ, keep_at=kept)
    except ReadError:
        assert not kept.exists()
    else:
        assert kind in ("delimited text", "TDMS")  # whose parts are whole, and said to be cut
        assert kept.exists()


@pytest.mark.usefixtures("forked_reader")
@pytest.mark.parametrize("kind", KINDS)
def test_too_much_is_refused_in_every_format(tmp_path, monkeypatch, kind: str) -> None:
    path = files.written(kind, tmp_path)
    monkeypatch.setattr("traces.core.readers.recording.MOST_VALUES", 2 * files.SAMPLES - 1)
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "recording.file-holds-more-samples")
    monkeypatch.setattr("traces.core.readers.recording.MOST_VALUES", 2 * files.SAMPLES)
    assert read(path).samples == files.SAMPLES


def _read_or_sentence(path) -> int | None:
    """Return the number of samples, None where the file was refused; nothing else may come."""
    try:
        recording = read(path, rate_hz=10.0)
    except ReadError as error:
        sentence = str(error)
        assert sentence.endswith(".")
        assert "\n" not in sentence
        return None
    assert len({channel.values.size for channel in recording.channels}) == 1
    return recording.samples


@pytest.mark.parametrize("kind", FUZZED)
@_FUZZ
@given(share=st.floats(0, 1, exclude_max=True))
def test_a_file_that_is_cut_off_is_never_a_whole_one(tmp_path, kind: str, share: float) -> None:
    whole = files.content(kind)
    path = tmp_path / "cut.bin"
    kept = whole[: int(share * len(whole))]
    path.write_bytes(kept)
    samples = _read_or_sentence(path)
    if kind == "delimited text" and samples is not None:
        notes = read(path).notes
        assert samples == kept.count(b"\n") - 1 or any("not closed" in str(note) for note in notes)
    elif kind == "TDMS":
        # each of its segments is a whole recording
        assert samples is None or samples < files.SAMPLES
    else:
        assert samples is None or len(whole) - len(kept) < 64


@pytest.mark.parametrize("kind", FUZZED)
@_FUZZ
@given(
    patches=st.lists(
        st.tuples(st.floats(0, 1, exclude_max=True), st.binary(min_size=1, max_size=8)),
        min_size=1,
        max_size=6,
    ),
    early=st.booleans(),
)
def test_any_bytes_changed_read_or_refuse(tmp_path, kind: str, patches, early: bool) -> None:
    content = bytearray(files.content(kind))
    for place, patch in patches:
        # half of the time in the first bytes, where formats keep what they rely on
        at = int(place * (min(256, len(content)) if early else len(content)))
        content[at : at + len(patch)] = patch
    path = tmp_path / "patched.bin"
    path.write_bytes(content)
    _read_or_sentence(path)


@pytest.mark.parametrize("kind", FUZZED)
@_FUZZ
@given(tail=st.binary(max_size=200), kept=st.integers(4, 64))
def test_a_signature_and_then_anything_reads_or_refuses(
    tmp_path, kind: str, tail: bytes, kept: int
) -> None:
    path = tmp_path / "signature.bin"
    path.write_bytes(files.content(kind)[:kept] + tail)
    _read_or_sentence(path)
