"""Every layout, fault and flaw runs in both families and shows what it should."""

import math
from dataclasses import replace

import numpy as np
import pytest

from traces.simulator.faults import DRAWN_FAULTS
from traces.simulator.flaws import NOT_TO_BE_JUDGED
from traces.simulator.scenario import Family
from traces.simulator.scenarios import FAULTS, FLAWS, LAYOUTS, draw
from traces.simulator.simulate import simulate_many

FAMILIES: tuple[Family, ...] = ("a", "b")


def quick(scenario, rate_hz=2000.0):
    return replace(scenario, rate_hz=rate_hz, crank_s=min(scenario.crank_s, 2.7))


@pytest.fixture(scope="module")
def by_layout():
    keys = [(layout, family) for family in FAMILIES for layout in LAYOUTS]
    made = simulate_many(
        [quick(draw(31, layout=layout, fault="one", family=family)) for layout, family in keys]
    )
    return dict(zip(keys, made, strict=True))


@pytest.fixture(scope="module")
def by_fault():
    keys = [(fault, family) for family in FAMILIES for fault in FAULTS]
    made = simulate_many(
        [quick(draw(8, layout="V8", fault=fault, family=family)) for fault, family in keys]
    )
    return dict(zip(keys, made, strict=True))


@pytest.fixture(scope="module")
def by_flaw():
    keys = [(flaw, family) for family in FAMILIES for flaw in FLAWS]
    scenarios = []
    for flaw, family in keys:
        drawn = draw(21, layout="I4", fault="one", flaw=flaw, family=family, sync="720")
        rate_hz = drawn.rate_hz if flaw == "low-rate" else 2000.0
        scenarios.append(quick(drawn, rate_hz))
    return dict(zip(keys, simulate_many(scenarios), strict=True))


@pytest.fixture(params=FAMILIES)
def family(request):
    return request.param


def seen_a(made):
    """Return what the clamp channel says in amperes, arrow turned the right way."""
    clamp = made.scenario.clamp
    sign = -1 if clamp.inverted else 1
    return sign * made.waveform.channel("clamp").values.astype(float) * 1000 / clamp.mv_per_a


def in_steady(made):
    low, high = (round(edge * made.waveform.rate_hz) for edge in made.truth.steady_s)
    return seen_a(made)[low:high]


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_layout_cranks_like_an_engine(by_layout, layout, family):
    made = by_layout[layout, family]
    truth = made.truth
    # from a cold diesel to a warm small engine: 80 to 330 rpm, 60 to 700 A, battery above 8 V
    assert 80 < truth.rpm < 330
    assert 50 < truth.mean_a < 700
    assert truth.peak_a > 1.3 * truth.mean_a
    assert np.all(np.isfinite(made.waveform.channel("clamp").values))
    # cold resistance apart, a sound cylinder reaches 6 bar gauge and a diesel not over 45
    assert 500 < max(truth.peak_kpa) < 4500
    faulty = [n for n, c in enumerate(made.scenario.engine.cylinders, 1) if c.faulty]
    assert len(faulty) == 1
    assert truth.relative_sound[faulty[0] - 1] == min(truth.relative_sound)
    others = [v for n, v in enumerate(truth.relative_sound, 1) if n not in faulty]
    assert np.mean(others) == pytest.approx(1.0)
    assert max(others) - min(others) < 0.25


def test_odd_fire_humps_come_at_odd_angles(by_layout, family):
    made = by_layout["V6-odd", family]
    track = made.truth.track
    order = made.scenario.engine.firing_order
    peaks = [
        np.rad2deg(track.angle_rad[track.pressure_pa[:, place].argmax()]) % 720
        for place in range(6)
    ]
    apart = (np.array(peaks) - np.array(order.tdc_angles_deg) + 360) % 720 - 360
    # the pressure peak stands at or before top dead centre, the earlier the more it leaks
    assert np.all((apart > -15) & (apart < 2))


