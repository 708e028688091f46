"""Simulated cranks, made once for all tests of the other signals."""

from collections.abc import Callable

import pytest

from tests.traces.simulated import simulate_each
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated

_Key = tuple[int, str, str, Family, str | None]

_TOGETHER: tuple[tuple[_Key, ...], ...] = (
    ((81, "I4", "none", "a", None), (82, "I4", "dead", "a", None)),
    tuple(
        (84, "I4", "none", "a", flaw) for flaw in ("no-compression", "engine-catches", "too-short")
    ),
    ((8302, "I3", "one", "a", None), (8302, "I4", "one", "a", None)),
    ((9201, "I4", "none", "a", None), (9201, "I4", "dead", "a", None)),
)
"""What a file that asks for one asks for too: side by side they take little more than one."""


def _scenario(seed: int, layout: str, fault: str, family: Family, flaw: str | None) -> Scenario:
    return draw(seed, layout=layout, fault=fault, family=family, flaw=flaw, sync="720")


@pytest.fixture(scope="session")
def cranked() -> Callable[..., Simulated]:
    made: dict[_Key, Simulated] = {}

    def crank(
        seed: int, layout: str, fault: str, *, family: Family = "a", flaw: str | None = None
    ) -> Simulated:
        key = (seed, layout, fault, family, flaw)
        if key not in made:
            group = next((g for g in _TOGETHER if key in g), (key,))
            made.update(simulate_each({each: _scenario(*each) for each in group}))
        return made[key]

    return crank
