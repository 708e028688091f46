"""Cycle length, count and sync from signals whose speed is known."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.core.synthetic import Crank
from traces.core.crank.cycles import (
    count_cycles,
    cycle_from_current,
    harmonic_powers,
    levelled,
    repeats_of,
)
from traces.core.preparation.preparation import prepare
from traces.core.preparation.quality import check_sync_edge
from traces.core.setup.analysis_setup import SyncSetup
from traces.core.sync.events import Sync, anchored_count, read_sync
from traces.core.sync.pulses import Pulses, find_pulses
from traces.core.waveform.conditioning import condition
from traces.core.waveform.waveform import Channel, Waveform


def _level(crank: Crank):
    waveform = crank.waveform()
    current = condition(waveform, waveform.channels[0], crank.setup()).current_a
    return levelled(current, 500.0)


@pytest.mark.parametrize("rpm", [110.0, 180.0, 260.0])
@pytest.mark.parametrize(
    ("order", "strengths"),
    [
        ("1-3-4-2", (1, 1, 0.4, 1)),
        ("1-3-4-2", (1, 1, 1, 1)),
        ("1-5-3-6-2-4", (1, 0.5, 1, 1, 1, 1)),
        ("1-2-4-5-3", (1, 1, 1, 1, 0.3)),
    ],
)
def test_a_cycle_is_two_turns(order, strengths, rpm: float) -> None:
    crank = Crank(order=order, strengths=strengths, rpm=rpm, duration_s=5.0)
    level = _level(crank)
    cycle_s = cycle_from_current(level, 500.0, len(strengths), repeats_of(level, 500.0))
    assert cycle_s is not None
    if min(strengths) == 1 and not 140 <= rpm <= 320:
        # alike cylinders far from the usual speed: half or twice the cycle looks the same
        times = 120 / cycle_s / rpm
        assert times == pytest.approx(1 if times < 1.5 else 2, rel=0.01)
    else:
        assert 120 / cycle_s == pytest.approx(rpm, rel=0.01)


def test_likeness_is_numpys_correlation() -> None:
    rng = np.random.default_rng(5)
    values = rng.normal(size=900) + np.sin(np.arange(900) / 20)
    repeats = repeats_of(values, 500.0)
    for i in (0, 40, repeats.lags_s.size - 1):
        lag = round(repeats.lags_s[i] * 500)
        wanted = np.corrcoef(values[:-lag], values[lag:])[0, 1]
        assert repeats.likeness[i] == pytest.approx(wanted, abs=1e-9)


def test_humps_stand_at_n_times_a_cycle() -> None:
    # one hump per cylinder in 720 degrees: line n of the cycle's spectrum
    for order in ("1-3-2", "1-3-4-2", "1-5-3-6-2-4"):
        count = len(order.split("-"))
        crank = Crank(order=order, strengths=(1.0,) * count)
        powers = harmonic_powers(_level(crank), 500.0, 120 / crank.rpm, 2 * count)
        assert int(np.argmax(powers)) + 1 == count


def test_the_count_follows_a_falling_speed() -> None:
    time_s = np.arange(3000) / 500
    rpm = 240 - 8 * time_s
    cycles = np.cumsum(rpm) / 120 / 500
    deep = np.where(np.floor(cycles * 4) % 4 == 1, 0.5, 1.0)
    current = deep * (1 - np.cos(2 * np.pi * 4 * cycles)) * 50
    found = count_cycles(current, 500.0, 0.55, 4)
    off = (found - found[0]) - (cycles - cycles[0])
    assert np.abs(off).max() < 0.06
    assert (np.diff(found) > 0).all()


def _pulses(places, heights, cycles: int = 8, cycle_s: float = 0.55) -> Pulses:
    times = np.array([(c + p) * cycle_s for c in range(cycles) for p in places])
    return Pulses(times, np.tile(np.asarray(heights, dtype=float), cycles))


def _read(pulses: Pulses):
    times_s = np.arange(0, 6, 0.002)
    return read_sync(pulses, times_s, times_s / 0.55)


def test_the_strongest_place_is_the_cylinders_own() -> None:
    sync = _read(_pulses([0.1, 0.35, 0.6, 0.85], [2.0, 0.6, 0.5, 0.6]))
    assert sync.state == "every-720"
    assert np.allclose(sync.events_s / 0.55 % 1.0, 0.1)
    assert sync.events_s.size == 8


def test_two_alike_half_a_cycle_apart_are_every_360() -> None:
    sync = _read(_pulses([0.1, 0.35, 0.6, 0.85], [2.0, 0.3, 1.8, 0.3]))
    assert sync.state == "every-360"
    assert sync.events_s.size == 16


@pytest.mark.parametrize(
    ("pulses", "state"),
    [
        (_pulses([0.0, 0.25, 0.5, 0.75], [1, 1, 1, 1]), "crowded"),
        (_pulses([0.0, 0.25], [1, 1]), "crowded"),
        (_pulses([0.0], [1], cycles=1), "missing"),
        (Pulses(np.empty(0), np.empty(0)), "missing"),
        (_pulses([0.3], [1.0], cycles=8, cycle_s=0.82), "scattered"),
    ],
)
def test_events_that_do_not_fit(pulses: Pulses, state: str) -> None:
    assert _read(pulses).state == state


def test_anchoring_puts_events_on_whole_cycles() -> None:
    sync = _read(_pulses([0.1], [1.0]))
    times_s = np.arange(0, 6, 0.002)
    count, off = anchored_count(sync, times_s, times_s / 0.55 * 1.004)
    at = np.interp(sync.events_s, times_s, count)
    assert np.abs(at - np.rint(at)).max() < 0.005
    assert np.abs(off).max() < 0.005


@pytest.mark.parametrize("sign", [1, -1])
def test_pulses_up_or_down(sign: int) -> None:
    values = np.random.default_rng(2).normal(0, 0.02, 8000)
    at = np.arange(500, 8000, 1100)
    values[at] += sign * 2.0
    channel = Channel("coil", "V", values.astype(np.float32))
    waveform = Waveform(1.0, 2000.0, (channel,))
    found = find_pulses(waveform, channel, 1.0, 5.0)
    assert np.allclose(found.times_s, 1.0 + at / 2000)


def test_ringing_after_an_event_is_one_event() -> None:
    values = np.zeros(8000)
    for at in range(500, 8000, 1100):
        values[at : at + 12] = 2.0 * (-0.7) ** np.arange(12)
    channel = Channel("coil", "V", values.astype(np.float32))
    found = find_pulses(Waveform(0.0, 2000.0, (channel,)), channel, 0.0, 4.0)
    assert found.times_s.size == 7


def _cam(high_share: float, *, noise: float = 0.0, level: float = 5.0) -> Waveform:
    """Return a cam's square wave that rises every 0.6 s, from 0.1 s on."""
    high = ((np.arange(12_000) / 2000.0 - 0.1) / 0.6 % 1.0) < high_share
    values = level * high + np.random.default_rng(3).normal(0, noise, high.size)
    return Waveform(0.0, 2000.0, (Channel("cam", "V", values.astype(np.float32)),))


