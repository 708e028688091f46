"""What makes a capture hard shows what it says, and leaves the rest of the capture alone."""

from dataclasses import replace

import numpy as np
import pytest

from traces.simulator.engine import Cylinder, PumpLobes, ValveTiming
from traces.simulator.hard import HARD, fits
from traces.simulator.loads import Ripples
from traces.simulator.scenario import Family
from traces.simulator.scenarios import LAYOUTS, draw
from traces.simulator.simulate import simulate, simulate_many

from .closed_engine import NO_VALVES, gas_of, single, turn

FAMILIES: tuple[Family, ...] = ("a", "b")
RATE_HZ = 20_000.0


@pytest.fixture(scope="module")
def made():
    """One engine by kind and family, “” for the engine as it was drawn."""
    keys = [(kind, family) for family in FAMILIES for kind in ("", *HARD)]
    drawn = []
    for kind, family in keys:
        scenario = draw(52, layout="I4", fault="none", family=family, sync="720", hard=kind or None)
        assert scenario.sync
        quiet = replace(scenario.sync, noise_v=0.002, bits=16)
        drawn.append(replace(scenario, rate_hz=RATE_HZ, crank_s=3.0, sync=quiet))
    return dict(zip(keys, simulate_many(drawn), strict=True))


@pytest.fixture(params=FAMILIES)
def family(request):
    return request.param


def seen_a(capture):
    clamp = capture.scenario.clamp
    sign = -1 if clamp.inverted else 1
    return sign * capture.waveform.channel("clamp").values.astype(float) * 1000 / clamp.mv_per_a


def in_steady(capture):
    low, high = (round(edge * RATE_HZ) for edge in capture.truth.steady_s)
    return seen_a(capture)[low:high]


@pytest.mark.parametrize("kind", HARD)
def test_each_kind_is_named_and_no_flaw(made, kind, family):
    capture = made[kind, family]
    assert capture.scenario.hard == kind
    assert capture.truth.flaws == ()
    assert capture.truth.low == ()
    assert np.all(np.isfinite(capture.waveform.channel("clamp").values))
    # a sound engine stays even, whatever it is cranked with
    assert min(capture.truth.relative_sound) > 0.80


@pytest.mark.parametrize("kind", [k for k in HARD if k.startswith(("sync", "waste"))])
def test_what_changes_the_pick_up_leaves_the_current_alone(made, kind, family):
    plain = made["", family].waveform.channel("clamp").values
    assert np.array_equal(made[kind, family].waveform.channel("clamp").values, plain)


@pytest.mark.parametrize("kind", [k for k in HARD if not k.startswith(("sync", "waste"))])
def test_what_changes_the_engine_changes_the_current(made, kind, family):
    plain = made["", family].waveform.channel("clamp").values
    assert not np.array_equal(made[kind, family].waveform.channel("clamp").values, plain)


def test_decompression_lowers_what_is_trapped(made, family):
    held, plain = made["decompression", family].truth, made["", family].truth
    # the valve closes 55 to 85 degrees before top dead centre: a third of the stroke is left
    assert max(held.peak_kpa) < 0.75 * min(plain.peak_kpa)
    assert held.rpm > plain.rpm


@pytest.mark.parametrize("family", FAMILIES)
def test_weights_let_go_of_the_decompression_above_their_speed(family):
    timing = replace(
        NO_VALVES,
        decompression_mm2=60.0,
        decompression_closes_btdc_deg=10.0,
        decompression_below_rpm=200.0,
    )

    def peak_bar(rpm, timing):
        gas = gas_of(single(family, timing=timing, start_deg=540.0))
        return turn(gas, 540, 720, 180 / (6 * rpm), 1000)[1].max() / 1e5

    for rpm, lifted in ((150, True), (190, True), (210, False), (300, False)):
        tight = peak_bar(rpm, NO_VALVES)
        if lifted:
            assert peak_bar(rpm, timing) < 0.2 * tight
        else:
            assert peak_bar(rpm, timing) == pytest.approx(tight, rel=1e-6)


def test_held_open_at_any_speed_without_weights():
    timing = ValveTiming(0, 0, 0, 0, 0, 0, 60.0, 10.0)
    gas = gas_of(single("a", timing=timing, start_deg=540.0))
    assert turn(gas, 540, 720, 180 / (6 * 600), 1000)[1].max() < 1.0e6


