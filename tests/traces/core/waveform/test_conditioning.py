"""Volts to amps, sign, filter and grid."""

import numpy as np
import pytest
from scipy import integrate, signal

from engines.core.firing import FiringOrder
from traces.core.crank.cranking import find_crank
from traces.core.humps.humps import load_current
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.core.waveform.conditioning import GRID_HZ, amps_per_unit, condition
from traces.core.waveform.waveform import Channel, Waveform


def _setup(**changes) -> AnalysisSetup:
    values = {
        "firing_order": FiringOrder.parse("1-3-4-2"),
        "current_channel": "clamp",
        "mv_per_a": 10,
    }
    return AnalysisSetup(**{**values, **changes})


def _conditioned(values, rate_hz: float = 2000.0, unit: str | None = "V", **changes):
    channel = Channel("clamp", unit, np.asarray(values, dtype=np.float32))
    return condition(Waveform(0.0, rate_hz, (channel,)), channel, _setup(**changes))


@pytest.mark.parametrize(
    ("unit", "mv_per_a", "full_scale_v", "factor", "known"),
    # common practice: 10 mV/A makes 1 V = 100 A; the others follow by arithmetic
    [
        ("V", 10.0, None, 100.0, True),
        ("V", 1.0, None, 1000.0, True),
        ("mV", 10.0, None, 0.1, True),
        ("A", 10.0, None, 1.0, True),
        (None, 10.0, 5.0, 500.0, True),
        (None, 10.0, None, 100.0, False),
    ],
)
def test_amps_by_unit_and_scale(unit, mv_per_a, full_scale_v, factor, known) -> None:
    channel = Channel("clamp", unit, np.zeros(3, dtype=np.float32))
    setup = _setup(mv_per_a=mv_per_a, full_scale_v=full_scale_v)
    found, is_known = amps_per_unit(channel, setup)
    assert found == pytest.approx(factor)
    assert is_known == known


def test_humps_pass_and_mains_hum_does_not() -> None:
    time_s = np.arange(8000) / 2000
    hump = np.sin(2 * np.pi * 10 * time_s)  # six cylinders at 200 rpm: n x rpm / 120
    hum = 0.5 * np.sin(2 * np.pi * 300 * time_s)
    found = _conditioned(2 + hump + hum)
    wanted = 100 * (2 + np.sin(2 * np.pi * 10 * (found.times_s - found.t0_s)))
    inner = slice(100, -100)
    assert np.abs(found.current_a[inner] - wanted[inner]).max() < 1.5


def test_noise_is_measured() -> None:
    rng = np.random.default_rng(4)
    quiet, loud = (_conditioned(1.5 + rng.normal(0, v, 8000)).noise_a for v in (0.02, 0.04))
    assert loud / quiet == pytest.approx(2.0, rel=0.1)
    # the filter against spikes keeps about half of white noise
    assert 0.3 * 4.0 < loud < 4.0


def test_no_delay_against_scipys_own_zero_phase_filter() -> None:
    rng = np.random.default_rng(3)
    raw = 1.5 + np.cumsum(rng.normal(0, 0.01, 4000))
    found = _conditioned(raw, rate_hz=500.0)
    sections = signal.butter(4, 60.0, fs=500.0, output="sos")
    wanted = 100 * signal.sosfiltfilt(sections, raw)
    inner = slice(200, -200)
    # the median filter against spikes is the only difference
    off = found.current_a[inner] * np.sign(found.current_a.mean()) - wanted[inner]
    assert np.sqrt(np.mean(off**2)) < 0.05 * wanted[inner].std()


@pytest.mark.parametrize("rate_hz", [400.0, 1000.0, 44_100.0, 250_000.0])
def test_any_rate_comes_out_on_the_same_grid(rate_hz: float) -> None:
    time_s = np.arange(round(2 * rate_hz)) / rate_hz
    found = _conditioned(1.5 + 0.5 * np.sin(2 * np.pi * 7 * time_s), rate_hz=rate_hz)
    assert found.rate_hz == GRID_HZ
    assert found.current_a.size == pytest.approx(1000, abs=2)
    wanted = 100 * (1.5 + 0.5 * np.sin(2 * np.pi * 7 * found.times_s))
    assert np.abs(found.current_a - wanted)[50:-50].max() < 0.5


