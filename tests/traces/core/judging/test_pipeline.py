"""The whole way on traces with a known answer: what changes nothing, and what stops it."""

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.traces.core.synthetic import Crank
from traces.core.humps.humps import HumpMethod
from traces.core.judging.pipeline import analyse
from traces.core.report.results import Report
from traces.core.setup.analysis_setup import SetupError
from traces.core.waveform.waveform import Channel, Waveform

LOW_THREE = Crank(strengths=(1.0, 1.0, 0.5, 1.0))


def _judge(waveform: Waveform, setup) -> Report:
    return analyse(waveform, setup, HumpMethod())


def _with_current(waveform: Waveform, change) -> Waveform:
    first, *others = waveform.channels
    values = np.asarray(change(first.values.astype(np.float64)), dtype=np.float32)
    return replace(waveform, channels=(Channel(first.name, first.unit, values), *others))


def _stops(report: Report) -> set[str]:
    assert report.verdict == "not judged"
    assert report.candidates == ()
    return {f.code for f in report.findings if f.severity == "stop"}


def test_a_weak_cylinder_is_named() -> None:
    report = _judge(LOW_THREE.waveform(), LOW_THREE.setup())
    assert report.verdict == "uneven"
    assert report.candidates == ((3,),)
    # n x rpm / 120 humps a second, and so many in all but the cycles cut off at the ends
    assert report.cranking_rpm == pytest.approx(210.0, rel=0.005)
    assert len(report.humps) >= 4 * report.cycles


def test_humps_are_labelled_in_firing_order_and_time() -> None:
    report = _judge(LOW_THREE.waveform(), LOW_THREE.setup())
    times = [h.at_s for h in report.humps]
    assert times == sorted(times)
    labels = [h.cylinder for h in report.humps]
    order = [1, 3, 4, 2]
    start = order.index(labels[0] or 0)
    assert labels == [order[(start + i) % 4] for i in range(len(labels))]
    weak = np.mean([h.height_a for h in report.humps if h.cylinder == 3])
    sound = np.mean([h.height_a for h in report.humps if h.cylinder != 3])
    assert 0.3 < weak / sound < 0.7


def test_alike_cylinders_are_even() -> None:
    crank = Crank()
    report = _judge(crank.waveform(), crank.setup())
    assert (report.verdict, report.candidates) == ("even", ((),))
    assert all(abs(e.relative - 1) < 0.05 for e in report.estimates)


@pytest.mark.parametrize("order", ["1-2", "1-3-2", "1-2-4-5-3", "1-5-3-6-2-4", "1-8-4-3-6-5-7-2"])
@pytest.mark.parametrize("sync_cylinder", [1, 2])
def test_engines_and_sync_cylinders(order: str, sync_cylinder: int) -> None:
    count = len(order.split("-"))
    strengths = tuple(0.4 if c == count else 1.0 for c in range(1, count + 1))
    crank = Crank(order=order, strengths=strengths, sync_cylinder=sync_cylinder)
    report = _judge(crank.waveform(), crank.setup())
    assert report.candidates == ((count,),), report.findings
    assert report.estimates[0].cylinder == sync_cylinder


@settings(max_examples=15, deadline=None)
@given(
    scale=st.sampled_from([0.1, 1.0, 10.0, 40.0]),
    invert=st.booleans(),
    offset_a=st.floats(-20.0, 20.0),
)
def test_sign_scale_and_offset_leave_relative_figures_alone(scale, invert, offset_a) -> None:
    plain = _judge(LOW_THREE.waveform(), LOW_THREE.setup())
    factor = scale * (-1 if invert else 1)
    changed = _with_current(
        LOW_THREE.waveform(), lambda v: (v + offset_a * LOW_THREE.mv_per_a / 1000) * factor
    )
    report = _judge(changed, LOW_THREE.setup(mv_per_a=LOW_THREE.mv_per_a * scale))
    assert report.inverted == invert
    assert report.candidates == plain.candidates
    for mine, before in zip(report.estimates, plain.estimates, strict=True):
        assert mine.relative == pytest.approx(before.relative, abs=0.01)


def test_a_wrong_scale_is_named_and_changes_nothing_else() -> None:
    report = _judge(LOW_THREE.waveform(), LOW_THREE.setup(mv_per_a=100.0))
    assert "scale-implausible" in {f.code for f in report.findings}
    assert report.candidates == ((3,),)


def test_one_volt_is_a_hundred_amps_at_ten_mv_per_amp() -> None:
    # common practice of the trade: 10 mV/A makes 1 V = 100 A
    crank = Crank(noise_a=0.0)
    report = _judge(crank.waveform(), crank.setup())
    volts = crank.waveform().channels[0].values
    peak = max(h.current_a for h in report.humps)
    assert peak == pytest.approx(100.0 * float(volts.max()), rel=0.03)


