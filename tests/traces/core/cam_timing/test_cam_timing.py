"""Cams against the crank: measured recordings, cams moved by known angles, and refusals."""

import json
from dataclasses import replace

import numpy as np
import pytest
from django.core.management import call_command

from bench.cam_timing import beside, course
from traces.core.cam_timing import (
    CamChannels,
    CamError,
    beside_good_cams,
    crank_angles,
    moved_words,
    noticed_words,
    read_cams,
)
from traces.core.readers import read
from traces.core.setup import CamChannel, CamSetup, SetupError, ToothWheel
from traces.core.signals import edge_times_s
from traces.core.waveform import Channel, Waveform
from traces.simulator.cams import CRANK_CHANNEL, CamRecorder, SimulatedCam, cam_capture

_TWO_CAMS = "v6b-36-2-2-2-two-cams-cranking-1.csv"
_CAM = SimulatedCam("cam 1", ((40.0, 20.0), (300.0, 60.0), (500.0, 30.0)))
_CHANNELS = CamChannels(CRANK_CHANNEL, (CamChannel("cam 1"),), ToothWheel.parse("60-2"))


def two_cams(real, bank=None):
    """Return the measured recording and its channels."""
    banks = bank or (None, None)
    cams = tuple(CamChannel(name, of) for name, of in zip(("cam", "Channel 2"), banks, strict=True))
    return (
        read(real / _TWO_CAMS).waveform,
        CamChannels("crank", cams, ToothWheel.parse("36-2-2-2")),
    )


def shift_of(figures, cam=0):
    """Return how one cam lies beside the known-good one."""
    found = figures.cams[cam].beside
    assert found is not None
    return found


def moved(waveform, crank, name, later_deg):
    """Return a recording with one channel later by so many crank degrees, tooth by tooth."""
    times_s = waveform.t0_s + np.arange(waveform.samples) / waveform.rate_hz
    inside = np.clip(times_s, crank.times_s[0], crank.times_s[-1])
    back_s = np.interp(crank.at(inside) - later_deg, crank.angle_deg, crank.times_s)
    values = np.interp(back_s, times_s, waveform.channel(name).values)
    channels = tuple(
        replace(channel, values=values.astype(np.float32)) if channel.name == name else channel
        for channel in waveform.channels
    )
    return replace(waveform, channels=channels)


def simulated(later_deg=0.0, *, seconds=2.5, recorder=None, seed=3, cam=_CAM):
    """Return crank and one cam at a speed that swings with four compressions."""
    time_s = np.arange(0.0, seconds, 1e-4)
    swing = 60.0 * np.cos(np.arange(time_s.size) * 1e-4 * 2 * np.pi * 8.0)
    angle_deg = np.cumsum(1440.0 + 6 * swing) * 1e-4
    used = recorder or CamRecorder(rate_hz=20_000.0)
    return cam_capture(time_s, angle_deg, [replace(cam, later_deg=later_deg)], used, seed)


def test_measured_cams_come_back_every_cycle(real):
    waveform, channels = two_cams(real)
    figures = read_cams(waveform, channels).figures()
    assert (figures.state, figures.wheel, figures.wheel_repeats_deg) == (
        "cranking",
        "36-2-2-2",
        120.0,
    )
    assert figures.rpm == pytest.approx(238, abs=2)
    assert [len(cam.edges) for cam in figures.cams] == [12, 12]
    for cam in figures.cams:
        # cut from the same state log by hand, each edge stands within half a degree every cycle
        assert max(edge.spread_deg for edge in cam.edges) < 0.5
        assert cam.repeats_deg == 720.0
    assert len(list(noticed_words(figures))) == 1


def test_measured_running_engine_has_its_cam_read_at_idle(real):
    waveform = read(real / "i4g-36-2-1-running.csv").waveform
    channels = CamChannels("Channel 0", (CamChannel("Channel 1"),))
    figures = read_cams(waveform, channels).figures()
    assert (figures.state, figures.wheel) == ("running", "36-2-1")
    assert figures.rpm == pytest.approx(1418, abs=3)
    assert [edge.spread_deg < 0.1 for edge in figures.cams[0].edges] == [True, True]


def test_measured_cam_that_wanders_while_the_engine_starts_is_told(real):
    waveform = read(real / "i4f-60-2-crank-to-running-8ch.csv").waveform
    channels = CamChannels("Channel 0", (CamChannel("Channel 1"),))
    figures = read_cams(waveform, channels).figures()
    assert figures.cams[0].moves_deg > 10.0
    assert list(noticed_words(figures))