@pytest.mark.parametrize("noise", [0.0, 0.1])
@pytest.mark.parametrize("high_share", [0.10, 0.42, 0.48, 0.50, 0.52, 0.58])
def test_a_cam_high_about_half_of_the_time_counts_by_its_rising_edge(high_share, noise) -> None:
    """The longer level was rest, so that a little more of it turned the edge and the angle."""
    waveform = _cam(high_share, noise=noise)
    found = find_pulses(waveform, waveform.channels[0], 0.0, 6.0)
    assert found.times_s[1:] == pytest.approx(0.1 + 0.6 * np.arange(1, 10), abs=2e-3)


def test_a_cam_mostly_high_counts_by_its_falling_edge() -> None:
    waveform = _cam(0.8)
    found = find_pulses(waveform, waveform.channels[0], 0.0, 6.0)
    falls_s = 0.1 + 0.8 * 0.6 + 0.6 * np.arange(-1, 10)
    off_s = found.times_s[:, None] - falls_s[falls_s > 0.05]
    assert np.abs(off_s).min(axis=1)[1:].max() < 2e-3


@pytest.mark.parametrize(("high_share", "is_told"), [(0.5, False), (0.65, True), (0.8, False)])
def test_where_a_cams_edge_may_turn_it_is_told(high_share, is_told) -> None:
    waveform = _cam(high_share)
    pulses = find_pulses(waveform, waveform.channels[0], 0.0, 6.0)
    sync = Sync("every-720", pulses.times_s)
    setup = Crank().setup(sync=SyncSetup("cam", 1, "cam", angle_deg=-40.0))
    told = {f.code for f in check_sync_edge(sync, pulses, setup)}
    assert told == ({"cam-edge-unsure"} if is_told else set())


def test_of_events_too_near_to_each_other_the_stronger_stays() -> None:
    values = np.zeros(8000)
    for at, height in (
        (1000, 3.0),
        (1016, 2.0),
        (1032, 4.0),
        (5000, 2.0),
        (5020, 3.0),
        (5040, 2.5),
    ):
        values[at] = height  # 8 ms apart, then 10 ms
    values[[7000, 7024]] = 2.0  # 12 ms apart
    channel = Channel("coil", "V", values.astype(np.float32))
    found = find_pulses(Waveform(0.0, 2000.0, (channel,)), channel, 0.0, 4.0)
    assert (2000 * found.times_s).round().tolist() == [1000, 1032, 5020, 7000, 7024]
    assert found.heights.tolist() == [3.0, 4.0, 3.0, 2.0, 2.0]


def test_speed_within_a_cycle_does_not_move_whole_cycles() -> None:
    crank = replace(Crank(), strengths=(1.0, 0.3, 1.0, 1.0))

    cranking = prepare(crank.waveform(), crank.setup()).cranking
    assert cranking is not None
    times_s = cranking.conditioned.times_s
    steady = cranking.steady
    # 6 x rpm degrees a second
    slope = np.polyfit(times_s[steady], cranking.angle_deg[steady], 1)[0]
    assert slope == pytest.approx(6 * crank.rpm, rel=0.003)
    assert (np.diff(cranking.angle_deg[steady]) > 0).all()
