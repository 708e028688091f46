"""Rows of one file, written side by side: whole, in any order, or not at all."""

import numpy as np
import pytest

from traces.core.readers.sample_file import SampleFile
from traces.core.readers.spool import Spool


def test_rows_grow_side_by_side(tmp_path) -> None:
    made = SampleFile(tmp_path / "x.npy", 2, 5)
    first, second = made.rows
    first.add(np.array([1, 2], dtype=np.float32))
    second.add(np.array([6], dtype=np.float32))
    second.add(np.arange(14, dtype=np.float32)[::2][3:])  # not in one piece
    first.add(np.array([3, 4, 5], dtype=np.float32))
    assert [part.tolist() for part in first.blocks()] == [[1, 2, 3, 4, 5]]
    rows = made.arrays()
    assert [row.tolist() for row in rows] == [[1, 2, 3, 4, 5], [6, 6, 8, 10, 12]]
    assert np.array_equal(np.load(tmp_path / "x.npy"), np.stack(rows))


@pytest.mark.parametrize("in_memory_bytes", [0, 1 << 20])
@pytest.mark.parametrize("copies", [True, False])
def test_a_row_takes_a_spool(tmp_path, monkeypatch, in_memory_bytes: int, copies: bool) -> None:
    monkeypatch.setattr("traces.core.readers.spool._IN_MEMORY_BYTES", in_memory_bytes)
    if not copies:
        monkeypatch.setattr("os.copy_file_range", _cannot, raising=False)
    spool: Spool[np.float32] = Spool(np.float32, tmp_path)
    values = np.random.default_rng(1).standard_normal(100_000).astype(np.float32)
    for part in np.array_split(values, 7):
        spool.add(part)
    made = SampleFile(tmp_path / "x.npy", 1, values.size)
    made.rows[0].take(spool)
    spool.close()
    assert np.array_equal(made.arrays()[0], values)


def _cannot(*_: object) -> int:
    raise OSError("not between these files")


def test_a_row_that_is_not_full_is_no_recording(tmp_path) -> None:
    made = SampleFile(tmp_path / "x.npy", 1, 3)
    made.rows[0].add(np.zeros(2, dtype=np.float32))
    with pytest.raises(RuntimeError, match="not full"):
        made.arrays()
    with pytest.raises(ValueError, match="room"):
        made.rows[0].add(np.zeros(2, dtype=np.float32))
    made.discard()
    assert list(tmp_path.iterdir()) == []


def test_where_the_disk_is_full_nothing_is_left(tmp_path, monkeypatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.posix_fallocate", full)
    with pytest.raises(OSError, match="No space"):
        SampleFile(tmp_path / "x.npy", 1, 3)
    assert list(tmp_path.iterdir()) == []


def test_a_file_system_that_sets_no_room_aside_will_do(tmp_path, monkeypatch) -> None:
    def cannot(*_: object) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr("os.posix_fallocate", cannot)
    made = SampleFile(tmp_path / "x.npy", 1, 3)
    made.rows[0].add(np.array([1, 2, 3], dtype=np.float32))
    assert made.arrays()[0].tolist() == [1, 2, 3]