@pytest.mark.parametrize("later_deg", [-17.1, -8.6, 4.5, 8.6, 17.1])
def test_measured_cam_moved_by_known_degrees_is_found(real, later_deg):
    waveform, channels = two_cams(real, (1, 2))
    good = read_cams(waveform, channels)
    crank = next(iter(good.cranks.values()))
    now = read_cams(moved(waveform, crank, "Channel 2", later_deg), channels)
    figures = beside_good_cams(now, good, "good", 42)
    still, gone = shift_of(figures), shift_of(figures, 1)
    assert still.call == "in-place"
    assert gone.call == ("late" if later_deg > 0 else "early")
    # rotating the same recording leaves its slow start: a degree, of 17 for a tooth of 42
    assert gone.later_deg.value == pytest.approx(later_deg, abs=1.0)
    assert (figures.moved, figures.moved_bank) == ("bank", 2)
    assert gone.whole_teeth == {-17.1: -1, 17.1: 1}.get(later_deg)


@pytest.mark.parametrize("name", ["cranked, a", "idling, impulse"])
@pytest.mark.parametrize(
    ("move", "what"),
    [("nothing", "none"), ("one tooth", "one-cam"), ("a bank", "bank"), ("all", "all")],
)
def test_moved_cams_are_found_on_two_kinds_of_physics(name, move, what):
    figures, later, teeth = beside(name, 71, move)
    for cam, true in enumerate(later):
        assert shift_of(figures, cam).later_deg.value == pytest.approx(true, abs=1.5)
    assert figures.moved == what
    if move == "one tooth":
        whole = [shift_of(figures, cam).whole_teeth for cam in range(len(later))]
        assert whole == [round(true * teeth / 720.0) or None for true in later]


def test_shift_within_what_sound_engines_differ_is_in_place_or_open():
    good = read_cams(simulated(), _CHANNELS)
    assert beside_good_cams(read_cams(simulated(1.5, seed=4), _CHANNELS), good, "g").moved == "none"
    calls = {
        shift_of(beside_good_cams(read_cams(simulated(later, seed=5), _CHANNELS), good, "g")).call
        for later in (2.6, 3.4)
    }
    assert calls <= {"in-place", "not-settled", "late"}


def test_interval_holds_the_true_shift_mostly():
    good = read_cams(simulated(seed=1), _CHANNELS)
    held = 0
    for seed in range(10, 18):
        found = beside_good_cams(read_cams(simulated(7.0, seed=seed), _CHANNELS), good, "g")
        interval = shift_of(found).later_deg
        held += interval.low <= 7.0 <= interval.high
    assert held >= 7


def test_swapped_crank_leads_are_named_where_all_cams_seem_to_move_by_half_a_tooth():
    channels = replace(_CHANNELS, wheel=ToothWheel.parse("36-1"))
    waveform = simulated(recorder=CamRecorder(teeth=36, gaps=(1,)))
    crank = waveform.channel(CRANK_CHANNEL)
    turned = replace(crank, values=5.0 - crank.values)
    swapped = replace(waveform, channels=(turned, *waveform.channels[1:]))
    good = read_cams(waveform, channels)
    figures = beside_good_cams(read_cams(swapped, channels), good, "g")
    assert figures.moved == "all"
    assert abs(shift_of(figures).later_deg.value) == pytest.approx(5.0, abs=0.7)
    assert len(list(moved_words(figures))) == 3


def test_wheel_with_an_additional_tooth_has_its_mark_there():
    time_s = np.arange(0.0, 4.0, 1e-4)
    angle_deg = np.cumsum(np.full(time_s.size, 1500.0)) * 1e-4
    places = [p * 30.0 for p in range(12)] + [105.0]
    high = np.any([(angle_deg - at) % 360.0 < 6.0 for at in places], axis=0)
    cam = (angle_deg - 100.0) % 720.0 < 50.0
    channels = tuple(
        Channel(name, "V", (5.0 * values).astype(np.float32))
        for name, values in ((CRANK_CHANNEL, high), ("cam 1", cam))
    )
    waveform = Waveform(0.0, 10_000.0, channels)
    figures = read_cams(
        waveform, CamChannels(CRANK_CHANNEL, (CamChannel("cam 1"),), ToothWheel.parse("12+1"))
    ).figures()
    # the tooth at 105 stands between 90 and 120, which is the mark
    angles = {edge.side: edge.angle.value % 360.0 for edge in figures.cams[0].edges}
    assert angles["rising"] == pytest.approx(340.0, abs=1.0)


def test_edges_are_counted_from_the_tooth_after_the_gap():
    cam = SimulatedCam("cam 1", ((130.0, 50.0),))
    recorder = CamRecorder(chain_deg=0.0, spacing_deg=0.0, first_deg=100.0)
    figures = read_cams(simulated(cam=cam, recorder=recorder), _CHANNELS).figures("rising")
    assert {edge.side: round(edge.angle.value % 360.0) for edge in figures.cams[0].edges} == {
        "rising": 30,
        "falling": 80,
    }
    assert figures.cams[0].edges[0].after_teeth == pytest.approx(5.0, abs=0.1)


def _without_gap():
    return simulated(recorder=CamRecorder(gaps=()))


