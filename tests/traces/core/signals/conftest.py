"""Simulated cranks, made once for all tests of the other signals."""

from collections.abc import Callable

import pytest

from traces.simulator.scenario import Family
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated, simulate


@pytest.fixture(scope="session")
def cranked() -> Callable[..., Simulated]:
    made: dict[tuple[object, ...], Simulated] = {}

    def crank(
        seed: int, layout: str, fault: str, *, family: Family = "a", flaw: str | None = None
    ) -> Simulated:
        key = (seed, layout, fault, family, flaw)
        if key not in made:
            drawn = draw(seed, layout=layout, fault=fault, family=family, flaw=flaw, sync="720")
            made[key] = simulate(drawn)
        return made[key]

    return crank
