"""A folder as queue: what is being written is not there yet."""

from collections.abc import Callable
from pathlib import Path
from queue import Empty

import pytest
from kombu import Connection


@pytest.fixture
def channels(tmp_path: Path):
    """Two processes' ends of one folder."""
    folders = {name: tmp_path / name for name in ("in", "done", "control")}
    for folder in folders.values():
        folder.mkdir()
    options = {
        "data_folder_in": str(folders["in"]),
        "data_folder_out": str(folders["in"]),
        "processed_folder": str(folders["done"]),
        "control_folder": str(folders["control"]),
        "store_processed": True,
    }
    ends = [
        Connection(transport="shopdiag.folder_queue:Transport", transport_options=options)
        for _ in range(2)
    ]
    yield tuple(end.channel() for end in ends)
    for end in ends:
        end.release()


@pytest.fixture
def in_mid_write(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[], None]], None]:
    """Let something look while half of a file is written."""
    whole = Path.write_text

    def let(look: Callable[[], None]) -> None:
        def in_halves(self: Path, text: str, encoding: str) -> int:
            whole(self, text[: len(text) // 2], encoding=encoding)
            monkeypatch.undo()
            look()
            return whole(self, text, encoding=encoding)

        monkeypatch.setattr(Path, "write_text", in_halves)

    return let


def test_a_message_half_written_is_not_taken(channels, in_mid_write):
    writer, reader = channels
    looked = []

    def look() -> None:
        with pytest.raises(Empty):
            reader._get("shopdiag")
        looked.append(reader._size("shopdiag"))

    in_mid_write(look)
    writer._put("shopdiag", {"body": "W1s3XV0=", "headers": {"id": 7}})
    assert looked == [0]
    assert reader._get("shopdiag") == {"body": "W1s3XV0=", "headers": {"id": 7}}


def test_a_table_half_written_is_not_read(channels, in_mid_write):
    writer, reader = channels
    looked = []
    in_mid_write(lambda: looked.append(reader.get_table("shopdiag")))
    writer._queue_bind("shopdiag", "", "", "shopdiag")
    assert looked == [[]]
    assert [bound.queue for bound in reader.get_table("shopdiag")] == ["shopdiag"]


def test_who_comes_second_keeps_the_first_ones_queue(channels, in_mid_write):
    first, second = channels
    # the second has seen that there is no table, and the first makes it meanwhile
    in_mid_write(lambda: first._queue_bind("shopdiag", "", "", "one"))
    second._queue_bind("shopdiag", "", "", "other")
    assert {bound.queue for bound in second.get_table("shopdiag")} == {"one", "other"}
