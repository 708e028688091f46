"""Syncs as a workshop has them: each still names the right cylinder, or says that it cannot."""

from dataclasses import replace

import numpy as np
import pytest

from traces.core.pipeline import analyse
from traces.core.results import Report
from traces.core.simulator.scenario import Family
from traces.core.simulator.scenarios import draw
from traces.core.simulator.simulate import Simulated, simulate_many

FAMILIES: tuple[Family, ...] = ("a", "b")
ONCE_A_CYCLE = (
    "sync-neighbours",
    "sync-ringing",
    "sync-first-missing",
    "sync-negative",
    "sync-injector",
    "sync-cam",
)


@pytest.fixture(scope="module")
def cranked() -> dict[tuple[str, Family], Simulated]:
    """One engine with one low cylinder, by kind of sync and family."""
    keys = [(k, f) for f in FAMILIES for k in ("", *ONCE_A_CYCLE, "waste-spark")]
    drawn = [
        draw(610, layout="I4", fault="one", family=f, sync="720", hard=k or None) for k, f in keys
    ]
    return {
        key: made
        for family in FAMILIES
        for key, made in zip(
            [k for k in keys if k[1] == family],
            simulate_many([d for d, k in zip(drawn, keys, strict=True) if k[1] == family]),
            strict=True,
        )
    }


def _judged(simulated: Simulated) -> Report:
    return analyse(simulated.waveform, simulated.scenario.setup())


def _codes(report: Report) -> set[str]:
    return {f.code for f in report.findings}


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("kind", ONCE_A_CYCLE)
def test_the_low_cylinder_is_named(cranked, kind: str, family: Family) -> None:
    simulated = cranked[kind, family]
    report = _judged(simulated)
    assert report.candidates == (simulated.truth.low,), [f.message for f in report.findings]
    assert report.cylinders_known
    assert "which-cylinder" not in _codes(report)


@pytest.mark.parametrize("family", FAMILIES)
def test_a_coil_that_serves_two_leaves_both(cranked, family: Family) -> None:
    simulated = cranked["waste-spark", family]
    report = _judged(simulated)
    order = simulated.scenario.engine.firing_order
    (low,) = simulated.truth.low
    assert {(low,), (order.companion_of(low),)} == set(report.candidates)
    assert not report.cylinders_known
    assert "sync-every-360" in _codes(report)


@pytest.mark.parametrize("family", FAMILIES)
def test_the_offset_of_the_event_is_learnt(cranked, family: Family) -> None:
    simulated = cranked["", family]
    scenario = simulated.scenario
    assert scenario.sync
    found = []
    for moved_deg in (-12.0, 0.0, 12.0):
        shift = moved_deg / 6 / simulated.truth.rpm  # six degrees a second for each rpm
        samples = round(shift * scenario.rate_hz)
        current, sync, *others = simulated.waveform.channels
        moved = replace(sync, values=np.roll(sync.values, samples))
        waveform = replace(simulated.waveform, channels=(current, moved, *others))
        report = analyse(waveform, scenario.setup())
        assert report.candidates == (simulated.truth.low,)
        found.append(float(report.extra["offset_deg"]))
    # a later event sees its load so much earlier
    assert np.diff(found) == pytest.approx([-12.0, -12.0], abs=4.0)


@pytest.mark.parametrize("family", FAMILIES)
def test_a_sync_of_another_length_than_the_cycle_is_found(cranked, family: Family) -> None:
    # events of an engine that turns 1.3 times as fast: of another recording, say
    simulated = cranked["", family]
    current, sync, *others = simulated.waveform.channels
    at = np.minimum(np.arange(sync.values.size) * 1.3, sync.values.size - 1)
    faster = replace(sync, values=sync.values[at.astype(np.int64)])
    waveform = replace(simulated.waveform, channels=(current, faster, *others))
    report = analyse(waveform, simulated.scenario.setup())
    assert report.verdict == "not judged"
    assert _codes(report) & {"sync-mismatch", "hump-mismatch"}
