"""A clamp that was not zeroed: rest, sign and crank are found by what is quiet."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.simulated import simulated_together
from traces.core.crank.cranking import find_crank
from traces.core.humps.humps import HumpMethod
from traces.core.judging.pipeline import analyse
from traces.core.waveform.conditioning import condition
from traces.core.waveform.rest import find_rest
from traces.core.waveform.waveform import Channel, Waveform
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw

RATE_HZ = 1000.0


def _current_a(before_s=0.5, crank_s=3.0, after_s=0.5, after_a=0.0):
    """Return rest, inrush, humps from 100 to 220 A, and what comes after."""
    time_s = np.arange(round((before_s + crank_s + after_s) * RATE_HZ)) / RATE_HZ - before_s
    crank = 160 + 60 * np.sin(2 * np.pi * 7 * time_s)
    if before_s:
        crank += 500 * np.exp(-time_s.clip(0) / 0.06)
    noise = np.random.default_rng(5).normal(0, 1.0, time_s.size)
    return np.where(time_s < 0, 0.0, np.where(time_s < crank_s, crank, after_a)) + noise


def _conditioned(current_a, setup):
    channel = Channel("clamp", "V", (current_a / 100).astype(np.float32))
    return condition(Waveform(0.0, RATE_HZ, (channel,)), channel, setup)


@pytest.fixture(scope="module")
@simulated_together
def by_scale() -> dict[float, Scenario]:
    """One crank, as clamps of 1 and of 10 mV/A show it."""
    scenario = replace(draw(41, "I4", "one", family="a", sync="720"), rate_hz=1000.0, crank_s=4.5)
    clamp = replace(scenario.clamp, bits=12, inverted=False)
    return {
        scale: replace(scenario, clamp=replace(clamp, mv_per_a=scale, range_v=2.0 * scale))
        for scale in (1.0, 10.0)
    }


@pytest.fixture(scope="module")
def simulated(by_scale):
    return by_scale[1.0]


@pytest.fixture
def setup(simulated):
    return replace(simulated.scenario.setup(), mv_per_a=10.0, sync=None)


@pytest.mark.parametrize("inverted", [False, True])
@pytest.mark.parametrize("offset_a", [-600.0, -150.0, 0.0, 300.0, 600.0])
def test_sign_rest_and_crank_do_not_hang_on_the_zero(setup, offset_a, inverted) -> None:
    current_a = (-1 if inverted else 1) * (_current_a() + offset_a)
    found = _conditioned(current_a, setup)
    assert found.inverted == inverted
    span = find_crank(found)
    assert span is not None
    assert span.from_s == pytest.approx(0.5, abs=0.03)
    assert span.to_s == pytest.approx(3.5, abs=0.08)
    assert span.rest_a == pytest.approx(offset_a, abs=1.0)
    assert span.level_a == pytest.approx(160.0, rel=0.05)


@pytest.mark.parametrize("offset_a", [-300.0, 600.0])
def test_a_rest_after_the_crank_tells_as_well(setup, offset_a) -> None:
    found = _conditioned(_current_a(before_s=0.0) + offset_a, setup)
    assert not found.inverted
    span = find_crank(found)
    assert span is not None
    assert not span.start_seen
    assert span.rest_a == pytest.approx(offset_a, abs=1.0)
    assert span.level_a == pytest.approx(160.0, rel=0.05)
    assert not span.ran_on


def test_an_unloaded_starter_after_the_crank_is_no_rest() -> None:
    # it spins without load at 40 to 90 A of 160 A (common practice)
    running = _current_a(before_s=0.0, after_a=60.0)
    assert find_rest(running, RATE_HZ) is None


def test_a_flat_valley_is_no_rest() -> None:
    time_s = np.arange(3000) / RATE_HZ
    humps = 60.0 + 150.0 * np.maximum(np.sin(2 * np.pi * 3 * time_s - 2.0), 0.0)
    assert find_rest(humps, RATE_HZ) is None
    assert find_rest(-humps, RATE_HZ) is None


def _moved(simulated, offset_a, *, first_s=0.0, last_s=None):
    """Return the capture with an offset, cut to a stretch."""
    waveform, rate_hz = simulated.waveform, simulated.scenario.rate_hz
    part = slice(round(first_s * rate_hz), None if last_s is None else round(last_s * rate_hz))
    moved = []
    for channel in waveform.channels:
        values = np.asarray(channel.values)[part].copy()
        values += np.float32(offset_a * 0.001 if channel.name == "clamp" else 0.0)
        moved.append(Channel(channel.name, channel.unit, values))
    return replace(waveform, channels=tuple(moved))


@pytest.mark.parametrize("offset_a", [-200.0, 200.0])
def test_a_capture_with_a_rest_is_judged_whatever_its_zero(simulated, offset_a) -> None:
    moved = _moved(simulated, offset_a)
    report = analyse(moved, simulated.scenario.setup(), HumpMethod())
    low = tuple(i for i, c in enumerate(simulated.scenario.engine.cylinders, 1) if c.faulty)
    assert report.candidates == (low,)


def test_a_zero_far_beyond_the_crank_is_no_clamps(simulated) -> None:
    report = analyse(_moved(simulated, 900.0), simulated.scenario.setup())
    assert "zero-implausible" in {f.code for f in report.findings if f.severity == "stop"}


def test_a_crank_read_upside_down_is_refused(simulated) -> None:
    scenario = simulated.scenario
    first_s, last_s = scenario.before_s + 0.7, scenario.before_s + scenario.crank_s - 0.1
    cut = _moved(simulated, -600.0, first_s=first_s, last_s=last_s)
    report = analyse(cut, scenario.setup())
    assert report.verdict == "not judged"
    upright = _moved(simulated, 0.0, first_s=first_s, last_s=last_s)
    report = analyse(upright, replace(scenario.setup(), invert=True))
    assert report.verdict == "not judged"


def test_a_crank_read_upright_names_its_cylinder_from_the_middle_on(by_scale) -> None:
    # at 10 mV/A: at 1 mV/A this recorder's noise leaves nothing certain without the inrush
    simulated = by_scale[10.0]
    scenario = simulated.scenario
    first_s, last_s = scenario.before_s + 0.7, scenario.before_s + 4.4
    upright = _moved(simulated, 0.0, first_s=first_s, last_s=last_s)
    report = analyse(upright, simulated.scenario.setup())
    assert report.candidates == (simulated.truth.low,)
    assert "zero-unknown" not in {f.code for f in report.findings}
