"""Captures made with those that other tests ask for are the ones that were asked for."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.traces import simulated
from tests.traces.simulated import simulated_together
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import simulate, simulate_many


def _short(seed: int) -> Scenario:
    return replace(draw(seed, "I4", family="a"), rate_hz=1000.0, crank_s=0.4, after_s=0.0)


@pytest.fixture
def asking(monkeypatch, tmp_path) -> Iterator[None]:
    """A run of its own, in which nobody asked so far."""
    monkeypatch.setenv("SHOPDIAG_TEST_DATA", str(tmp_path))
    monkeypatch.setattr(simulated, "_asking", [])
    simulated._batches.cache_clear()
    yield
    simulated._batches.cache_clear()


@pytest.fixture
def cranked(monkeypatch) -> list[int]:
    """How many were cranked together, each time."""
    counts: list[int] = []
    really = simulate_many

    def counted(scenarios):
        counts.append(len(scenarios))
        return really(scenarios)

    monkeypatch.setattr(simulated, "simulate_many", counted)
    return counts


def test_two_that_ask_have_each_their_own(asking, cranked) -> None:
    one = simulated_together(lambda: {"one": _short(1)})
    two = simulated_together(lambda: {2: _short(2), 1: _short(1)})
    told: dict[Any, Any] = {**two(), **one()}
    assert cranked == [2]
    for key, seed in ((2, 2), (1, 1), ("one", 1)):
        made, alone = told[key], simulate(_short(seed))
        assert made.scenario == alone.scenario
        for got, wanted in zip(made.waveform.channels, alone.waveform.channels, strict=True):
            assert got.name == wanted.name
            np.testing.assert_allclose(got.values, wanted.values, atol=0.02)
    assert told[2].waveform.channels[0].values.std() != told[1].waveform.channels[0].values.std()


def test_what_tests_ask_for_that_do_not_run_is_not_made(asking, cranked, monkeypatch) -> None:
    def of_others() -> dict[str, Scenario]:
        return {"other": _short(3)}

    of_others.__module__ = "tests.traces.test_that_does_not_run"
    monkeypatch.setattr(simulated, "_running", {__name__})
    simulated_together(of_others)
    simulated_together(lambda: {"own": _short(1)})()
    assert cranked == [1]


def test_families_are_cranked_apart(asking, cranked) -> None:
    others = simulated_together(lambda: {"b": replace(_short(1), family="b")})
    simulated_together(lambda: {"a": _short(1)})()
    assert cranked == [1]
    assert others()["b"].scenario.family == "b"
    assert cranked == [1, 1]
