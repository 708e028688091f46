"""Reading takes memory for blocks, not for the file: measured on a process of its own."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

import traces

ROOT = Path(next(iter(traces.__path__))).parent
STATUS = Path("/proc/self/status")
MB = 1_000_000

# Peak before and after: what importing takes is no business of reading's.
CODE = """
import json, sys
from pathlib import Path
import pandas
from traces.core.readers import inspection, text_rows
from traces.core.readers import read
from traces.core.readers.storing import write_summaries

def peak():
    line = next(x for x in Path("/proc/self/status").read_text().splitlines() if "VmHWM" in x)
    return int(line.split()[1]) * 1024

# smaller blocks show in a shorter file what is taken for the file
text_rows.BLOCK_BYTES = 1 << 18
folder = Path(sys.argv[2])
keep_at = folder / "kept.npy" if sys.argv[3] == "kept" else None
before = peak()
recording = read(Path(sys.argv[1]), folder=folder, keep_at=keep_at)
if keep_at:
    write_summaries(keep_at, recording)
told = inspection(recording, file="x")
total = sum(float(part.sum(dtype="f8")) for c in recording.channels for part in c.blocks())
json.dump([recording.samples, len(recording.channels), total, peak() - before], sys.stdout)
"""


def _measured(path: Path, kept: str) -> tuple[int, int, float, int]:
    if not STATUS.exists():
        pytest.skip("this system does not tell a process' peak memory")
    command = [sys.executable, "-c", CODE, str(path), str(path.parent), kept]
    done = subprocess.run(command, check=True, capture_output=True, text=True, cwd=ROOT)
    samples, channels, total, grown = json.loads(done.stdout)
    return samples, channels, total, grown


ROWS = 6_000_000


@pytest.fixture(scope="module")
def long_text(tmp_path_factory) -> Path:
    path: Path = tmp_path_factory.mktemp("long") / "long.csv"
    part = 500_000
    with path.open("w") as file:
        file.write("Time [us],clamp,coil,battery,injector\n")
        for first in range(0, ROWS, part):
            file.write(",1,2,3,4\n".join(map(str, range(first, first + part))) + ",1,2,3,4\n")
    return path


@pytest.mark.parametrize("kept", ["kept", "not kept"])
def test_long_text_takes_less_memory_than_its_numbers(long_text: Path, kept: str) -> None:
    samples, channels, total, grown = _measured(long_text, kept)
    assert (samples, channels, total) == (ROWS, 4, 10.0 * ROWS)
    # Beside the samples' 96 MB there are 48 MB of times and 100 MB of text. The blocks take some
    # 50 MB; how much of that the allocator gives back differs from run to run.
    assert grown < ROWS * 4 * np.dtype("f4").itemsize


def test_long_sound_takes_little(tmp_path) -> None:
    # kept, where its samples go at once to their place; not kept, they go the way of text
    path = tmp_path / "long.wav"
    with soundfile.SoundFile(path, "w", 1_000_000, 4, "PCM_16") as file:
        part = np.full((1 << 18, 4), 0.5)
        for _ in range(32):
            file.write(part)
    samples, channels, total, grown = _measured(path, "kept")
    assert (samples, channels) == (1 << 23, 4)
    assert total == pytest.approx(0.5 * samples * channels)
    # 134 MB of samples
    assert grown < 60 * MB
