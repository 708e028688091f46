"""A flywheel in two parts: its torque against an integrator, and engines that have one."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from bench.trap_scenarios import TRAPS
from tests.traces.simulated import simulated_together
from traces.core.judging.pipeline import analyse
from traces.core.twin.model import STEPS, Profile
from traces.core.twin.parameters import (
    ENGINE,
    KNEE,
    NATURAL,
    drive_of,
    knowledge,
    second_mass_of,
    with_two_masses,
)
from traces.core.twin.repeating_cycle import moved, solve
from traces.core.twin.second_mass import HARMONICS, SecondMass, pull_shapes, reaction
from traces.simulator.engine import TwoMass
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw

STEP_RAD = 4 * np.pi / STEPS


def test_apparent_inertia_of_a_spring_without_damping() -> None:
    # J / (1 - (f / f2)^2), f2 of the mass on its spring with the crank held: f sqrt(1 - share)
    flywheel = SecondMass(inertia=1.0, share=0.36, frequency_hz=10.0, damping=0.0)
    at_hz = np.arange(1, HARMONICS + 1) / 0.6
    wanted = 1 / (1 - (at_hz / 8.0) ** 2)
    assert flywheel.apparent(0.6) == pytest.approx(wanted)


def test_torque_is_that_of_the_equation_of_motion() -> None:
    # the model's time runs so that a cycle lasts 4 pi over a mean speed of 1
    cycle_s = 0.6
    flywheel = SecondMass(inertia=2.0, share=0.4, frequency_hz=11.0, damping=0.1)
    per_s = 4 * np.pi / cycle_s
    both = flywheel.inertia * (1 - flywheel.share)
    held = 2 * np.pi * flywheel.frequency_hz / per_s
    spring, damper = held**2 * both, 2 * flywheel.damping * held * both

    def speed(time):
        return 1 + 0.15 * np.cos(2 * time) + 0.05 * np.sin(0.5 * time)

    def angle(time):
        return time + 0.075 * np.sin(2 * time) - 0.1 * (np.cos(0.5 * time) - 1)

    def change(time, state):
        twist, own = state
        torque = spring * twist + damper * (speed(time) - own)
        return speed(time) - own, torque / flywheel.inertia

    lasted, settled = 4 * np.pi, 40 * 4 * np.pi
    nodes_rad = np.arange(STEPS + 1) * STEP_RAD
    fine = np.linspace(0, lasted, 20_001)
    time = np.interp(nodes_rad, angle(fine), fine)
    middle = settled + (time[:-1] + time[1:]) / 2
    done = solve_ivp(change, (0, middle[-1]), (0.0, 1.0), t_eval=middle, rtol=1e-8, atol=1e-10)
    twist, own = done.y
    wanted = spring * twist + damper * (speed(middle) - own)
    found = reaction(
        time, np.zeros((STEPS + 1, 0)), STEP_RAD, flywheel.inertia, flywheel.apparent(cycle_s)
    )
    torque = pull_shapes(STEPS) @ found.pulls
    assert torque == pytest.approx(wanted, abs=0.02 * np.abs(wanted).max())


@pytest.fixture(scope="module")
def twin():
    profile = Profile(np.ones(240), 0.6, np.array([0.0, 180.0, 360.0, 540.0]), 60.0, "petrol")
    known = with_two_masses(knowledge(4, inrush=3.0, phase_deg=8.0, phase_spread_deg=15.0))
    values = known.centre.copy()
    values[KNEE], values[NATURAL] = 0.3, np.log(9.0)
    values[ENGINE : ENGINE + 4] = 0.8, 0.4, 0.85, 0.75
    return profile, values


def closed(profile, values, start=None, pulls=None):
    state = solve(profile, values, start, np.zeros(0) if pulls is None else pulls)
    for _ in range(4):
        start = moved(state.orbit, state.closing, drive_of(values).share)
        state = solve(profile, values, start, state.pulls)
    return state


def test_slopes_of_the_current_are_its_differences(twin) -> None:
    profile, values = twin
    settled = closed(profile, values)
    for at in [*range(16), ENGINE + 1]:
        step = np.zeros(values.size)
        step[at] = 1e-5
        up, down = (
            closed(profile, values + s * step, settled.orbit.start, settled.pulls) for s in (1, -1)
        )
        difference = (up.current - down.current) / 2e-5
        size = max(float(np.abs(difference).max()), 1e-2)
        # the same is left out as without a second mass
        np.testing.assert_allclose(
            settled.jacobian[:, at], difference, atol=0.10 * size, err_msg=str(at)
        )


def test_a_cycle_closes_only_where_crank_and_second_mass_agree(twin) -> None:
    profile, values = twin
    state = closed(profile, values)
    second = second_mass_of(values)
    assert second is not None
    assert state.gap < 1e-6
    # energy: what the spring takes it gives back, but for its damper
    taken = float((pull_shapes(STEPS) @ state.pulls).sum() * STEP_RAD)
    swung = float(np.abs(pull_shapes(STEPS) @ state.pulls).sum() * STEP_RAD)
    assert 0 < taken < 0.2 * swung


SPRUNG = {"I6": ("dead", 8.0, 6_400_280), "V8": ("two", 16.0, 6_400_860)}


@pytest.fixture(scope="module")
@simulated_together
def sprung() -> dict[str, Scenario]:
    scenarios = {}
    for layout, (fault, frequency_hz, seed) in SPRUNG.items():
        drawn = draw(seed, layout, fault, family="a", sync="720")
        engine = replace(drawn.engine, two_mass=TwoMass(frequency_hz, share=0.4, damping=0.08))
        scenarios[layout] = replace(drawn, engine=engine, rate_hz=2000.0, crank_s=4.0)
    return scenarios


@pytest.mark.parametrize("layout", SPRUNG)
def test_weak_cylinders_behind_a_two_mass_flywheel(sprung, layout) -> None:
    """As one rigid flywheel these read up to 40 points off."""
    capture = sprung[layout]
    report = analyse(capture.waveform, capture.scenario.setup())
    assert report.candidates == (capture.truth.low,)
    for estimate in report.estimates:
        assert estimate.cylinder is not None
        truth = capture.truth.relative_sound[estimate.cylinder - 1]
        assert estimate.relative == pytest.approx(truth, abs=0.08)


@simulated_together
def _swinging_up() -> dict[str, Scenario]:
    # slopes of one of its tries grow beyond all figures
    return {"c": TRAPS["two-mass flywheel, 15 to 20 Hz"].make(71_140_010, "c")}


def test_a_start_from_which_a_spring_swings_up_costs_no_capture() -> None:
    capture = _swinging_up()["c"]
    report = analyse(capture.waveform, capture.scenario.setup())
    assert capture.truth.low in report.candidates