@pytest.mark.parametrize("fault", FAULTS)
def test_truth_of_every_fault(by_fault, fault, family):
    made = by_fault[fault, family]
    truth, cylinders = made.truth, made.scenario.engine.cylinders
    faulty = {n for n, c in enumerate(cylinders, 1) if c.faulty}
    relative = dict(enumerate(truth.relative_sound, 1))
    spread = np.nanstd(truth.cycles_kpa, axis=0) / np.array(truth.peak_kpa)
    expected_count = {
        "none": 0,
        "two": 2,
        "adjacent": 2,
        "companions": 2,
        "bank": 4,
        "bank-late": 4,
    }
    assert len(faulty) == {"all": 8, "late-cam": 8}.get(fault, expected_count.get(fault, 1))
    assert set(truth.low) <= faulty
    if fault in {"none", "all", "late-cam"}:
        assert truth.low == ()
    elif fault == "high":
        assert relative[faulty.pop()] > 1.1
    elif fault == "dead":
        assert relative[faulty.pop()] < 0.05
    elif fault == "mild":
        assert 0.7 < relative[faulty.pop()] < 0.97
    elif fault == "exhaust-shut":
        # what stays in it is compressed again in the exhaust stroke; its own peak is as ever
        assert 0.9 < relative[faulty.pop()] < 1.1
    elif fault == "worn-lobe":
        assert relative[faulty.pop()] < 1.02
    else:
        assert all(relative[n] < 0.95 for n in faulty)
    if fault == "comes-and-goes":
        assert spread[faulty.pop() - 1] > 0.3
    elif fault != "recovers":
        assert np.all(spread < 0.1)


def test_one_tooth_late_moves_all_valves_of_one_bank(by_fault, family):
    late, sound = by_fault["bank-late", family], by_fault["none", family]
    one = [n for n, c in enumerate(late.scenario.engine.cylinders) if c.faulty]
    assert any({n + 1 for n in one} == set(bank) for bank in late.scenario.banks)
    for number in one:
        cylinder = late.scenario.engine.cylinders[number]
        assert 360 / 22 <= cylinder.late_closing_deg == cylinder.late_exhaust_deg <= 360 / 18
    other = [n for n in range(8) if n not in one]
    peaks, before = np.array(late.truth.peak_kpa), np.array(sound.truth.peak_kpa)
    # later closing pushes more of the fill back out; the other bank is as it was
    assert np.all(peaks[one] < 0.97 * before[one])
    assert peaks[other] == pytest.approx(before[other], rel=0.02)


def test_recovering_cylinder_rises_through_the_crank(by_fault, family):
    made = by_fault["recovers", family]
    number = next(n for n, c in enumerate(made.scenario.engine.cylinders, 1) if c.faulty)
    column = made.truth.cycles_kpa[:, number - 1]
    column = column[np.isfinite(column)]
    assert column[-1] > 1.3 * column[0]


def test_pairs_sit_where_they_should(by_fault, family):
    order = by_fault["companions", family].scenario.engine.firing_order

    def faulty(fault):
        cylinders = by_fault[fault, family].scenario.engine.cylinders
        return [n for n, c in enumerate(cylinders, 1) if c.faulty]

    a, b = faulty("companions")
    assert order.companion_of(a) == b
    at = [str(LAYOUTS["V8"].order(i)) for i in range(len(LAYOUTS["V8"].orders))].index(str(order))
    assert tuple(faulty("adjacent")) in LAYOUTS["V8"].neighbours(at)
    assert tuple(faulty("bank")) in LAYOUTS["V8"].banks(at)


def test_equal_wear_is_less_pressure_and_even(by_fault, family):
    worn, sound = by_fault["all", family].truth, by_fault["none", family].truth
    assert max(worn.peak_kpa) < 0.9 * min(sound.peak_kpa)
    assert min(worn.relative_best) > 0.85


def test_late_cam_lowers_what_is_trapped_in_all(by_fault, family):
    late, sound = by_fault["late-cam", family].truth, by_fault["none", family].truth
    # 28 to 48 degrees later the piston has pushed a good part of its fill back out
    assert max(late.peak_kpa) < 0.85 * min(sound.peak_kpa)
    assert min(late.relative_best) > 0.85


