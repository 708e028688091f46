"""Captures of the simulator made side by side: many cost little more than the longest of them."""

from collections.abc import Mapping
from typing import TypeVar

from traces.simulator.scenario import Scenario
from traces.simulator.simulate import Simulated, simulate_many

Key = TypeVar("Key")


def simulate_each(scenarios: Mapping[Key, Scenario]) -> dict[Key, Simulated]:
    """Return the capture of each scenario under its key."""
    return dict(zip(scenarios, simulate_many(list(scenarios.values())), strict=True))
