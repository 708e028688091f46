"""Starter, flywheel, clamp and sync of family c, and what is drawn for it."""

from dataclasses import replace

import numpy as np
import pytest

from traces.simulator import faults
from traces.simulator.drive_c import CompoundDrive, field_over_constant
from traces.simulator.engine import PumpLobes, TwoMass
from traces.simulator.instrument import clamp_volts
from traces.simulator.pickup import event_times_s, sync_volts
from traces.simulator.scenarios import FAULTS, LAYOUTS, draw
from traces.simulator.scenarios_c import cam_edges, petrol_injector, wound_starter
from traces.simulator.simulate import crank

STEP_S = 5e-4


@pytest.fixture(scope="module")
def base():
    plain = draw(920, "I4", "none", family="c", sync="720")
    engine = replace(plain.engine, two_mass=None, pump=None)
    clamp = replace(plain.clamp, noise_v=0.0, inverted=False)
    assert plain.sync is not None
    sync = replace(plain.sync, event="ignition", pairs_first=0, angle_deg=-7.0, missing_first=0)
    return replace(
        plain, engine=engine, clamp=clamp, sync=sync, rate_hz=2000.0, crank_s=1.6, after_s=0.1
    )


@pytest.fixture(scope="module")
def made(base):
    return crank([base])[0]


@pytest.mark.parametrize("frequency_hz", [6.0, 12.0, 20.0])
def test_two_masses_swing_as_their_spring_says(base, frequency_hz):
    two_mass = TwoMass(frequency_hz, share=0.4, damping=0.05)
    engine = replace(base.engine, two_mass=two_mass)
    drive = CompoundDrive([replace(base, engine=engine)])
    whole = engine.inertia_kg_m2
    crank_rad_s, twist = np.array([1.0]), []
    for _ in range(2000):
        torque = drive._flywheel_nm(crank_rad_s, STEP_S)
        crank_rad_s = crank_rad_s - torque * STEP_S / (0.6 * whole)
        twist.append(float(drive._twist_rad[0]))
    values = np.array(twist)
    crossings = np.flatnonzero(np.diff(np.sign(values)) != 0) * STEP_S
    # a damped oscillation, f sqrt(1 - d^2), loses exp(-pi d / sqrt(1 - d^2)) in half a period
    half_s = np.diff(crossings).mean()
    assert 0.5 / half_s == pytest.approx(frequency_hz * np.sqrt(1 - 0.05**2), rel=0.02)
    peaks = [
        np.abs(part).max()
        for part in np.split(values, np.flatnonzero(np.diff(np.sign(values))))
        if part.size > 5
    ]
    decay = np.exp(np.diff(np.log(peaks[1:5])).mean())
    assert decay == pytest.approx(np.exp(-np.pi * 0.05 / np.sqrt(1 - 0.05**2)), rel=0.03)
    # nothing is lost to the outside
    assert 0.6 * crank_rad_s[0] + 0.4 * drive._second_rad_s[0] == pytest.approx(0.6, rel=1e-6)


def test_a_wound_field_grows_with_its_current_and_a_magnet_hardly_falls():
    over = np.array([0.25, 1.0, 4.0])
    wound, magnet = (field_over_constant(over, np.array(share)) for share in (1.0, 0.0))
    assert wound == pytest.approx([0.207, 0.53, 0.853], abs=0.005)
    assert magnet == pytest.approx([0.988, 0.958, 0.889], abs=0.005)


def test_a_wound_field_keeps_the_mean_and_slows_the_speed_by_more(base):
    mean_a = 180.0
    magnets = wound_starter(base.starter, mean_a, 0.0)
    wound = wound_starter(base.starter, mean_a, 1.0)
    over = np.array(mean_a / base.starter.knee_a)
    torques = [
        s.torque_nm_per_a * field_over_constant(over, np.array(s.wound_share))
        for s in (magnets, wound)
    ]
    assert torques[0] == pytest.approx(torques[1])
    stiff = replace(base.engine, friction=replace(base.engine.friction, dry_nm=45.0))
    scenarios = [
        replace(base, starter=starter, engine=engine)
        for starter in (magnets, wound)
        for engine in (base.engine, stiff)
    ]
    # the last second with the key held
    ends = [t.engine_rad_s[-2200:-220].mean() for t in crank(scenarios)]
    # more load slows a series motor more than one with magnets
    assert ends[3] / ends[2] < ends[1] / ends[0] < 1