def test_fault_leaves_the_rest_of_the_capture_alone(by_fault, family):
    sound, low = (by_fault[fault, family].scenario for fault in ("none", "dead"))
    assert low.starter == sound.starter
    assert low.clamp == sound.clamp
    assert low.engine.firing_order == sound.engine.firing_order
    same = [a == b for a, b in zip(low.engine.cylinders, sound.engine.cylinders, strict=True)]
    assert same.count(False) == 1


@pytest.mark.parametrize("flaw", FLAWS)
def test_flaws_are_named_and_leave_the_engine_truth(by_flaw, flaw, family):
    made = by_flaw[flaw, family]
    assert made.truth.flaws == (() if flaw == "none" else (flaw,))
    if flaw != "no-compression":
        plain = by_flaw["none", family].truth
        assert made.truth.relative_sound == pytest.approx(plain.relative_sound, abs=0.05)


def test_flaws_that_forbid_a_verdict_are_flaws():
    assert set(FLAWS) > NOT_TO_BE_JUDGED
    assert "none" not in NOT_TO_BE_JUDGED


def test_no_signal_is_noise_alone(by_flaw, family):
    clamp = by_flaw["no-signal", family].scenario.clamp
    seen = seen_a(by_flaw["no-signal", family])
    assert np.ptp(seen) < 0.1 * by_flaw["none", family].truth.mean_a
    assert abs(seen.mean()) < abs(clamp.offset_a) + 10


def test_wrong_cable_is_small(by_flaw, family):
    assert np.percentile(np.abs(in_steady(by_flaw["wrong-cable", family])), 95) < 25


def test_one_of_two_cables_carries_a_share(by_flaw, family):
    made = by_flaw["one-of-two-cables", family]
    share = made.scenario.flaws.cable_share
    whole = in_steady(by_flaw["none", family])
    offset = made.scenario.clamp.offset_a
    sign = -1 if made.scenario.clamp.inverted else 1
    assert 0.4 <= share <= 0.7
    assert in_steady(made).mean() == pytest.approx(share * whole.mean(), abs=5 + abs(sign * offset))


def test_wrong_scale_is_a_factor_in_what_is_entered(by_flaw, family):
    scenario = by_flaw["wrong-scale", family].scenario
    assert scenario.setup().mv_per_a / scenario.clamp.mv_per_a in (0.1, 10.0)


def test_reversed_clamp_turns_the_trace(by_flaw, family):
    made = by_flaw["reversed", family]
    assert made.truth.inverted
    assert made.waveform.channel("clamp").values.mean() < 0


def test_offset_lifts_the_rest_before_the_key(by_flaw, family):
    made = by_flaw["offset", family]
    rest = seen_a(made)[: int(made.scenario.before_s * 2000) - 5]
    assert np.median(rest) == pytest.approx(made.scenario.clamp.offset_a, abs=8)
    assert abs(made.scenario.clamp.offset_a) >= 15


def test_drift_walks(by_flaw, family):
    drifted, plain = by_flaw["drift", family], by_flaw["none", family]
    walk = seen_a(drifted)[-20:].mean() - seen_a(plain)[-20:].mean()
    assert abs(walk) > 6


@pytest.mark.parametrize("flaw", ["clipped-clamp", "clipped-screen"])
def test_clipped_humps_are_cut(by_flaw, family, flaw):
    made, plain = by_flaw[flaw, family], by_flaw["none", family]
    assert in_steady(made).max() < 0.9 * in_steady(plain).max()


def test_screen_clips_at_one_value(by_flaw, family):
    values = np.abs(by_flaw["clipped-screen", family].waveform.channel("clamp").values)
    limit = by_flaw["clipped-screen", family].scenario.clamp.range_v
    assert values.max() == pytest.approx(limit, rel=0.01)
    assert np.mean(values > 0.98 * limit) > 0.02


