"""A pump's strokes in the load: their slopes, which are asked for, and engines that have them."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.simulated import simulated_together
from traces.core.judging.pipeline import analyse
from traces.core.twin.model import Profile, load_of
from traces.core.twin.parameters import (
    ENGINE,
    INERTIA,
    KNEE,
    LEVEL,
    PHASE,
    PUMP,
    STROKES,
    knowledge,
    with_pump,
)
from traces.core.twin.pumps import likely_strokes
from traces.core.twin.repeating_cycle import solve
from traces.core.twin.starts import fit_readings, likelier
from traces.simulator.engine import PumpLobes
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw

SHARES = (0.85, 0.4, 0.86, 0.84)


def made(strokes, size):
    """Return the cycle of a four with one weak cylinder and a pump."""
    profile = Profile(np.ones(240), 0.5, np.array([0.0, 180.0, 360.0, 540.0]), 60.0, "petrol")
    known = knowledge(4, inrush=3.6, phase_deg=8.0, phase_spread_deg=15.0)
    values = known.centre.copy()
    values[[INERTIA, KNEE, PHASE, LEVEL]] = np.log(5.0), 0.0, 0.6, 0.85
    values[ENGINE : ENGINE + 4] = SHARES
    values[STROKES] = strokes
    values[PUMP] = size, 0.0, 0.0, 0.3 * size
    state = solve(profile, values)
    for _ in range(3):
        state = solve(profile, values, state.orbit.start)
    return replace(profile, current=state.current), known, values


def test_a_pump_adds_its_strokes_to_the_load_and_none_adds_nothing():
    profile, _, values = made(5, 0.1)
    values[PUMP] = 0.1, 0.0, 0.0, 0.0
    with_it, slopes = load_of(profile, values)
    values[STROKES] = 0
    without, none = load_of(profile, values)
    waves = np.abs(np.fft.rfft(with_it - without)) * 2 / with_it.size
    assert waves[5] == pytest.approx(0.1)
    assert np.delete(waves, 5) == pytest.approx(0.0, abs=1e-9)
    assert slopes[:, PUMP.start] == pytest.approx((with_it - without) / 0.1)
    assert not none[:, PUMP].any()


def test_without_a_pump_its_waves_stay_nought():
    profile, known, _ = made(5, 0.2)
    found = fit_readings(profile, known, np.array([1.0, 0.5, 1.0, 1.0]))
    assert not found.has_pump
    assert not found.state.values[PUMP].any()


@pytest.mark.parametrize("strokes", [2, 3, 5, 6])
def test_the_number_of_strokes_is_found_by_slopes_and_kept(strokes):
    profile, known, _ = made(strokes, 0.2)
    rough = np.array([1.0, 0.5, 1.0, 1.0])
    plain = fit_readings(profile, known, rough)
    assert likely_strokes(plain)[0] == strokes
    found = likelier(plain, rough)
    assert found.has_pump
    assert found.state.values[STROKES] == strokes
    relative = found.lobes.peaks / found.lobes.peaks[[0, 2, 3]].mean()
    assert relative == pytest.approx(np.array(SHARES) / 0.85, abs=0.05)


def test_a_cycle_without_a_pump_is_fitted_without_one():
    profile, known, _ = made(0, 0.0)
    rough = np.array([1.0, 0.5, 1.0, 1.0])
    plain = fit_readings(profile, known, rough)
    assert likely_strokes(plain) == []
    assert not likelier(plain, rough).has_pump


def test_strokes_at_every_firing_are_not_asked_for():
    profile, known, _ = made(4, 0.2)
    plain = fit_readings(profile, known, np.array([1.0, 0.5, 1.0, 1.0]))
    assert 4 not in likely_strokes(plain)


@pytest.mark.parametrize(("cylinders", "share"), [(3, 1.0), (4, 1.0), (6, 2 / 3), (12, 1 / 3)])
def test_the_pump_of_a_large_engine_takes_a_smaller_share_of_its_torque(cylinders, share):
    known = knowledge(cylinders, inrush=3.6, phase_deg=8.0, phase_spread_deg=15.0)
    np.testing.assert_allclose(
        with_pump(known, 3).spread[PUMP], share * np.array([0.2] * 2 + [0.07] * 2)
    )


def test_a_pump_once_found_is_known():
    known = with_pump(knowledge(4, inrush=3.6, phase_deg=8.0, phase_spread_deg=15.0), 3)
    profile, _, _ = made(3, 0.2)
    found = fit_readings(profile, known, np.array([1.0, 0.5, 1.0, 1.0]))
    assert found.has_pump
    assert np.hypot(*found.state.values[PUMP][:2]) == pytest.approx(0.2, abs=0.05)


PUMPED: dict[str, tuple[int, str, str, Family, PumpLobes]] = {
    "V6-odd": (6_500_006, "V6-odd", "one", "a", PumpLobes.of_energy(5, 18.0, 10.0)),
    "V6-semi": (6_500_001, "V6-semi", "dead", "a", PumpLobes.of_energy(5, 13.0, 40.0)),
    "V8": (6_500_004, "V8", "none", "c", PumpLobes.of_energy(5, 18.0, 300.0)),
}


@pytest.fixture(scope="module")
@simulated_together
def pumped() -> dict[str, Scenario]:
    scenarios = {}
    for name, (seed, layout, fault, family, pump) in PUMPED.items():
        drawn = draw(seed, layout, fault, family=family, sync="720")
        engine = replace(drawn.engine, pump=pump, two_mass=None)
        scenarios[name] = replace(drawn, engine=engine, rate_hz=2000.0, crank_s=4.0)
    return scenarios


@pytest.mark.parametrize("name", PUMPED)
def test_engines_with_a_pump_of_five_lobes(pumped, name):
    """Taken for cylinders, its strokes make these up to 26 points wrong, and one bank uneven."""
    capture = pumped[name]
    report = analyse(capture.waveform, capture.scenario.setup())
    assert report.candidates == (capture.truth.low,)
    assert not {"bank-uneven", "time-reversed"} & {f.code for f in report.findings}
    for estimate in report.estimates:
        assert estimate.cylinder is not None
        truth = capture.truth.relative_sound[estimate.cylinder - 1]
        assert estimate.relative == pytest.approx(truth, abs=0.06)


@simulated_together
def _one_bank_low() -> dict[str, Scenario]:
    return {"V12": draw(640000065, "V12", "bank", None, "b", sync="720")}


def test_a_pump_does_not_take_what_a_bank_lacks() -> None:
    """A stroke for each firing of one bank fits it as well: its figures were 30 points too high."""
    simulated = _one_bank_low()["V12"]
    report = analyse(simulated.waveform, simulated.scenario.setup())
    assert "bank-uneven" in {f.code for f in report.findings}
    for estimate in report.estimates:
        assert estimate.cylinder is not None
        true = simulated.truth.relative_sound[estimate.cylinder - 1]
        assert estimate.low <= true <= estimate.high
        assert abs(estimate.relative - true) < 0.1
