"""Motor, clutch, crank and battery against closed forms and SciPy's integrator."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from traces.simulator.drive_a import RigidDrive
from traces.simulator.drive_b import CompliantDrive
from traces.simulator.electrics import BatteryModel, StarterModel
from traces.simulator.engine import Friction, TwoMass

from .closed_engine import single

PLAIN = StarterModel(
    torque_nm_per_a=0.42, drag_nm=0.0, drag_nms=0.0, hold_a=0.0, inertia_kg_m2=0.2, knee_a=1e12
)
STEADY = BatteryModel(sag_v_per_as=0.0, polarisation_ohm=0.0)


def scenario(family, *, starter=PLAIN, battery=STEADY, inertia=0.18, friction=None):
    base = single(family)
    engine = replace(
        base.engine,
        inertia_kg_m2=inertia,
        accessory_nm=0.0,
        friction=friction or Friction(0.0, 0.0, 0.0, 0.0),
    )
    return replace(base, engine=engine, starter=starter, battery=battery, crank_s=60.0)


def run(drive, seconds, step_s, gas_nm=lambda angle: 0.0 * angle):
    """Step a drive under a gas torque by angle; return times and rows of `write`."""
    rows = np.empty((round(seconds / step_s), 6))
    none = np.zeros(1)
    for n in range(len(rows)):
        middle = drive.mid_angle_rad(step_s)
        drive.step(gas_nm(middle), none, middle, (n + 0.5) * step_s, step_s)
        row = np.empty((6, 1))
        drive.write(row)
        rows[n] = row[:, 0]
    return (np.arange(len(rows)) + 1) * step_s, rows


@pytest.mark.parametrize(("family", "drive"), [("a", RigidDrive), ("b", CompliantDrive)])
def test_a_two_mass_flywheel_swings_at_its_own_frequency(family, drive):
    # both masses free: (2 pi f)^2 = k (1 / J1 + 1 / J2); the starter is not there to speak of
    flywheel = TwoMass(frequency_hz=12.0, share=0.4, damping=0.0)
    loose = replace(PLAIN, torque_nm_per_a=1e-9, inertia_kg_m2=1e-6)
    base = scenario(family, inertia=0.2, starter=loose)
    made = drive([replace(base, engine=replace(base.engine, two_mass=flywheel))])
    made.speed_rad_s[0] = 20.0
    time_s, rows = run(made, 1.0, 5e-4)
    # the crank's part starts alone: half of what it has swings, share of the other part
    mean = 20.0 * (1 - flywheel.share)
    expected = mean + 20.0 * flywheel.share * np.cos(2 * np.pi * 12.0 * time_s)
    assert rows[:, 1] == pytest.approx(expected, abs=0.25)


def test_locked_motor_rises_as_a_coil():
    # i = E/R (1 - exp(-t R / L)): the step response of a coil
    held = scenario("a", inertia=1e9)
    time_s, rows = run(RigidDrive([held]), 0.05, 5e-4)
    ohm = PLAIN.resistance_ohm + STEADY.resistance_ohm
    expected = STEADY.emf_v / ohm * (1 - np.exp(-time_s * ohm / PLAIN.inductance_h))
    assert rows[:, 3] == pytest.approx(expected, rel=1e-3)
    assert rows[-1, 5] == pytest.approx(STEADY.emf_v - rows[-1, 3] * STEADY.resistance_ohm)


def test_brush_drop_lowers_the_stall_current_of_family_b():
    held = scenario("b", inertia=1e9, starter=replace(PLAIN, brush_drop_v=1.0))
    stiff = replace(held, starter=replace(held.starter, inertia_kg_m2=1e9))
    _, rows = run(CompliantDrive([stiff]), 0.1, 5e-4)
    ohm = PLAIN.resistance_ohm + STEADY.resistance_ohm
    assert rows[-1, 3] == pytest.approx((STEADY.emf_v - 1.0) / ohm, rel=1e-6)


@pytest.mark.parametrize(("family", "drive"), [("a", RigidDrive), ("b", CompliantDrive)])
def test_free_running_motor_settles_where_torque_balances(family, drive):
    # k i = drag, E - R i = k w: the permanent-magnet motor's two equations
    starter = replace(PLAIN, drag_nm=21.0, brush_drop_v=0.0)
    # an engine that needs nothing is just a flywheel on the clutch
    _, rows = run(drive([scenario(family, starter=starter)]), 4.0, 5e-4)
    current = 21.0 / 0.42
    ohm = PLAIN.resistance_ohm + STEADY.resistance_ohm
    assert rows[-1, 3] == pytest.approx(current, rel=2e-3)
    assert rows[-1, 2] == pytest.approx((STEADY.emf_v - ohm * current) / 0.42, rel=2e-3)


def test_series_motor_races_without_load():
    # a series motor weakens its field as the load falls, a permanent-magnet one does not:
    # electrical-machines textbooks, common knowledge
    series = replace(PLAIN, kind="series", torque_nm_per_a=0.84, knee_a=150.0, drag_nm=8.0)
    magnet = replace(PLAIN, drag_nm=8.0)
    _, raced = run(RigidDrive([scenario("a", starter=series)]), 4.0, 5e-4)
    _, steady = run(RigidDrive([scenario("a", starter=magnet)]), 4.0, 5e-4)
    assert raced[-1, 2] > 1.5 * steady[-1, 2]


def lobes(angle):
    return -60.0 * np.maximum(np.sin(2 * angle), 0) ** 3


def test_engaged_drive_a_against_solve_ivp():
    friction = Friction(dry_nm=15.0, viscous_nms=0.4)
    starter = replace(PLAIN, drag_nm=9.0, drag_nms=0.2, inertia_kg_m2=0.15)
    battery = replace(STEADY, sag_v_per_as=5e-4)
    made = scenario("a", starter=starter, battery=battery, friction=friction, inertia=0.3)
    time_s, rows = run(RigidDrive([made]), 1.5, 1e-4, lobes)

    def rates(_, state):
        angle, speed, amps, drawn = state
        still = np.tanh(speed / 0.4)
        torque = 0.42 * amps - (15 + 9) * still - (0.4 + 0.2) * speed + lobes(angle)
        volts = battery.emf_v - 5e-4 * drawn - 0.42 * speed
        ohm = battery.resistance_ohm + starter.resistance_ohm
        return [speed, torque / 0.45, (volts - ohm * amps) / starter.inductance_h, amps]

    start = [np.pi, 0.0, 0.0, 0.0]
    told = solve_ivp(rates, (0, 1.5), start, t_eval=time_s, rtol=1e-8, max_step=1e-3)
    # never overrunning in this run, so that one inertia stands for both
    assert np.array_equal(rows[:, 1], rows[:, 2])
    assert rows[:, 0] == pytest.approx(told.y[0], abs=0.01)
    assert rows[2000:, 1] == pytest.approx(told.y[1, 2000:], rel=2e-3)
    assert rows[2000:, 3] == pytest.approx(told.y[2, 2000:], abs=1.0)


def test_drive_b_with_its_clutch_against_solve_ivp():
    friction = Friction(dry_nm=15.0, viscous_nms=0.4, breakaway_nm=5.0, ring_share=0.0)
    starter = replace(PLAIN, drag_nm=9.0, drag_nms=0.2, clutch_nm_per_rad=5000, clutch_nms=15.0)
    battery = BatteryModel(polarisation_ohm=0.002, polarisation_s=0.3)
    made = scenario("b", starter=starter, battery=battery, friction=friction, inertia=0.2)
    time_s, rows = run(CompliantDrive([made]), 1.0, 5e-5, lobes)
    ohm = battery.resistance_ohm + starter.resistance_ohm

    def rates(_, state):
        angle, engine, motor, amps, wound, slow_v = state
        slip = motor - engine
        clutch = max(5000 * wound + 15.0 * slip, 0.0) if wound > 0 or slip > 0 else 0.0
        size = abs(engine)
        rub = 15 + 5 * np.exp(-((size / 6) ** 2)) + 0.4 * np.sqrt(25 * size)
        engine_nm = lobes(angle) + clutch - rub * np.tanh(engine / 0.4)
        motor_nm = 0.42 * amps - 9 * np.tanh(motor / 0.4) - 0.2 * motor * abs(motor) / 20
        volts = battery.emf_v - slow_v - starter.brush_drop_v - 0.42 * motor
        return [
            engine,
            engine_nm / 0.2,
            (motor_nm - clutch) / 0.2,
            (volts - ohm * amps) / starter.inductance_h,
            slip if wound > 0 or slip > 0 else 0.0,
            (0.002 * amps - slow_v) / 0.3,
        ]

    start = [np.pi, 0.0, 0.0, 0.0, 0.0, 0.0]
    told = solve_ivp(
        rates, (0, 1.0), start, t_eval=time_s, rtol=1e-7, atol=1e-9, max_step=2e-4, method="RK23"
    )
    assert rows[:, 0] == pytest.approx(told.y[0], abs=0.03)
    assert rows[4000:, 3] == pytest.approx(told.y[3, 4000:], abs=3.0)
    overruns = np.mean(rows[4000:, 1] > rows[4000:, 2] + 0.05)
    assert overruns > 0.02


@pytest.mark.parametrize(("family", "drive"), [("a", RigidDrive), ("b", CompliantDrive)])
def test_one_way_clutch_lets_the_engine_run_ahead(family, drive):
    starter = replace(PLAIN, drag_nm=10.0)
    driven = drive([scenario(family, starter=starter, friction=Friction(5.0, 0.1, 0.0, 0.0))])
    run(driven, 1.0, 5e-4)
    pushed = driven.speed_rad_s.copy()
    _, rows = run(driven, 0.3, 5e-4, lambda angle: 0 * angle + 200.0)
    assert rows[-1, 1] > 3 * pushed[0]
    # left alone the motor goes to its own no-load speed and pulls nothing through the clutch
    assert rows[-1, 2] < 1.3 * pushed[1]
    assert rows[-1, 3] == pytest.approx(10.0 / 0.42, rel=0.05)


@pytest.mark.parametrize(("family", "drive"), [("a", RigidDrive), ("b", CompliantDrive)])
def test_friction_stops_the_engine_and_does_not_turn_it_back(family, drive):
    made = replace(scenario(family, friction=Friction(20.0, 0.3, 5.0, 0.0)), crank_s=0.5)
    moved = drive([made])
    _, rows = run(moved, 3.0, 5e-4)
    released = rows[1001:]
    assert np.all(released[:, 3] == 0)
    assert abs(rows[-1, 1]) < 1e-3
    assert np.all(rows[:, 1] > -1e-6)


def test_failing_battery_slows_the_motor():
    weak = replace(STEADY, collapse_at_s=1.0, collapse_ohm_per_s=0.02)
    friction = Friction(40.0, 0.5)
    _, sound = run(RigidDrive([scenario("a", friction=friction)]), 3.0, 5e-4)
    _, failing = run(RigidDrive([scenario("a", friction=friction, battery=weak)]), 3.0, 5e-4)
    assert failing[1990] == pytest.approx(sound[1990])
    assert failing[-1, 1] < 0.8 * sound[-1, 1]
    assert failing[-1, 5] < sound[-1, 5] - 1


def test_polarisation_adds_to_the_resistance_in_the_long_run():
    battery = BatteryModel(polarisation_ohm=0.002, polarisation_s=0.2)
    held = scenario("b", inertia=1e9, battery=battery, starter=replace(PLAIN, inertia_kg_m2=1e9))
    _, rows = run(CompliantDrive([held]), 3.0, 5e-4)
    total = PLAIN.resistance_ohm + battery.resistance_ohm + battery.polarisation_ohm
    expected = (battery.emf_v - PLAIN.brush_drop_v) / total
    assert rows[-1, 3] == pytest.approx(expected, rel=1e-3)
