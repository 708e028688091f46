"""What reading long recordings costs: beside `cat`, pandas' own chunks and soundfile alone.

`python -m bench.reading --full` writes a recording of 100 million samples of two channels as text
and as WAV into a folder that is removed again (4 GB with what is made of it), and reads each in a
process of its own. What is compared is done in turns, and the least of several rounds counts: other
work on the machine then falls on all alike.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TypeAlias

import numpy as np
import pandas as pd
import soundfile
from numpy.typing import NDArray

from bench.memory import peak_mb
from traces.core.readers import files_of, read, write_summaries

Floats: TypeAlias = NDArray[np.float64]

_RATE_HZ = 1_000_000
_PART = 500_000


def main(arguments: list[str]) -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--samples", type=float, default=20e6, help="rows of two channels")
    parser.add_argument("--folder", type=Path, help="where the files are written for a while")
    parser.add_argument("--rounds", type=int, default=3, help="of which the least counts")
    parser.add_argument("--quick", action="store_true", help="a tenth of the rows")
    parser.add_argument("--full", action="store_true", help="100 million rows")
    # what the other benches are told is of no interest here
    chosen, _ = parser.parse_known_args(arguments)
    samples = 100e6 if chosen.full else chosen.samples / (10 if chosen.quick else 1)
    table(int(samples), chosen.folder, rounds=chosen.rounds)


def table(samples: int, folder: Path | None = None, *, rounds: int = 3) -> None:
    """Print the figures as a table."""
    _say(
        f"\nReading {samples / 1e6:g} M samples of two channels, least of {rounds} rounds "
        "(one process each; ratios are to the row marked 1.00)\n"
    )
    _say("| what | seconds | ratio | processor s | ratio | peak, MB |")
    _say("| --- | --- | --- | --- | --- | --- |")
    with tempfile.TemporaryDirectory(dir=folder) as made:
        for kinds, write in ((("cat", "pandas", "text"), _write_text), (_SOUND, _write_sound)):
            path = Path(made) / "recording"
            write(path, samples)
            _rows(kinds, path, rounds)
            path.unlink()


_SOUND = ("cat", "soundfile", "sound")
_TOLD = {
    "cat": "`cat` to nowhere",
    "pandas": "pandas, chunks to float32",
    "text": "text: samples put by, extremes, means, time base",
    "soundfile": "soundfile alone, blocks to float32",
    "sound": "WAV: samples put by, extremes, means",
    "stored": "the same into the stored copy",
}


def _rows(kinds: tuple[str, ...], path: Path, rounds: int) -> None:
    figures: dict[str, dict[str, float]] = {}
    for _ in range(rounds):
        for kind in (*kinds, "stored"):
            found = _run(kind, path)
            before = figures.get(kind, found)
            # the peak is what may not grow: there the most counts
            figures[kind] = {
                key: (max if key == "peak_mb" else min)(before[key], value)
                for key, value in found.items()
            }
    baseline = figures[kinds[1]]
    size_mb = path.stat().st_size / 1e6
    _say(f"| *file of {size_mb:.0f} MB* | | | | | |")
    for kind, found in figures.items():
        shares = (found[key] / baseline[key] for key in ("seconds", "processor_s"))
        ratio, processor_ratio = (f"{share:.2f}" for share in shares)
        _say(
            f"| {_TOLD[kind]} | {found['seconds']:.2f} | {ratio} | "
            f"{found['processor_s']:.2f} | {processor_ratio} | {found['peak_mb']:.0f} |"
        )


def _write_text(path: Path, samples: int) -> None:
    with path.open("w") as file:
        file.write("Time (s),clamp (V),coil (V)\n")
        for times_s, a, b in _parts(samples):
            rows = zip(times_s.tolist(), a.tolist(), b.tolist(), strict=True)
            file.write("\n".join(["%.6f,%.5f,%.5f" % row for row in rows]) + "\n")  # noqa: UP031 - quickest


def _write_sound(path: Path, samples: int) -> None:
    with soundfile.SoundFile(path, "w", _RATE_HZ, 2, "PCM_16", format="WAV") as file:
        for _, a, b in _parts(samples):
            file.write(np.column_stack([a, b]) / 8.0)


def _parts(samples: int) -> Iterator[tuple[Floats, Floats, Floats]]:
    rng = np.random.default_rng(4711)
    for first in range(0, samples, _PART):
        times_s = np.arange(first, min(first + _PART, samples)) / _RATE_HZ
        noise = 0.01 * rng.standard_normal((2, times_s.size))
        a = 1.2 + 0.3 * np.sin(50 * times_s) + noise[0]
        yield times_s, a, np.where((2 * times_s) % 1 < 0.01, 4.0, 0.1) + noise[1]


def _run(kind: str, path: Path) -> dict[str, float]:
    command = [sys.executable, "-m", "bench.reading", "--one", kind, str(path)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)  # noqa: S603
    figures: dict[str, float] = json.loads(done.stdout)
    return figures


def _cat(path: Path) -> None:
    with path.open("rb", buffering=0) as file:
        while file.read(1 << 20):
            pass


def _pandas(path: Path) -> None:
    for _ in pd.read_csv(path, chunksize=_PART, dtype=np.float32):
        pass


def _soundfile(path: Path) -> None:
    with soundfile.SoundFile(path) as file:
        for _ in file.blocks(1 << 16, dtype="float32"):
            pass


def _ours(path: Path) -> None:
    read(path, folder=path.parent)


def _stored(path: Path) -> None:
    kept = path.with_suffix(".npy")
    write_summaries(kept, read(path, folder=path.parent, keep_at=kept))
    for one in files_of(kept):
        one.unlink()


def _one(kind: str, path: Path) -> None:
    does: dict[str, Callable[[Path], None]] = {
        "cat": _cat,
        "pandas": _pandas,
        "soundfile": _soundfile,
        "text": _ours,
        "sound": _ours,
        "stored": _stored,
    }
    begin, processor = time.perf_counter(), time.process_time()
    does[kind](path)
    figures = {
        "seconds": time.perf_counter() - begin,
        "processor_s": time.process_time() - processor,
        "peak_mb": peak_mb(),
    }
    sys.stdout.write(json.dumps(figures))


def _say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        _one(sys.argv[2], Path(sys.argv[3]))
    else:
        main(sys.argv[1:])
