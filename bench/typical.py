"""Median processor time of an analysis: two captures of each layout, 5 s at 20 kHz.

`python -m bench.typical` prints one line. The capture that `bench.cost` times beside pandas is one
engine only, and one that takes several starts.
"""

import sys
import time
from dataclasses import replace
from statistics import median

from traces.core.judging import analyse
from traces.core.setup import AnalysisSetup
from traces.core.waveform import Waveform
from traces.simulator.scenario import Family
from traces.simulator.scenarios import LAYOUTS, draw
from traces.simulator.simulate import simulate

_FIRST_SEED = 55_000
_REPEATS = 3
_FAMILIES: tuple[Family, ...] = ("a", "b")


def main() -> None:
    """Run from the command line."""
    times = []
    for i, layout in enumerate(LAYOUTS):
        for family in _FAMILIES:
            drawn = draw(_FIRST_SEED + i, layout=layout, family=family)
            scenario = replace(drawn, rate_hz=20_000.0, before_s=0.5, crank_s=4.0, after_s=0.5)
            waveform, setup = simulate(scenario).waveform, scenario.setup()
            times.append(min(_timed(waveform, setup) for _ in range(_REPEATS)))
    sys.stdout.write(
        f"\nAnalysis of 5 s at 20 kHz, {len(times)} captures: median "
        f"{1000 * median(times):.0f} ms of processor time, most {1000 * max(times):.0f} ms\n"
    )


def _timed(waveform: Waveform, setup: AnalysisSetup) -> float:
    begin = time.process_time()
    analyse(waveform, setup)
    return time.process_time() - begin


if __name__ == "__main__":
    main()
