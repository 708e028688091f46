import csv

import numpy as np
import pytest
import soundfile

from traces.core.waveform.waveform import Channel, Waveform
from traces.simulator.export import to_csv, to_wav


@pytest.fixture
def waveform():
    a = np.array([0.0, 1.25, -2.5, np.nan, 3.125], dtype=np.float32)
    b = np.array([0.5, -0.5, 0.0, 0.25, 1e-3], dtype=np.float32)
    return Waveform(
        t0_s=-0.001, rate_hz=1000.0, channels=(Channel("clamp", "V", a), Channel("coil", None, b))
    )


def test_csv_keeps_names_times_and_values(waveform, tmp_path):
    path = tmp_path / "out.csv"
    to_csv(waveform, path, header=("made for a test",))
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines[0] == "# made for a test"
    assert lines[1] == "Time [s],clamp [V],coil"
    table = np.genfromtxt(path, delimiter=",", skip_header=2)
    assert table[:, 0] == pytest.approx(np.arange(5) / 1000 - 0.001)
    for column, channel in zip(table.T[1:], waveform.channels, strict=True):
        assert column == pytest.approx(channel.values, rel=1e-6, nan_ok=True)


def test_csv_with_decimal_commas_and_no_time(waveform, tmp_path):
    path = tmp_path / "out.csv"
    to_csv(waveform, path, delimiter=";", decimal=",", with_time=False)
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file, delimiter=";"))
    assert rows[0] == ["clamp [V]", "coil"]
    assert rows[2] == ["1,25", "-0,5"]
    assert rows[4] == ["", "0,25"]


def test_csv_marks_must_differ(waveform, tmp_path):
    with pytest.raises(ValueError, match="must differ"):
        to_csv(waveform, tmp_path / "out.csv", decimal=",")


def test_wav_scales_back_to_volts(waveform, tmp_path):
    whole = Waveform(
        0.0, 1000.0, tuple(Channel(c.name, "V", np.nan_to_num(c.values)) for c in waveform.channels)
    )
    path = tmp_path / "out.wav"
    full_scale_v = to_wav(whole, path)
    samples, rate_hz = soundfile.read(path)
    assert rate_hz == 1000
    assert full_scale_v == pytest.approx(1.05 * 3.125)
    for column, channel in zip(samples.T, whole.channels, strict=True):
        assert column * full_scale_v == pytest.approx(channel.values, abs=full_scale_v / 32000)


def test_wav_clips_at_the_full_scale_asked_for(waveform, tmp_path):
    whole = Waveform(
        0.0, 1000.0, (Channel("clamp", "V", np.nan_to_num(waveform.channels[0].values)),)
    )
    to_wav(whole, tmp_path / "out.wav", full_scale_v=2.0)
    samples, _ = soundfile.read(tmp_path / "out.wav")
    assert samples.max() == pytest.approx(1.0, abs=1e-4)
    assert samples.min() == pytest.approx(-1.0)


def test_wav_of_a_silent_channel(tmp_path):
    silent = Waveform(0.0, 500.0, (Channel("clamp", "V", np.zeros(10, np.float32)),))
    assert to_wav(silent, tmp_path / "out.wav") == 1.0


def test_wav_needs_a_whole_rate(waveform, tmp_path):
    odd = Waveform(0.0, 999.5, waveform.channels)
    with pytest.raises(ValueError, match="whole number"):
        to_wav(odd, tmp_path / "out.wav")


def test_wav_refuses_gaps(waveform, tmp_path):
    with pytest.raises(ValueError, match="gap"):
        to_wav(waveform, tmp_path / "out.wav")
