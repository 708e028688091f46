"""A cycle cut elsewhere, or marked by another cylinder, is the same cycle."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.core.synthetic import Crank
from tests.traces.simulated import simulated_together
from traces.core.analysis.any_signal import judge
from traces.core.humps.humps import HumpMethod
from traces.core.preparation.preparation import prepare
from traces.core.twin.cycles import folded
from traces.core.twin.fitting import fit
from traces.core.twin.invariance import check_shifts, cut_later, shifts_of
from traces.core.twin.method import fitted_twin
from traces.simulator.other_signals import voltage_capture
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw
from traces.simulator.voltage_log import VoltageLog

ERRORS = np.full(4, 0.03)


@pytest.fixture(scope="module")
def found():
    crank = Crank(strengths=(1.0, 0.6, 1.0, 1.0))
    prepared = prepare(crank.waveform(), crank.setup()).prepared
    assert prepared is not None
    return fitted_twin(prepared, HumpMethod().measure(prepared), folded(prepared.cranking))


def test_a_cycle_cut_later_begins_with_another_firing(found) -> None:
    later = cut_later(found, 1)
    assert later.tdc_deg == pytest.approx([0.0, 180.0, 360.0, 540.0])
    assert later.current.mean() == pytest.approx(found.profile.current.mean())
    # a firing of an even four later is about a fourth of the cycle's time later
    lines = np.fft.rfft(found.profile.current) * np.conj(np.fft.rfft(later.current))
    size = later.current.size
    assert np.argmax(np.fft.irfft(lines, n=size)) / size == pytest.approx(0.25, abs=0.04)


def test_a_second_compression_is_counted_from_the_cut(found) -> None:
    second = replace(found, profile=replace(found.profile, again=1))
    assert cut_later(second, 2).again == 3
    assert cut_later(found, 2).again is None


@pytest.mark.parametrize("firings", [1, 2, 3])
def test_the_same_engine_comes_out_of_it(found, firings: int) -> None:
    first = found.state.values.copy()
    for part in (found.known.shares, found.known.masses, found.known.clearances):
        first[part] = np.roll(found.state.values[part], -firings)
    other = fit(cut_later(found, firings), found.known, first)
    one, two = (f.lobes.peaks / f.lobes.peaks.max() for f in (found, other))
    assert shifts_of(one, two, firings).max() < 0.02


def test_shifts_are_told_in_the_order_of_the_first_cut() -> None:
    figures = np.array([1.0, 0.5, 0.9, 1.1])
    assert shifts_of(figures, np.roll(figures, -1), 1) == pytest.approx(np.zeros(4))
    moved = np.roll(figures + np.array([0.0, 0.2, 0.0, 0.0]), -3)
    assert shifts_of(figures, moved, 3) == pytest.approx([0.0, 0.2, 0.0, 0.0])


@pytest.mark.parametrize(
    ("shift", "codes"),
    [(0.02, []), (0.14, []), (0.3, ["too-uncertain"]), (np.nan, ["too-uncertain"])],
)
def test_figures_that_move_far_with_the_cut_are_refused(shift: float, codes) -> None:
    told = check_shifts(np.array([0.0, shift, 0.0, 0.01]), ERRORS)
    assert [f.code for f in told] == codes
    assert all(f.severity == "stop" for f in told)


def test_what_an_interval_holds_is_not_refused() -> None:
    assert check_shifts(np.array([0.0, 0.3, 0.0, 0.0]), np.full(4, 0.2)) == []


@pytest.fixture(scope="module")
@simulated_together
def by_sync_cylinder() -> dict[int, Scenario]:
    drawn = draw(1201, layout="I4", fault="one", family="a", sync="720")
    assert drawn.sync is not None
    sync = replace(
        drawn.sync, event="ignition", angle_deg=-7.0, entered_angle_deg=None, missing_first=0
    )
    return {c: replace(drawn, sync=replace(sync, cylinder=c)) for c in (1, 4)}


@pytest.mark.parametrize("signal", ["starter-current", "battery-voltage"])
def test_figures_do_not_hang_on_which_cylinder_is_the_sync(by_sync_cylinder, signal: str) -> None:
    found = []
    for simulated in by_sync_cylinder.values():
        waveform, setup = simulated.waveform, simulated.scenario.setup()
        if signal == "battery-voltage":
            waveform, setup = voltage_capture(simulated, VoltageLog(rate_hz=200.0, bits=10))
        report = judge(waveform, setup)
        assert report.cylinders_known
        assert report.candidates == (simulated.truth.low,)
        found.append({e.cylinder: e.relative for e in report.estimates})
    assert found[1] == pytest.approx(found[0], abs=0.03)
