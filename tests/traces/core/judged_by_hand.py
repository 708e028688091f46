"""Engines that were cranked, and what is asked of their reports, for tests of a person's hand."""

from dataclasses import replace
from functools import cache

from tests.traces.core.synthetic import Crank
from tests.traces.simulated import simulated_together
from traces.core.humps.humps import HumpMethod
from traces.core.judging.pipeline import analyse
from traces.core.report.results import Report
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.core.waveform.waveform import Waveform
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated, simulate_many

LOW_THREE = Crank(strengths=(1.0, 1.0, 0.5, 1.0))
LAYOUTS = ("I4", "I6", "V8", "V2")
FAMILIES: tuple[Family, ...] = ("a", "b")


def simulated_from(scenario: Scenario) -> Simulated:
    return next(iter(simulate_many([scenario])))


@cache
@simulated_together
def _cranked() -> dict[tuple[str, Family], Scenario]:
    return {
        (layout, family): replace(
            draw(610, layout=layout, fault="one", family=family, sync="720"), crank_s=4.0
        )
        for family in FAMILIES
        for layout in LAYOUTS
    }


def cranked(layout: str, family: Family) -> Simulated:
    """Crank an engine with one low cylinder and a good sync, whose events are the truth."""
    return _cranked()[layout, family]


@cache
def recorded(layout: str, family: Family) -> Report:
    """Judge that engine by its recorded sync, with nothing done by hand."""
    simulated = cranked(layout, family)
    return analyse(simulated.waveform, simulated.scenario.setup())


def codes_of(report: Report) -> set[str]:
    return {f.code for f in report.findings}


def stops_of(report: Report) -> set[str]:
    return {f.code for f in report.findings if f.severity == "stop"}


def by_humps(waveform: Waveform, setup: AnalysisSetup) -> Report:
    return analyse(waveform, setup, HumpMethod())


def relative_of(report: Report) -> list[float]:
    return [e.relative for e in report.estimates]
