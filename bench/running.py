"""Simulate and judge captures on several cores; nothing is kept from one run to the next."""

import os
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

from bench.captures import CaptureBatch
from bench.scoring import ScoredOutcome, outcome
from traces.core.humps import HumpMethod
from traces.core.judging import analyse
from traces.core.preparation import Method
from traces.core.twin import TwinMethod
from traces.simulator.simulate import simulate_many

METHODS: tuple[Method, ...] = (HumpMethod(), TwinMethod())


def judged(batches: Sequence[CaptureBatch], jobs: int) -> Iterator[list[ScoredOutcome]]:
    """Yield the outcomes of each batch in their order, whatever the number of processes."""
    if jobs <= 1:
        yield from map(judge, batches)
        return
    # each process has a core to itself; threads inside one would only get in the way
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        yield from pool.map(judge, batches)


def judge(batch: CaptureBatch) -> list[ScoredOutcome]:
    """Return the outcomes of one batch by every method."""
    found = []
    for simulated in simulate_many(batch.scenarios):
        setup = simulated.scenario.setup()
        for method in METHODS:
            begin = time.process_time()
            report = analyse(simulated.waveform, setup, method)
            seconds = time.process_time() - begin
            found.append(outcome(simulated, report, batch.part, seconds))
    return found
