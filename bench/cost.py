"""Processor time and peak memory of an analysis, beside reading the same file with pandas.

Each figure comes from a process of its own, because peak memory never falls again.
"""

import json
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from bench.memory import peak_mb
from traces.core.judging import analyse
from traces.core.plain_json import PlainJson
from traces.core.readers import read
from traces.core.setup import AnalysisSetup
from traces.simulator.export import to_csv
from traces.simulator.scenarios import draw
from traces.simulator.simulate import simulate

_REPEATS = 5


@dataclass(frozen=True, slots=True)
class Cost(PlainJson):
    """One capture's cost: seconds, and peak resident memory in megabytes."""

    name: str
    samples: int
    pandas_s: float
    reading_s: float
    analysis_s: float
    pandas_mb: float
    whole_mb: float


def measure(rate_hz: float, crank_s: float, layout: str = "I4") -> Cost:
    """Simulate one capture, write it as delimited text, and measure in processes of their own."""
    drawn = draw(4711, layout=layout, fault="one", sync="720")
    clamp = replace(drawn.clamp, bandwidth_hz=10_000.0)
    scenario = replace(
        drawn, clamp=clamp, rate_hz=rate_hz, crank_s=crank_s - 0.5, before_s=0.3, after_s=0.2
    )
    simulated = simulate(scenario)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "capture.csv"
        to_csv(simulated.waveform, path)
        about = json.dumps(scenario.setup().to_json())
        pandas = _run("pandas", str(path), about)
        whole = _run("whole", str(path), about)
    return Cost(
        name=f"{crank_s:g} s at {rate_hz / 1000:g} kHz",
        samples=simulated.waveform.samples,
        pandas_s=pandas["reading_s"],
        reading_s=whole["reading_s"],
        analysis_s=whole["analysis_s"],
        pandas_mb=pandas["peak_mb"],
        whole_mb=whole["peak_mb"],
    )


def _run(kind: str, path: str, about: str) -> dict[str, float]:
    command = [sys.executable, "-m", "bench.cost", kind, path, about]
    done = subprocess.run(command, check=True, capture_output=True, text=True)  # noqa: S603
    figures: dict[str, float] = json.loads(done.stdout)
    return figures


def _main(kind: str, path: str, about: str) -> None:
    reading, analysis = [], []
    setup = AnalysisSetup.from_json(json.loads(about))
    for _ in range(_REPEATS):
        begin = time.process_time()
        if kind == "pandas":
            pd.read_csv(path)
            reading.append(time.process_time() - begin)
            continue
        waveform = read(Path(path)).waveform
        reading.append(time.process_time() - begin)
        begin = time.process_time()
        analyse(waveform, setup)
        analysis.append(time.process_time() - begin)
    figures = {"reading_s": _median(reading), "peak_mb": peak_mb()}
    if analysis:
        figures["analysis_s"] = _median(analysis)
    sys.stdout.write(json.dumps(figures))


def _median(values: list[float]) -> float:
    return sorted(values)[len(values) // 2]


if __name__ == "__main__":
    _main(*sys.argv[1:4])