def test_arrays_cannot_be_written() -> None:
    found = _conditioned(np.ones(500))
    with pytest.raises(ValueError, match="read-only"):
        found.current_a[0] = 1.0


def test_short_gaps_are_bridged_and_counted() -> None:
    values = np.full(2000, 1.5)
    values[500:520] = np.nan
    found = _conditioned(values)
    assert found.missing_share == pytest.approx(0.01)
    assert found.longest_gap_s == pytest.approx(0.01)
    assert np.abs(found.current_a - 150.0).max() < 1e-3


def test_spikes_of_the_ignition_leave_no_trace() -> None:
    values = np.full(2000, 1.5)
    values[::250] = 9.0
    assert np.abs(_conditioned(values).current_a - 150.0).max() < 1e-3


@pytest.mark.parametrize("inverted", [False, True])
@pytest.mark.parametrize("cranked_share", [0.25, 0.6, 1.0])
def test_the_sign_follows_from_the_data(inverted: bool, cranked_share: float) -> None:
    time_s = np.arange(8000) / 2000
    current = np.where(time_s > 4 * (1 - cranked_share), 1.6 + 0.6 * np.sin(40 * time_s), 0.02)
    found = _conditioned(-current if inverted else current)
    assert found.inverted == inverted
    assert found.current_a[-200:].mean() > 0


def test_the_crank_is_found_with_rest_inrush_and_end() -> None:
    time_s = np.arange(10_000) / 2000
    level = 160 + 60 * np.sin(2 * np.pi * 7 * time_s)
    inrush = 500 * np.exp(-(time_s - 1.0) / 0.06)
    current = np.where((time_s >= 1.0) & (time_s < 4.0), level + inrush, 3.0)
    span = find_crank(_conditioned(current / 100))
    assert span is not None
    assert span.from_s == pytest.approx(1.0, abs=0.03)
    assert span.to_s == pytest.approx(4.0, abs=0.08)
    assert (span.start_seen, span.end_seen, span.ran_on) == (True, True, False)
    assert span.rest_a == pytest.approx(3.0, abs=0.5)
    assert span.level_a == pytest.approx(157, rel=0.05)
    assert span.inrush_peak_a == pytest.approx(600, rel=0.12)


@pytest.mark.parametrize("inverted", [False, True])
@pytest.mark.parametrize("rest_s", [10.0, 40.0, 100.0, 400.0])
def test_a_crank_is_found_however_long_the_rest(rest_s: float, inverted: bool) -> None:
    time_s = np.arange(round((rest_s + 4.0) * 2000)) / 2000 - rest_s
    level = 160 + 60 * np.sin(2 * np.pi * 7 * time_s)
    current = np.where((time_s >= 0) & (time_s < 3.0), level, 3.0)
    current += 2.0 * np.random.default_rng(9).standard_normal(current.size)
    conditioned = _conditioned(-current / 100 if inverted else current / 100)
    assert conditioned.inverted == inverted
    span = find_crank(conditioned)
    assert span is not None
    assert span.from_s == pytest.approx(rest_s, abs=0.03)
    assert span.to_s == pytest.approx(rest_s + 3.0, abs=0.08)
    assert span.level_a == pytest.approx(157, rel=0.05)


def test_a_capture_that_begins_in_mid_crank_has_no_inrush() -> None:
    time_s = np.arange(6000) / 2000
    span = find_crank(_conditioned(1.6 + 0.6 * np.sin(44 * time_s)))
    assert span is not None
    assert (span.start_seen, span.rest_a, span.inrush_peak_a) == (False, None, None)


def test_load_current_undoes_a_motors_lag() -> None:
    # tau dI/dt + I = load, integrated by SciPy, read back by the load formula
    def load(time_s):
        return 150 + 80 * np.sin(2 * np.pi * 7 * time_s) ** 3

    time_s = np.arange(2000) / 500
    tau_s = 0.030
    solved = integrate.solve_ivp(
        lambda t, i: (load(t) - i) / tau_s, (0, 4), [150.0], t_eval=time_s, rtol=1e-8, atol=1e-8
    )
    found = load_current(solved.y[0], 500.0)
    assert np.abs(found - load(time_s))[100:-100].max() < 3.0