def test_load_steps_stand_on_the_current(by_flaw, family):
    made, plain = by_flaw["load-steps", family], by_flaw["none", family]
    added = seen_a(made) - seen_a(plain)
    step = made.scenario.flaws.load_steps[0]
    middle = round((step.from_s + 0.8 * (step.to_s - step.from_s)) * 2000)
    assert added[middle - 20 : middle + 20].mean() > 0.6 * step.amps


def test_engine_that_catches_runs_away_from_the_starter(by_flaw, family):
    made = by_flaw["engine-catches", family]
    track = made.truth.track
    catches_s = made.scenario.before_s + made.scenario.flaws.catches_after_s
    before = track.engine_rad_s[track.time_s < catches_s].max()
    assert track.engine_rad_s.max() > 2 * before
    end_s = made.scenario.before_s + made.scenario.crank_s
    late = (track.time_s > end_s - 0.1) & (track.time_s < end_s - 0.02)
    assert track.motor_a[late].mean() < 0.6 * made.truth.mean_a
    assert made.truth.steady_s[1] == pytest.approx(catches_s)


def test_battery_that_collapses_slows_the_crank(by_flaw, family):
    track = by_flaw["battery-collapse", family].truth.track
    start_s = by_flaw["battery-collapse", family].scenario.before_s
    early = (track.time_s > start_s + 0.3) & (track.time_s < start_s + 0.6)
    late = (track.time_s > start_s + 2.5) & (track.time_s < start_s + 3.0)
    assert track.engine_rad_s[late].mean() < 0.7 * track.engine_rad_s[early].mean()


def test_too_short_a_crank_has_few_cycles(by_flaw, family):
    track = by_flaw["too-short", family].truth.track
    assert (track.angle_rad[-1] - track.angle_rad[0]) / (4 * math.pi) < 3


def test_low_rate_has_few_samples_a_hump(by_flaw, family):
    made = by_flaw["low-rate", family]
    hump_hz = 4 * made.truth.rpm / 120
    assert made.waveform.rate_hz / hump_hz < 10


def test_wrong_engine_is_entered(by_flaw, family):
    scenario = by_flaw["wrong-engine", family].scenario
    assert len(scenario.setup().firing_order) != 4
    assert scenario.setup().sync.cylinder in scenario.setup().firing_order.sequence


def test_plugs_out_leave_no_compression(by_flaw, family):
    made, plain = by_flaw["no-compression", family], by_flaw["none", family]
    assert max(made.truth.peak_kpa) < 0.1 * max(plain.truth.peak_kpa)
    assert in_steady(made).std() < 0.5 * in_steady(plain).std()


def test_draws_cover_the_ranges():
    drawn = [draw(seed, family=FAMILIES[seed % 2]) for seed in range(400)]
    assert {s.layout for s in drawn} == set(LAYOUTS)
    assert {s.fault for s in drawn} == set(DRAWN_FAULTS)
    assert {s.clamp.bits for s in drawn} == {8, 10, 12, 14, 16}
    assert min(s.rate_hz for s in drawn) == 500
    assert max(s.rate_hz for s in drawn) == 1e6
    assert {s.starter.kind for s in drawn} == {"permanent-magnet", "series"}
    assert {s.sync and s.sync.every_deg for s in drawn} == {None, 360, 720}
    assert {s.sync.event for s in drawn if s.sync} == {"ignition", "injector", "cam"}
    assert any(s.engine.timing.decompression_mm2 for s in drawn)
    assert any(s.engine.gasket for s in drawn)
    assert all(s.setup().firing_order == s.engine.firing_order for s in drawn)


def test_same_draw_same_scenario():
    assert draw(77, flaw="drift", family="b") == draw(77, flaw="drift", family="b")
    assert draw(77) != draw(78)


@pytest.mark.parametrize(
    "asked",
    [
        {"layout": "W16"},
        {"fault": "haunted"},
        {"flaw": "haunted"},
        {"layout": "I4", "fault": "bank"},
        {"layout": "I3", "fault": "companions"},
    ],
)
def test_what_cannot_be_is_refused(asked):
    with pytest.raises(ValueError, match=r"there is no|cannot have"):
        draw(1, **asked)
