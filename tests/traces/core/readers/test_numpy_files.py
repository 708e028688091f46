"""NumPy files: which arrays are channels, which is time, and no object is ever unpacked."""

import io
import pickle

import numpy as np
import pytest

from tests.wording import says
from traces.core.readers import ReadError, read

N = 300
TIMES_S = 2.0 + np.arange(N) / 500


@pytest.fixture
def save(tmp_path):
    def _save(**arrays):
        path = tmp_path / "made.npz"
        np.savez(path, **arrays)
        return path

    return _save


def test_times_rate_and_figures_by_name(save) -> None:
    a, b = np.arange(N), np.arange(N, dtype=np.int16) * 2
    for about in ({"time": TIMES_S}, {"fs": 500.0, "t0": 2.0}, {"dt": np.array([0.002]), "t0": 2}):
        recording = read(save(**about, clamp=a, sync=b))
        assert [channel.name for channel in recording.channels] == ["clamp", "sync"]
        assert recording.rate_hz == 500.0
        assert recording.t0_s == pytest.approx(2.0)
        assert recording.channels[1].values[:3].tolist() == [0, 2, 4]


def test_units_in_names_and_a_clock_in_milliseconds(save) -> None:
    arrays = {"Time [ms]": np.arange(N), "Clamp [mV]": np.arange(N)}
    recording = read(save(**arrays))
    assert (recording.channels[0].name, recording.channels[0].unit) == ("Clamp", "mV")
    assert recording.rate_hz == 1000.0


@pytest.mark.parametrize("order", ["C", "F"])
@pytest.mark.parametrize("by_rows", [True, False])
def test_a_table_by_rows_or_by_columns(tmp_path, order, by_rows: bool) -> None:
    table = np.arange(2.0 * N).reshape(N, 2) if by_rows else np.arange(2.0 * N).reshape(2, N)
    path = tmp_path / "table.npy"
    np.save(path, table.copy(order))
    recording = read(path, rate_hz=100)
    wanted = table.T if by_rows else table
    for channel, values in zip(recording.channels, wanted, strict=True):
        assert channel.values.tolist() == values.tolist()
    assert recording.rate_hz == 100


def test_what_does_not_fit_is_left_out_and_named(save) -> None:
    recording = read(save(a=np.arange(N), b=np.arange(N), c=np.arange(7), words=np.array(["x"])))
    assert [channel.name for channel in recording.channels] == ["a", "b"]
    assert "“c”" in str(recording.notes[0])
    assert "“words”" in str(recording.notes[0])


def test_objects_are_never_unpacked(tmp_path, save) -> None:
    touched = tmp_path / "touched"

    class Evil:
        def __reduce__(self):
            return (touched.touch, ())

    file = io.BytesIO()
    np.save(file, np.array([Evil()] * 4, dtype=object), allow_pickle=True)
    path = tmp_path / "evil.npy"
    path.write_bytes(file.getvalue())
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "arrays.file-holds-no-recorded")
    assert not touched.exists()
    pickle.loads(pickle.dumps(Evil()))  # noqa: S301 - our own: it would have been there
    assert touched.exists()


def test_a_header_that_promises_more_than_there_is_is_refused(tmp_path) -> None:
    file = io.BytesIO()
    np.save(file, np.arange(10.0))
    content = file.getvalue().replace(b"(10,)", b"(9999999999999,)".ljust(5)[:16])
    path = tmp_path / "lying.npy"
    path.write_bytes(content)
    with pytest.raises(ReadError):
        read(path)


def test_too_many_arrays_are_refused(save) -> None:
    with pytest.raises(ReadError, match="201 arrays"):
        read(save(**{f"a{i}": np.arange(3) for i in range(201)}))


@pytest.mark.parametrize("start_s", [1e16, -1e300])
def test_a_start_too_far_to_tell_samples_apart_is_left_out(save, start_s: float) -> None:
    found = read(save(clamp=np.arange(100.0), fs=1000.0, t0=start_s))
    assert found.t0_s == 0.0
    assert any(f"begins at {start_s:.6g} s, too far" in str(note) for note in found.notes)


def test_seconds_since_1970_are_near_enough(save) -> None:
    assert read(save(clamp=np.arange(100.0), fs=500_000.0, t0=1.7e9)).t0_s == 1.7e9