def _noise():
    waveform = simulated()
    rng = np.random.default_rng(5)
    noise = np.repeat(rng.integers(0, 2, waveform.samples // 900 + 1), 900)[: waveform.samples]
    channel = Channel("cam 1", "V", (5.0 * noise).astype(np.float32))
    return replace(waveform, channels=(waveform.channels[0], channel))


def _flat():
    waveform = simulated()
    flat = Channel("cam 1", "V", np.zeros(waveform.samples, dtype=np.float32))
    return replace(waveform, channels=(waveform.channels[0], flat))


@pytest.mark.parametrize(
    ("waveform", "channels", "trouble"),
    [
        (_without_gap, replace(_CHANNELS, wheel=ToothWheel(60, 0)), "no-mark"),
        (lambda: simulated(seconds=1.0), _CHANNELS, "few-cycles"),
        (_noise, _CHANNELS, "no-pattern"),
        (_flat, _CHANNELS, "no-edges"),
        (simulated, replace(_CHANNELS, crank="cam 1"), "wheel"),
        (simulated, replace(_CHANNELS, cams=(CamChannel(CRANK_CHANNEL),)), "many-edges"),
    ],
)
def test_what_shows_no_cam_is_refused_with_its_reason(waveform, channels, trouble):
    with pytest.raises(CamError) as refused:
        read_cams(waveform(), channels)
    assert refused.value.trouble == trouble


def test_another_engine_beside_it_is_refused():
    good = read_cams(simulated(), _CHANNELS)
    other = SimulatedCam("cam 1", ((40.0, 20.0), (200.0, 60.0), (560.0, 30.0)))
    with pytest.raises(CamError) as pattern:
        beside_good_cams(read_cams(simulated(cam=other), _CHANNELS), good, "g")
    assert pattern.value.trouble == "other-pattern"
    with pytest.raises(CamError) as far:
        beside_good_cams(read_cams(simulated(90.0), _CHANNELS), good, "g")
    assert far.value.trouble == "far"
    finer = CamRecorder(teeth=36, gaps=(1,))
    channels = replace(_CHANNELS, wheel=ToothWheel.parse("36-1"))
    with pytest.raises(CamError) as wheel:
        beside_good_cams(read_cams(simulated(recorder=finer), channels), good, "g")
    assert wheel.value.trouble == "other-wheel"


def test_idle_is_not_laid_beside_cranking():
    time_s, angle_deg = course("idling, impulse", 71)
    idle = read_cams(cam_capture(time_s, angle_deg, [_CAM], CamRecorder(), 1), _CHANNELS)
    with pytest.raises(CamError) as refused:
        beside_good_cams(idle, read_cams(simulated(), _CHANNELS), "g")
    assert refused.value.trouble == "other-state"


def test_both_sides_of_the_teeth_stand_half_a_tooth_apart():
    waveform = simulated()
    edges = edge_times_s(waveform, waveform.channel(CRANK_CHANNEL))
    found = crank_angles(edges, ToothWheel.parse("60-2"))
    rising, falling = found["rising"], found["falling"]
    # teeth are half a place wide: the same moment reads three degrees less from their ends
    at = float(rising.at(np.array([2.0]))[0] - falling.at(np.array([2.0]))[0])
    assert at % 360.0 == pytest.approx(3.0, abs=0.5)


@pytest.mark.parametrize(
    "entered",
    [
        {"sprocket_teeth": 5},
        {"cams": (CamChannel("a"), CamChannel("a"))},
        {"cams": (CamChannel("a", 3),)},
        {"cams": tuple(CamChannel(str(i)) for i in range(9))},
    ],
)
def test_set_up_that_makes_no_sense_is_refused(entered):
    with pytest.raises(SetupError):
        CamSetup(**entered)


def test_command_prints_the_figures(real, capsys):
    path = real / _TWO_CAMS
    told = ("--crank", "crank", "--cam", "cam=1-intake", "--cam", "Channel 2=2-intake")
    call_command("cams", path, *told, "--firing-order", "1-2-3-4-5-6", "--json")
    result = json.loads(capsys.readouterr().out)
    assert result["schema"] == 1
    assert [cam["bank"] for cam in result["cams"]] == [1, 2]
    assert {cam["valves"] for cam in result["cams"]} == {"intake"}
    call_command("cams", path, *told, "--wheel", "36-2-2-2", "--known-good", path)
    assert "in-place" in capsys.readouterr().out


@pytest.mark.parametrize(
    "told",
    [
        ("--crank", "nothing", "--cam", "cam"),
        ("--crank", "crank", "--cam", "cam=4-intake"),
        ("--crank", "crank", "--cam", "cam", "--wheel", "round"),
        ("--crank", "crank", "--cam", "cam"),
    ],
)
def test_command_refuses_in_a_sentence(real, told, capsys):
    with pytest.raises(SystemExit) as refused:
        call_command("cams", real / _TWO_CAMS, *told)
    assert refused.value.code == 2
    assert capsys.readouterr().err.strip().endswith(".")