def test_accessories_slow_the_crank_and_draw_more(made, family):
    loaded, plain = made["accessories", family].truth, made["", family].truth
    assert loaded.rpm < plain.rpm - 5
    assert loaded.mean_a > plain.mean_a + 10


def test_cold_oil_slows_the_crank(made, family):
    cold, plain = made["cold", family].truth, made["", family].truth
    assert cold.rpm < 0.9 * plain.rpm
    assert cold.mean_a > 1.1 * plain.mean_a


def test_pump_lobes_push_over_half_of_their_period():
    pump = PumpLobes(lobes=3, peak_nm=12.0, returned=0.2, phase_deg=50.0)
    base = single("a")
    engine = replace(base.engine, pump=pump)
    loads = Ripples([replace(base, engine=engine), base])
    angles = np.deg2rad(np.arange(0, 720, 0.5))
    torque = np.array([loads.torque_nm(np.full(2, angle)) for angle in angles])
    assert torque[:, 0].max() == pytest.approx(12.0, rel=1e-3)
    assert torque[:, 0].min() == pytest.approx(-2.4, rel=1e-3)
    # mean of a half sine over its whole period is peak / pi
    assert torque[:, 0].mean() == pytest.approx(12.0 * 0.8 / np.pi, rel=1e-3)
    starts = np.flatnonzero((torque[:-1, 0] <= 0) & (torque[1:, 0] > 0))
    assert np.rad2deg(angles[starts]) == pytest.approx([50, 290, 530], abs=1.0)
    assert np.all(torque[:, 1] == 0)


def test_pump_lobes_show_in_the_speed(made, family):
    pump = made["pump-lobes", family].scenario.engine.pump

    def swing(capture):
        track = capture.truth.track
        begin = track.angle_rad[np.searchsorted(track.time_s, capture.truth.steady_s[0])]
        turns = np.linspace(begin, begin + 16 * np.pi, 8001)[:-1]
        speed = np.interp(turns, track.angle_rad, track.engine_rad_s)
        return np.mean(speed * np.exp(-1j * pump.lobes / 2 * turns)) / speed.mean()

    assert abs(swing(made["pump-lobes", family]) - swing(made["", family])) > 0.003


def test_geometry_spreads_the_cylinders(made, family):
    spread, plain = (np.std(made[k, family].truth.relative_sound) for k in ("geometry", ""))
    assert spread > 1.5 * plain


def test_weak_battery_slows_through_the_crank(made, family):
    def lost(capture):
        track, (low, high) = capture.truth.track, capture.truth.steady_s
        first, last = (
            track.engine_rad_s[(track.time_s >= a) & (track.time_s < a + 0.6)].mean()
            for a in (low, high - 0.6)
        )
        return 1 - last / first

    assert lost(made["weak-battery", family]) > lost(made["", family]) + 0.01


def test_slow_clamp_flattens_the_inrush_and_the_ripple(made, family):
    slow, plain = (seen_a(made[k, family]) for k in ("slow-clamp", ""))
    assert slow.max() < 0.95 * plain.max()
    fast = [np.std(np.diff(in_steady(made[k, family]))) for k in ("slow-clamp", "")]
    assert fast[0] < fast[1]


def test_coarse_has_few_steps_in_the_humps(made, family):
    few, plain = (np.unique(in_steady(made[k, family])).size for k in ("coarse", ""))
    assert few < 40
    assert few < plain


def test_sparks_strike_into_the_clamp_at_every_firing(made, family):
    capture = made["sparks-in-the-clamp", family]
    struck = np.abs(seen_a(capture) - seen_a(made["", family]))
    track = capture.truth.track
    low, high = capture.truth.steady_s
    angle = np.rad2deg(np.interp([low, high], track.time_s, track.angle_rad))
    over = np.flatnonzero(struck > 0.4 * struck.max())
    over = over[(over > low * RATE_HZ) & (over < high * RATE_HZ)]
    events = np.count_nonzero(np.diff(over, prepend=-10_000) > 0.02 * RATE_HZ)
    assert events == pytest.approx(np.diff(angle)[0] / 180, abs=2)


