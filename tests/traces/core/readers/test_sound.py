"""Sound files: shares of full scale, channels numbered; a cut-off file is not a whole one."""

import numpy as np
import pytest
import soundfile

from tests.wording import says
from traces.core.readers import ReadError, read


@pytest.fixture
def wav(tmp_path):
    path = tmp_path / "trace.wav"
    time_s = np.arange(2000) / 2000
    left, right = np.sin(2 * np.pi * 5 * time_s), np.linspace(-0.5, 0.5, 2000)
    soundfile.write(path, np.column_stack([left, right]), 2000, subtype="PCM_16")
    return path


def test_values_run_from_minus_one_to_one(wav) -> None:
    recording = read(wav)
    assert [(c.name, c.unit) for c in recording.channels] == [("1", None), ("2", None)]
    assert (recording.rate_hz, recording.samples, recording.full_scale) == (2000.0, 2000, True)
    assert recording.channels[0].values.max() == pytest.approx(1.0, abs=1e-3)
    assert recording.channels[1].values[0] == pytest.approx(-0.5, abs=1e-4)


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
def test_depths_agree(tmp_path, subtype: str) -> None:
    values = np.linspace(-0.9, 0.9, 500)
    path = tmp_path / "depth.wav"
    soundfile.write(path, values, 1000, subtype=subtype)
    assert np.allclose(read(path).channels[0].values, values, atol=1 / 120)


@pytest.mark.parametrize(
    ("kind", "subtype"),
    [
        *(("WAV", s) for s in ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW")),
        *(("FLAC", s) for s in ("PCM_S8", "PCM_16", "PCM_24")),
    ],
)
def test_values_are_the_decoders_own(tmp_path, kind: str, subtype: str) -> None:
    values = np.random.default_rng(5).uniform(-1, 1, (3000, 3))
    values[:2] = [-1.0, 1.0, 0.0]
    path = tmp_path / "own"
    soundfile.write(path, values, 1000, format=kind, subtype=subtype)
    wanted, _ = soundfile.read(path, dtype="float32")
    found = np.column_stack([channel.values for channel in read(path).channels])
    assert np.array_equal(found, wanted)


@pytest.mark.parametrize("left_bytes", [60, 1000, 4000])
def test_a_cut_off_file_is_refused(wav, left_bytes: int) -> None:
    wav.write_bytes(wav.read_bytes()[:left_bytes])
    with pytest.raises(ReadError) as refused:
        read(wav)
    assert says(refused.value, "sound.wav-file-cut-off")


def test_a_cut_off_file_with_long_sizes_is_refused(tmp_path) -> None:
    path = tmp_path / "long.wav"
    soundfile.write(path, np.zeros(2000), 1000, format="RF64")
    assert read(path).samples == 2000
    path.write_bytes(path.read_bytes()[:-500])
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "sound.wav-file-cut-off", missing=500)


def test_a_file_without_samples_is_refused(tmp_path) -> None:
    path = tmp_path / "none.wav"
    soundfile.write(path, np.empty(0), 1000)
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "sound.file-holds-no-samples")


def test_a_damaged_header_is_refused(wav) -> None:
    content = bytearray(wav.read_bytes())
    content[20:22] = b"\xee\xee"  # a coding that does not exist
    wav.write_bytes(content)
    with pytest.raises(ReadError, match="damaged"):
        read(wav)


def test_each_channel_is_called_by_its_number(tmp_path) -> None:
    path = tmp_path / "many.wav"
    soundfile.write(path, np.zeros((10, 28)), 1000)
    assert [c.name for c in read(path).channels] == [str(number) for number in range(1, 29)]


def test_more_than_memory_holds_is_refused_before_it_is_unpacked(wav, monkeypatch) -> None:
    monkeypatch.setattr("traces.core.readers.recording.MOST_VALUES", 3_999)
    with pytest.raises(ReadError) as refused:
        read(wav)
    assert says(refused.value, "recording.file-holds-more-samples")
    monkeypatch.setattr("traces.core.readers.recording.MOST_VALUES", 4_000)
    assert read(wav).samples == 2000


def test_packed_codings_are_read_whole(tmp_path) -> None:
    path = tmp_path / "packed.wav"
    soundfile.write(path, np.zeros(3200), 8000, format="WAV", subtype="GSM610")
    assert read(path).samples == 3200


def test_what_is_no_number_is_a_gap(tmp_path) -> None:
    path = tmp_path / "float.wav"
    soundfile.write(path, np.array([0.5, np.inf, -np.inf, np.nan]), 1000, subtype="FLOAT")
    assert np.isnan(read(path).channels[0].values).tolist() == [False, True, True, True]


@pytest.mark.parametrize("subtype", ["PCM_S8", "PCM_16", "PCM_24"])
def test_flac_of_every_depth_gives_the_very_samples(tmp_path, subtype: str) -> None:
    values = np.round(np.linspace(-0.9, 0.9, 500) * 128) / 128
    path = tmp_path / "depth.flac"
    soundfile.write(path, values, 1000, subtype=subtype)
    recording = read(path)
    assert np.array_equal(recording.channels[0].values, values.astype(np.float32))
    assert len(recording.notes) == 1


def test_a_coding_for_the_ear_is_told(tmp_path) -> None:
    path = tmp_path / "ear.ogg"
    soundfile.write(path, np.zeros(9000), 8000, subtype="VORBIS")
    recording = read(path)
    assert recording.samples == 9000
    assert any(says(note, "sound.file-coding-made-ear") for note in recording.notes)


def test_silence_that_unpacks_to_far_more_is_refused(tmp_path) -> None:
    path = tmp_path / "silence.flac"
    with soundfile.SoundFile(path, "w", 48_000, 2, "PCM_16") as file:
        for _ in range(20):
            file.write(np.zeros((1 << 18, 2)))
    assert path.stat().st_size < 100_000
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "recording.file-unpacks-far-more")
