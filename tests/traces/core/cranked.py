"""Engines of the simulator cranked and judged, each once in a test run."""

from dataclasses import replace
from functools import cache

from tests.traces.simulated import simulate_each
from traces.core.judging.pipeline import analyse
from traces.core.report.results import Report
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated


def scenario_of(
    layout: str, seed: int, fault: str, later_deg: float = 0.0, every: int = 720
) -> Scenario:
    family: Family = "b" if seed % 2 else "a"
    drawn = draw(seed, layout, fault, family=family, sync="360" if every == 360 else "720")
    return replace(
        drawn,
        rate_hz=5000.0,
        before_s=0.4,
        start_deg=(drawn.start_deg + later_deg) % 720,
        seed=seed + int(later_deg),
    )


_made: dict[tuple[object, ...], Simulated] = {}


def crank_together(*engines: tuple[str, int, str, float, int]) -> None:
    """Crank engines side by side, which `cranked` takes from here: each by its arguments."""
    _made.update(simulate_each({engine: scenario_of(*engine) for engine in engines}))


def simulated(
    layout: str, seed: int, fault: str = "none", later_deg: float = 0.0, every: int = 720
) -> Simulated:
    """Return the capture of an engine that stood `later_deg` further on."""
    key = (layout, seed, fault, later_deg, every)
    if key not in _made:
        crank_together(key)
    return _made[key]


@cache
def cranked(
    layout: str,
    seed: int,
    fault: str = "none",
    later_deg: float = 0.0,
    every: int | None = 720,
    *,
    sync_cylinder: int | None = None,
) -> tuple[Report, AnalysisSetup, tuple[int, ...]]:
    """Return report, set-up and faulty cylinders of an engine that stood `later_deg` further on.

    `every`: what the person at the tablet says of the sync; None leaves it out.
    """
    made = simulated(layout, seed, fault, later_deg, 360 if every == 360 else 720)
    setup = made.scenario.setup()
    if every is None:
        setup = replace(setup, sync=None)
    elif sync_cylinder is not None and setup.sync:
        setup = replace(setup, sync=replace(setup.sync, cylinder=sync_cylinder))
    report = analyse(made.waveform, setup)
    assert report.verdict != "not judged"
    low = tuple(i for i, c in enumerate(made.scenario.engine.cylinders, start=1) if c.faulty)
    return report, setup, low
