"""Simulated cranks, made once for all tests of the other signals."""

from collections.abc import Callable

import pytest

from tests.traces.simulated import simulated_together
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated

_Key = tuple[int, str, str, Family, str | None]

_KEYS: tuple[_Key, ...] = (
    (81, "I4", "none", "a", None),
    (82, "I4", "none", "a", None),
    (82, "I4", "dead", "a", None),
    (82, "I4", "dead", "b", None),
    (84, "I4", "none", "a", "no-compression"),
    (84, "I4", "none", "a", "engine-catches"),
    (84, "I4", "none", "a", "too-short"),
    (8302, "I3", "one", "a", None),
    (8302, "I4", "one", "a", None),
    (9201, "I4", "none", "a", None),
    (9201, "I4", "dead", "a", None),
)
"""Seed, layout, fault, family and flaw of what these tests ask for."""


@simulated_together
def _captures() -> dict[_Key, Scenario]:
    return {
        (seed, layout, fault, family, flaw): draw(
            seed, layout=layout, fault=fault, family=family, flaw=flaw, sync="720"
        )
        for seed, layout, fault, family, flaw in _KEYS
    }


@pytest.fixture(scope="session")
def cranked() -> Callable[..., Simulated]:
    made = _captures()

    def crank(
        seed: int, layout: str, fault: str, *, family: Family = "a", flaw: str | None = None
    ) -> Simulated:
        return made[seed, layout, fault, family, flaw]

    return crank
