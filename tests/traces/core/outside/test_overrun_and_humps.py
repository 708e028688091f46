"""Where the engine runs ahead of its starter, and what a recording of it must count.

The one-way clutch is stiff and has no slack, which no solver likes; the reference is SciPy's
solver on two inertias with a very stiff one-way spring between them.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tests.traces.simulated import simulated_together
from tests.traces.simulator.test_drive import PLAIN, STEADY, run, scenario
from traces.core.judging.pipeline import analyse
from traces.simulator.drive_a import RigidDrive
from traces.simulator.engine import Friction
from traces.simulator.recorder import Clamp
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw


def swing(angle):
    return -110.0 * np.sin(2 * angle)


def test_overrunning_drive_a_against_solve_ivp():
    friction = Friction(dry_nm=12.0, viscous_nms=0.3)
    starter = replace(PLAIN, drag_nm=9.0, drag_nms=0.2, inertia_kg_m2=0.15)
    made = scenario("a", starter=starter, friction=friction, inertia=0.15)
    time_s, rows = run(RigidDrive([made]), 1.0, 5e-5, swing)
    stiff_nm, damp_nms = 4.0e5, 600.0
    ohm = STEADY.resistance_ohm + starter.resistance_ohm

    def rates(_, state):
        angle, engine, motor, amps, wound = state
        slip = motor - engine
        touching = wound > 0 or slip > 0
        clutch = max(stiff_nm * wound + damp_nms * slip, 0.0) if touching else 0.0
        engine_nm = swing(angle) + clutch - 12 * np.tanh(engine / 0.4) - 0.3 * engine
        motor_nm = 0.42 * amps - 9 * np.tanh(motor / 0.4) - 0.2 * motor - clutch
        return [
            engine,
            engine_nm / 0.15,
            motor_nm / 0.15,
            (STEADY.emf_v - 0.42 * motor - ohm * amps) / starter.inductance_h,
            slip if touching else 0.0,
        ]

    begun = [np.pi, 0.0, 0.0, 0.0, 0.0]
    told = solve_ivp(
        rates, (0, 1.0), begun, t_eval=time_s, rtol=1e-6, atol=1e-9, max_step=1e-4, method="RK23"
    )
    assert np.mean(rows[:, 1] > rows[:, 2] + 0.05) > 0.1
    late = time_s > 0.2
    assert rows[:, 0] == pytest.approx(told.y[0], abs=0.05)
    off_a = rows[late, 3] - told.y[3, late]
    # a spring gives a little where the clutch of this family does not
    assert np.sqrt(np.mean(off_a**2)) < 0.01 * told.y[3, late].mean()


LAYOUTS: dict[Family, tuple[str, ...]] = {"a": ("I3", "I4", "V8"), "b": ("V6", "D6")}


@pytest.fixture(scope="module")
@simulated_together
def captures() -> dict[tuple[Family, str], Scenario]:
    clamp = Clamp(mv_per_a=10.0, noise_v=0.0, bits=16, range_v=20.0)
    return {
        (family, layout): replace(
            draw(41, layout=layout, fault="none", family=family, sync="720"),
            clamp=clamp,
            rate_hz=2000.0,
        )
        for family, layouts in LAYOUTS.items()
        for layout in layouts
    }


@pytest.mark.parametrize("family", LAYOUTS)
def test_humps_and_amperes_of_whole_captures(captures, family):
    # n x rpm / 120 humps a second of a four-stroke engine with n cylinders (arithmetic), and
    # 1 V = 100 A at 10 mV/A (common practice)
    for layout in LAYOUTS[family]:
        capture = captures[family, layout]
        truth, volts = capture.truth, capture.waveform.channel("clamp").values
        low, high = (round(edge * 2000) for edge in truth.steady_s)
        assert 100 * volts[low:high].mean() == pytest.approx(truth.mean_a, rel=0.01)
        report = analyse(capture.waveform, capture.scenario.setup())
        assert report.cranking_rpm == pytest.approx(truth.rpm, rel=0.02), layout
        count = len(capture.scenario.engine.firing_order)
        inside = [h for h in report.humps if low / 2000 < h.at_s < high / 2000]
        span_s = inside[-1].at_s - inside[0].at_s
        humps_hz = (len(inside) - 1) / span_s
        assert humps_hz == pytest.approx(count * truth.rpm / 120, rel=0.03), layout
