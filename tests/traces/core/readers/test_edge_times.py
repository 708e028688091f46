"""Text files of edge times: what they are taken for, and that no time gets lost."""

from pathlib import Path

import numpy as np
import pytest

from tests.wording import says
from traces.core.readers import ReadError, read
from traces.core.signals.edges import edge_times_s

TIMES = np.cumsum(np.r_[0.25, np.tile([0.0052, 0.0049, 0.0055, 0.0151], 30)])


def written(folder: Path, text: str) -> Path:
    path = folder / "edges.txt"
    path.write_text(text)
    return path


@pytest.mark.parametrize(
    "text",
    [
        " ".join(f"{t:.7f}" for t in TIMES),
        ", ".join(f"{t:.7f}" for t in TIMES) + "\n",
        "".join(f"{t:.7f}\n" for t in TIMES),
        "".join(f"{t:.7f}\r\n" for t in TIMES),
        "edge time in s\n" + "".join(f"{t:.7e}\n" for t in TIMES),
    ],
)
def test_each_time_comes_back_between_samples(tmp_path: Path, text: str) -> None:
    recording = read(written(tmp_path, text))
    assert recording.format == "edge times"
    assert [c.name for c in recording.channels] == ["edges"]
    assert any("121 edge times" in str(note) for note in recording.notes)
    rising, _ = edge_times_s(recording.waveform, recording.channels[0])
    # the file's own digits
    assert rising == pytest.approx(TIMES, abs=1e-7)


@pytest.mark.parametrize("name", ["i3-crank-teeth-plugs-in.txt", "i3-crank-teeth-plugs-out.txt"])
def test_measured_edge_times_come_back_to_a_tenth_of_a_microsecond(real, name: str) -> None:
    times_s = np.array((real / name).read_text().split(), dtype=np.float64)
    recording = read(real / name)
    rising, _ = edge_times_s(recording.waveform, recording.channels[0])
    assert rising == pytest.approx(times_s, abs=1e-7)


@pytest.mark.parametrize(
    "text",
    [
        # equal steps: a time column that has lost its signals
        "".join(f"{i / 100:.2f}\n" for i in range(200)),
        # not rising
        "".join(f"{t:.7f}\n" for t in [*TIMES, 0.1]),
        # two columns
        "".join(f"{t:.7f},{i}\n" for i, t in enumerate(TIMES)),
        # too few to be a crank
        " ".join(f"{t:.7f}" for t in TIMES[:6]),
        # steps of hours
        "".join(f"{3600 * i * i}\n" for i in range(1, 60)),
    ],
)
def test_other_text_is_not_taken_for_edge_times(tmp_path: Path, text: str) -> None:
    try:
        found = read(written(tmp_path, text)).format
    except ReadError:
        return
    assert found != "edge times"


def test_a_tail_that_is_no_time_is_refused_in_a_sentence(tmp_path: Path) -> None:
    # longer than what is looked at to tell formats apart
    many = np.cumsum(np.tile([0.0052, 0.0049, 0.0055], 4000))
    path = written(tmp_path, "".join(f"{t:.7f}\n" for t in many) + "0.0\n")
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "edge_times.edge-times-do-not")


def test_digits_without_end_cost_nothing(tmp_path: Path) -> None:
    with pytest.raises(ReadError):
        read(written(tmp_path, "1" * 60_000 + "x"))