@pytest.mark.parametrize("rate_hz", [500.0, 1000.0, 20_000.0, 100_000.0])
def test_the_sample_rate_hardly_matters(rate_hz: float) -> None:
    crank = replace(LOW_THREE, rate_hz=rate_hz)
    report = _judge(crank.waveform(), crank.setup())
    plain = _judge(LOW_THREE.waveform(), LOW_THREE.setup())
    assert report.candidates == ((3,),)
    for mine, before in zip(report.estimates, plain.estimates, strict=True):
        assert mine.relative == pytest.approx(before.relative, abs=0.02)


def test_neighbours_leaking_into_the_pick_up_do_not_move_the_sync() -> None:
    crank = replace(LOW_THREE, leak=0.3)
    assert _judge(crank.waveform(), crank.setup()).candidates == ((3,),)


def test_a_pick_up_that_sees_all_cylinders_alike_is_refused() -> None:
    crank = replace(LOW_THREE, leak=1.0)
    assert "sync-mismatch" in _stops(_judge(crank.waveform(), crank.setup()))


def test_a_pick_up_without_events_leaves_candidates() -> None:
    waveform = LOW_THREE.waveform()
    flat = Channel("coil", "V", np.zeros(waveform.samples, dtype=np.float32))
    bare = replace(waveform, channels=(waveform.channels[0], flat))
    report = _judge(bare, LOW_THREE.setup())
    assert set(report.candidates) == {(1,), (2,), (3,), (4,)}
    assert "sync-missing" in {f.code for f in report.findings}