def test_the_windings_warm_and_the_battery_sags(base, made):
    track, held = made, base
    on = (track.time_s > held.before_s + 0.8) & (track.time_s < held.before_s + 1.6)
    volts = held.battery.emf_v - track.battery_v[on]
    # more than the inner resistance alone explains, and more from second to second
    more = volts - held.battery.resistance_ohm * track.cable_a[on]
    assert more.min() > 0
    assert more[-200:].mean() > more[:200].mean()


def test_a_pump_takes_its_joules(base):
    pump = PumpLobes.of_energy(3, 20.0)
    angle = np.linspace(0, 2 * np.pi / 3, 2001)
    push = np.maximum(np.sin(1.5 * angle), 0)
    assert np.trapezoid(pump.peak_nm * push, angle) == pytest.approx(20.0, rel=1e-5)


def test_hysteresis_leaves_a_loop_of_its_width(base, made):
    rng = np.random.default_rng(0)
    track = made
    plain, bent = (
        clamp_volts(replace(base, clamp=replace(base.clamp, hysteresis_a=a, bits=16)), track, rng)
        for a in (0.0, 5.0)
    )
    apart_a = (plain - bent) / base.clamp.mv_per_a * 1000
    steady = apart_a[1500:3500]
    assert np.abs(steady).max() == pytest.approx(5.0, abs=1.5)
    assert (steady.max(), -steady.min()) == pytest.approx((5, 5), abs=1.5)


def test_pairs_come_first_and_single_events_later(base, made):
    track = made
    alone = event_times_s(base, base.sync, track, base.sync.cylinder)
    paired = replace(base.sync, pairs_first=2)
    times = event_times_s(base, paired, track, base.sync.cylinder)
    assert times.size == alone.size + 2
    turned = np.rad2deg(np.diff(np.interp(times, track.time_s, track.angle_rad)))
    assert turned[:3] == pytest.approx(360, abs=1)
    assert turned[4:] == pytest.approx(720, abs=1)


def test_cam_wheels_have_edges_anywhere_and_injectors_open_before_the_stroke(base):
    rng = np.random.default_rng(4)
    cams = [cam_edges(base.sync, rng) for _ in range(40)]
    assert {len(c.more_edges_deg) for c in cams} == {0, 1, 2}
    assert np.ptp([c.angle_deg for c in cams]) > 500
    injectors = [petrol_injector(base.sync, rng) for _ in range(40)]
    assert all(-400 <= s.angle_deg <= -60 for s in injectors)


def test_more_windows_make_more_edges(base, made):
    cam = replace(base.sync, event="cam", width_deg=40.0, more_edges_deg=(100.0, 250.0))
    one, three = (
        sync_volts(replace(base, sync=s), made, np.random.default_rng(0))
        for s in (replace(cam, more_edges_deg=()), cam)
    )

    def rises(volts):
        high = np.abs(volts) > 0.5 * np.abs(volts).max()
        return np.count_nonzero(np.diff(high.astype(int)) == 1)

    assert rises(three) == pytest.approx(3 * rises(one), abs=2)


def test_everything_can_be_drawn():
    for i, (name, layout) in enumerate(LAYOUTS.items()):
        for fault in FAULTS:
            plain = draw(930 + i, name, "none", family="a")
            subject = faults.Subject.of(layout, 0, plain.engine.cylinders, 0.5)
            if faults.possible(fault, subject):
                scenario = draw(930 + i, name, fault, family="c")
                assert scenario.family == "c"
                assert scenario.fault == fault


def test_draws_of_the_third_physics_have_its_parts():
    drawn = [draw(seed, family="c") for seed in range(300)]
    petrol = [s.sync for s in drawn if s.engine.fuel == "petrol" and s.sync]
    assert {s.event for s in petrol} == {"ignition", "injector", "cam"}
    assert any(s.pairs_first for s in petrol)
    off_deg = [s.entered_angle_deg - s.angle_deg for s in petrol if s.entered_angle_deg is not None]
    assert 4 < max(off_deg) <= 8
    assert -8 <= min(off_deg) < -4
    shares = np.array([s.starter.wound_share for s in drawn])
    assert np.any(shares == 0)
    assert np.any(shares == 1)
    assert np.any((shares > 0) & (shares < 1))
    assert 0.15 < np.mean([s.engine.two_mass is not None for s in drawn]) < 0.3
    leaking = [c for s in drawn for c in s.engine.cylinders if c.fault_leak_mm2]
    paths = {(c.intake_share, c.exhaust_share) for c in leaking}
    assert paths == {(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)}
    assert any(c.intake_lift < 1 for s in drawn for c in s.engine.cylinders)
