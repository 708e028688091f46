"""Captures of the simulator made side by side: many cost little more than the longest of them.

What `simulated_together` marks is made with what other files of the run ask for. Its batches hang
on the files alone, not on which of them comes first, and lie in a folder of the run's processes.
"""

import fcntl
import hashlib
import os
import pickle
from collections.abc import Callable, Iterable, Mapping
from functools import cache, wraps
from pathlib import Path
from typing import Any, TypeVar

from traces.simulator.scenario import Scenario
from traces.simulator.simulate import MOST_TOGETHER, Simulated, simulate_many

Key = TypeVar("Key")
_Batch = tuple[Scenario, ...]

_asking: list[Callable[[], Mapping[Any, Scenario]]] = []
_running: set[str] | None = None
"""The modules whose tests run, once they are chosen."""


def simulate_each(scenarios: Mapping[Key, Scenario]) -> dict[Key, Simulated]:
    """Return the capture of each scenario under its key."""
    return dict(zip(scenarios, simulate_many(list(scenarios.values())), strict=True))


def simulated_together(
    asked: Callable[[], Mapping[Key, Scenario]],
) -> Callable[[], dict[Key, Simulated]]:
    """Return a way to the captures of the scenarios that `asked` returns, each under its key."""
    _asking.append(asked)

    @wraps(asked)
    def captures() -> dict[Key, Simulated]:
        return {key: _taken(scenario) for key, scenario in asked().items()}

    return captures


def together_for(modules: Iterable[str]) -> None:
    """Leave out what only tests ask for that do not run."""
    global _running  # noqa: PLW0603 - known when the tests are chosen, after they are imported
    _running = set(modules)
    _batches.cache_clear()


def _runs(module: str) -> bool:
    # what is no module of tests is imported by some that run
    is_of_tests = module.rpartition(".")[2].startswith("test_")
    return _running is None or not is_of_tests or module in _running


@cache
def _batches() -> dict[str, _Batch]:
    """Return for each scenario's name those that it is made with."""
    scenarios: dict[str, Scenario] = {}
    for asked in _asking:
        if _runs(asked.__module__):
            scenarios.update((_name(one), one) for one in asked().values())
    # a batch takes the steps of its longest, so those of one length stand together
    row = sorted(scenarios.items(), key=lambda item: (item[1].family, _steps_s(item[1])))
    families = {one.family for one in scenarios.values()}
    batches: dict[str, _Batch] = {}
    for family in families:
        members = [item for item in row if item[1].family == family]
        for first in range(0, len(members), MOST_TOGETHER):
            part = members[first : first + MOST_TOGETHER]
            batch = tuple(one for _, one in part)
            batches.update((name, batch) for name, _ in part)
    return batches


def _steps_s(scenario: Scenario) -> float:
    return scenario.crank_s + scenario.after_s


def _name(scenario: Scenario) -> str:
    return hashlib.sha256(pickle.dumps(scenario)).hexdigest()


def _taken(scenario: Scenario) -> Simulated:
    """Return a capture that another process or an earlier test had made, or make its batch."""
    folder = Path(os.environ["SHOPDIAG_TEST_DATA"]) / "captures"
    folder.mkdir(exist_ok=True)
    path = folder / _name(scenario)
    batch = _batches().get(path.name, (scenario,))
    first = folder / f"{_name(batch[0])}.lock"
    with first.open("w") as lock:
        # another process may be at this batch; it may go on with any other
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not path.exists():
            for made in simulate_many(batch):
                (folder / _name(made.scenario)).write_bytes(pickle.dumps(made))
    simulated: Simulated = pickle.loads(path.read_bytes())  # noqa: S301 - packed above
    return simulated
