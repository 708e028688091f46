"""Twins with a dead cylinder show one hump a cycle, and are judged all the same."""

from dataclasses import replace

import pytest

from engines.core.firing import FiringOrder
from tests.traces.simulated import simulated_together
from traces.core.judging.pipeline import analyse
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw


@simulated_together
def _twins() -> dict[str, Scenario]:
    """Return twins that fire 360 degrees apart, with and without a dead cylinder."""
    order = FiringOrder.parse("1-2", (0, 360))
    scenarios = {}
    for seed, fault in ((5200401, "dead"), (5200401, "none")):
        drawn = draw(seed, "V2", fault, family="a", sync="720")
        engine = replace(drawn.engine, firing_order=order)
        scenarios[fault] = replace(drawn, engine=engine, rate_hz=1000.0)
    return scenarios


@pytest.fixture(scope="module")
def reports():
    """Return reports and dead cylinders of the twins."""
    return [
        (
            analyse(s.waveform, s.scenario.setup()),
            tuple(i for i, c in enumerate(s.scenario.engine.cylinders, 1) if c.faulty),
        )
        for s in _twins().values()
    ]


def test_one_hump_a_sync_event_is_one_cylinder_of_two(reports) -> None:
    (report, dead), _ = reports
    assert len(dead) == 1
    assert report.candidates == (dead,)
    # this starter was chosen for 170 to 285 rpm; a cycle twice as long would be half of that
    assert report.cranking_rpm > 170.0


def test_two_humps_a_sync_event_stay_two(reports) -> None:
    _, (report, _) = reports
    assert report.verdict == "even"
    assert report.cranking_rpm > 170.0