def test_missing_first_events_do_no_harm() -> None:
    waveform = LOW_THREE.waveform()
    late = waveform.channels[1].values.copy()
    late[: late.size // 3] = 0.0
    some = replace(waveform, channels=(waveform.channels[0], Channel("coil", "V", late)))
    report = _judge(some, LOW_THREE.setup())
    assert report.candidates == ((3,),)
    # cycles before the first event count all the same
    assert report.cycles == _judge(waveform, LOW_THREE.setup()).cycles


def test_an_event_between_two_humps_is_refused() -> None:
    waveform = LOW_THREE.waveform()
    late = np.roll(waveform.channels[1].values, round(90 / (6 * 210) * 2000))
    moved = replace(waveform, channels=(waveform.channels[0], Channel("coil", "V", late)))
    assert "sync-mismatch" in _stops(_judge(moved, LOW_THREE.setup()))


def test_a_switch_as_sync_counts_where_it_leaves_rest() -> None:
    waveform = LOW_THREE.waveform()
    pulses = waveform.channels[1].values > 1.0
    held = np.convolve(pulses, np.ones(100), mode="full")[: pulses.size] > 0
    level = Channel("coil", "V", np.where(held, 0.0, 5.0).astype(np.float32))
    report = _judge(replace(waveform, channels=(waveform.channels[0], level)), LOW_THREE.setup())
    assert report.candidates == ((3,),)


def _caught(crank: Crank) -> Waveform:
    """The engine starts in mid-crank: current falls to what a spinning starter draws."""
    waveform = crank.waveform()
    quiet = np.full(waveform.samples, 0.25 * crank.level_a * crank.mv_per_a / 1000)
    from_idx = round(0.55 * waveform.samples)

    def change(values):
        return np.concatenate((values[:from_idx], quiet[from_idx:]))

    return _with_current(waveform, change)


STOPS = {
    "flat line": (lambda w: _with_current(w, np.zeros_like), "no-signal"),
    "noise only": (
        lambda w: _with_current(w, lambda v: np.random.default_rng(1).normal(0, 0.005, v.size)),
        "no-signal",
    ),
    "only gaps": (lambda w: _with_current(w, lambda v: np.full(v.size, np.nan)), "no-signal"),
    "constant load": (
        lambda w: _with_current(
            w, lambda v: 0.12 + np.random.default_rng(1).normal(0, 0.01, v.size)
        ),
        "wrong-conductor",
    ),
    "no humps": (
        lambda w: _with_current(
            w, lambda v: 1.6 + 0.05 * np.random.default_rng(1).normal(0, 1, v.size)
        ),
        "no-compression",
    ),
    "cut tops": (lambda w: _with_current(w, lambda v: np.minimum(v, 1.9)), "clipped"),
    "short": (
        lambda w: replace(
            w, channels=tuple(Channel(c.name, c.unit, c.values[:2600].copy()) for c in w.channels)
        ),
        "too-short",
    ),
    "very short": (
        lambda w: replace(
            w, channels=tuple(Channel(c.name, c.unit, c.values[:400].copy()) for c in w.channels)
        ),
        "too-short",
    ),
    "slow": (lambda w: replace(w, rate_hz=20.0), "low-rate"),
    "hole": (
        lambda w: _with_current(
            w, lambda v: np.where((np.arange(v.size) // 300) % 9 == 4, np.nan, v)
        ),
        "gaps",
    ),
}


@pytest.mark.parametrize("kind", sorted(STOPS))
def test_poor_captures_are_not_judged_and_say_why(kind: str) -> None:
    spoil, code = STOPS[kind]
    report = _judge(spoil(LOW_THREE.waveform()), LOW_THREE.setup())
    assert code in _stops(report), report.findings
    for found in report.findings:
        assert found.message.endswith(".")
        assert found.remedy.endswith(".")


def test_a_caught_engine_is_named() -> None:
    short = replace(LOW_THREE, duration_s=5.0)
    report = _judge(_caught(short), short.setup())
    assert _stops(report) == {"engine-caught"}


def test_a_long_crank_before_the_engine_catches_is_judged_with_a_warning() -> None:
    crank = replace(LOW_THREE, duration_s=10.0)
    report = _judge(_caught(crank), crank.setup())
    assert report.candidates == ((3,),)
    assert ("engine-caught", "warn") in {(f.code, f.severity) for f in report.findings}
    assert report.judged_to_s is not None
    assert report.judged_to_s < 5.6


def test_the_wrong_sign_entered_is_pointed_out() -> None:
    report = _judge(LOW_THREE.waveform(), LOW_THREE.setup(invert=True))
    assert "inverted" in {f.code for f in report.findings} or report.verdict == "not judged"
    assert report.verdict != "even"


def test_a_channel_that_is_not_there_is_an_error_of_the_set_up() -> None:
    with pytest.raises(SetupError, match="no channel “Z”"):
        _judge(LOW_THREE.waveform(), LOW_THREE.setup(current_channel="Z"))
    with pytest.raises(SetupError, match="same channel"):
        _judge(LOW_THREE.waveform(), LOW_THREE.setup(current_channel="2"))


def test_channels_by_number() -> None:
    report = _judge(LOW_THREE.waveform(), LOW_THREE.setup(current_channel="1"))
    assert report.candidates == ((3,),)


def test_a_report_survives_json() -> None:
    report = _judge(LOW_THREE.waveform(), LOW_THREE.setup())
    data = report.to_json()
    assert Report.from_json(data).to_json() == data


def test_every_call_follows_the_limits() -> None:
    strict = _judge(LOW_THREE.waveform(), LOW_THREE.setup(suspect_below=0.3, watch_below=0.95))
    assert strict.verdict == "even"
    three = next(e for e in strict.estimates if e.cylinder == 3)
    assert three.call == "watch"


@settings(max_examples=10, deadline=None)
@given(
    strengths=st.lists(st.sampled_from([0.3, 0.5, 1.0]), min_size=4, max_size=4).filter(
        lambda s: s.count(1.0) >= 2
    ),
    sync_cylinder=st.integers(1, 4),
)
def test_any_set_of_weak_cylinders_is_found(strengths, sync_cylinder) -> None:
    crank = Crank(strengths=tuple(strengths), sync_cylinder=sync_cylinder)
    low = tuple(c for c, s in enumerate(strengths, start=1) if s < 0.8)
    assert _judge(crank.waveform(), crank.setup()).candidates == (low,)


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    first=st.integers(0, 7000),
    length=st.integers(9, 8000),
    noise_v=st.sampled_from([0.0, 0.05, 2.0]),
    rate_hz=st.sampled_from([40.0, 700.0, 2000.0, 1e6]),
)
def test_whatever_was_recorded_gives_a_report(seed, first, length, noise_v, rate_hz) -> None:
    whole = LOW_THREE.waveform()
    rng = np.random.default_rng(seed)
    channels = []
    for channel in whole.channels:
        values = channel.values[first : first + length].astype(np.float64)
        values += rng.normal(0, noise_v, values.size) if noise_v else 0.0
        values[rng.random(values.size) < 0.002] = np.nan
        channels.append(Channel(channel.name, channel.unit, values.astype(np.float32)))
    report = _judge(Waveform(0.0, rate_hz, tuple(channels)), LOW_THREE.setup())
    stopped = any(f.severity == "stop" for f in report.findings)
    assert stopped == (report.verdict == "not judged")
    json.dumps(report.to_json(), allow_nan=False)
