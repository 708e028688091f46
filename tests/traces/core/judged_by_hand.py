"""Engines that were cranked, and what is asked of their reports, for tests of a person's hand."""

from functools import cache

from tests.traces.core.synthetic import Crank
from traces.core.humps.humps import HumpMethod
from traces.core.judging.pipeline import analyse
from traces.core.report.results import Report
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.core.waveform.waveform import Waveform
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated, simulate_many

LOW_THREE = Crank(strengths=(1.0, 1.0, 0.5, 1.0))
FAMILIES: tuple[Family, ...] = ("a", "b")


def simulated_from(scenario: Scenario) -> Simulated:
    return next(iter(simulate_many([scenario])))


@cache
def cranked(layout: str, family: Family) -> Simulated:
    """Crank an engine with one low cylinder and a good sync, whose events are the truth."""
    return simulated_from(draw(610, layout=layout, fault="one", family=family, sync="720"))


def codes_of(report: Report) -> set[str]:
    return {f.code for f in report.findings}


def stops_of(report: Report) -> set[str]:
    return {f.code for f in report.findings if f.severity == "stop"}


def by_humps(waveform: Waveform, setup: AnalysisSetup) -> Report:
    return analyse(waveform, setup, HumpMethod())


def relative_of(report: Report) -> list[float]:
    return [e.relative for e in report.estimates]
