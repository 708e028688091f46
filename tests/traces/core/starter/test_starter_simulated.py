"""Starter figures against the truth of simulated cranks of both kinds of physics."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.traces.simulated import simulated_together
from traces.core.preparation.preparation import prepare
from traces.core.starter.measure import starter_figures
from traces.core.starter.stretch import find_stretch
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw

FAMILIES: tuple[Family, ...] = ("a", "b")


@pytest.fixture(scope="module")
@simulated_together
def cranks() -> dict[tuple[Family, int], Scenario]:
    return {
        (family, i): replace(draw(7_000 + i, family=family), record_battery=True)
        for family in FAMILIES
        for i in range(8)
    }


@pytest.mark.parametrize("family", FAMILIES)
def test_figures_of_simulated_cranks_are_true(cranks, family):
    of_family = [made for (of, _), made in cranks.items() if of == family]
    assert len(of_family) == 8
    for simulated in of_family:
        scenario, track = simulated.scenario, simulated.truth.track
        done = prepare(simulated.waveform, replace(scenario.setup(), voltage_channel="battery"))
        found: Any = starter_figures(done)
        assert done.conditioned is not None
        assert done.span is not None
        stretch = find_stretch(done, done.conditioned, done.span)
        assert stretch is not None
        inside = (track.time_s >= stretch.from_s) & (track.time_s <= stretch.to_s)
        mean_a = track.cable_a[inside].mean()
        assert found.mean_current_a == pytest.approx(mean_a, rel=0.04), scenario.seed
        first = track.time_s < scenario.before_s + 0.35
        peak_a = track.cable_a[first].max()
        if "inrush_peak_a" in found.limited:
            assert found.inrush_peak_a < 1.03 * peak_a
        else:
            assert found.inrush_peak_a == pytest.approx(peak_a, rel=0.06)
        assert found.mean_cranking_v == pytest.approx(track.battery_v[inside].mean(), abs=0.01)
        assert found.inrush_minimum_v == pytest.approx(track.battery_v[first].min(), abs=0.06)
        if found.cranking_rpm is not None and done.sync.state == "every-720":
            turned_rad = np.ptp(track.angle_rad[inside])
            rpm = turned_rad / np.ptp(track.time_s[inside]) * 30 / np.pi
            assert found.cranking_rpm == pytest.approx(rpm, rel=0.015), scenario.seed
        if found.ripple_resistance_mohm is not None:
            ohmic_mohm = 1000 * scenario.battery.resistance_ohm
            assert found.ripple_resistance_mohm == pytest.approx(ohmic_mohm, rel=0.03)
        if found.inrush_resistance_mohm is not None:
            ohmic_mohm = 1000 * scenario.battery.resistance_ohm
            assert found.inrush_resistance_mohm == pytest.approx(ohmic_mohm, rel=0.15)