def heights(capture):
    """Return the largest size in the sync channel after each cylinder's event, by number."""
    sync, order = capture.scenario.sync, capture.scenario.engine.firing_order
    track, values = capture.truth.track, np.abs(capture.waveform.channel("coil").values)
    low, high = capture.truth.steady_s
    found = {}
    for number in order.sequence:
        first = np.deg2rad(order.angle_of(number) + sync.angle_deg)
        times = track.time_at(first + 4 * np.pi * np.arange(20))
        times = times[(times > low) & (times < high - 0.05)]
        found[number] = np.mean(
            [values[round(t * RATE_HZ) : round((t + 0.004) * RATE_HZ)].max() for t in times]
        )
    return found


def test_neighbours_leak_into_the_sync(made, family):
    capture = made["sync-neighbours", family]
    own = capture.scenario.sync.cylinder
    found = heights(capture)
    assert 0.10 <= capture.scenario.sync.leakage <= 0.30
    others = [v / found[own] for n, v in found.items() if n != own]
    assert others == pytest.approx([capture.scenario.sync.leakage] * 3, abs=0.07)


def test_ringing_goes_on_after_the_event(made, family):
    def after(capture):
        values, scale = np.abs(capture.waveform.channel("coil").values), 0.0
        for at in capture.truth.sync_s[capture.truth.sync_s < 3.0]:
            late = values[round((at + 0.006) * RATE_HZ) : round((at + 0.012) * RATE_HZ)]
            scale = max(scale, late.max() / capture.scenario.sync.amplitude_v)
        return scale

    assert after(made["sync-ringing", family]) > 0.15
    assert after(made["sync-neighbours", family]) < 0.1


def test_first_events_are_missing(made, family):
    capture = made["sync-first-missing", family]
    missing = capture.scenario.sync.missing_first
    assert missing in {2, 3, 4}
    before = made["", family]
    skipped = missing - before.scenario.sync.missing_first
    assert len(before.truth.sync_s) - len(capture.truth.sync_s) == skipped


def test_negative_events_are_the_positive_ones_turned(made, family):
    down = made["sync-negative", family]
    scenario = down.scenario
    assert scenario.sync
    up = simulate(replace(scenario, sync=replace(scenario.sync, polarity=1)))
    one, other = (c.waveform.channels[1].values.astype(float) for c in (up, down))
    assert scenario.sync.polarity == -1
    assert np.corrcoef(one, other)[0, 1] < -0.99


def test_waste_spark_comes_every_turn(made, family):
    capture = made["waste-spark", family]
    track = capture.truth.track
    angle = np.rad2deg(np.interp(capture.truth.sync_s, track.time_s, track.angle_rad))
    assert np.diff(angle) == pytest.approx(360, abs=1)
    assert capture.scenario.setup().sync.every_deg == 360


@pytest.mark.parametrize("event", ["injector", "cam"])
def test_injector_and_cam_come_once_a_cycle(made, event, family):
    capture = made[f"sync-{event}", family]
    track = capture.truth.track
    angle = np.rad2deg(np.interp(capture.truth.sync_s, track.time_s, track.angle_rad))
    assert np.diff(angle) == pytest.approx(720, abs=1)
    assert capture.scenario.setup().sync.event == event


def test_all_layouts_take_what_fits_them():
    for layout in LAYOUTS:
        plain = draw(3, layout=layout)
        for kind in HARD:
            if fits(kind, plain):
                assert draw(3, layout=layout, hard=kind).hard == kind
            else:
                with pytest.raises(ValueError, match="cannot have"):
                    draw(3, layout=layout, hard=kind)
    assert not fits("waste-spark", draw(3, layout="I3"))
    assert not fits("sync-ringing", draw(3, layout="D4"))


def test_what_there_is_not_is_refused():
    with pytest.raises(ValueError, match="there is no hard"):
        draw(1, hard="haunted")


def test_places_that_fill_the_array_do_not_burn():
    """An engine that catches beside a larger one: its unused places must stay as they are."""
    small = single("a", Cylinder(leak_mm2=1.0))
    caught = replace(small, flaws=replace(small.flaws, catches_after_s=0.0))
    large = draw(1, layout="I3", fault="none")
    gas = gas_of(caught, large)
    highest = 0.0
    for n in range(9000):
        gas.step(np.full(2, np.deg2rad(180 + 2.0 * (n + 0.5))), n * 5e-4, 5e-4)
        highest = max(highest, float(gas.pressure_pa[0, 1:].max()))
    # twenty-five cycles, and no more than what a sealed cylinder compresses to
    assert highest < 4e6
