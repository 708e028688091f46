"""When a signal crosses its middle: between samples, and not in noise."""

import numpy as np
import pytest

from tests.traces.core.signals.teeth import COIL, SWITCH
from traces.core.setup.analysis_setup import ToothWheel
from traces.core.signals.edges import edge_times_s
from traces.core.signals.wheel import clearest_track
from traces.core.waveform.waveform import Channel, Waveform
from traces.simulator.other_signals import tooth_capture


class TestEdges:
    @pytest.mark.parametrize("rate_hz", [20_000.0, 100_000.0])
    def test_a_coils_zero_is_found_between_samples(self, rate_hz: float) -> None:
        time_s = np.arange(0, 1, 1 / rate_hz)
        # 100 teeth a second: rising zeros at whole hundredths
        volts = (0.5 + time_s) * np.sin(2 * np.pi * 100 * time_s)
        waveform = Waveform(0.0, rate_hz, (Channel("teeth", "V", volts.astype(np.float32)),))
        rising, _ = edge_times_s(waveform, waveform.channel("teeth"))
        at = np.round(rising * 100) / 100
        # a swing that grows moves the middle between its ends by a thousandth of a tooth
        assert rising == pytest.approx(at, abs=1e-5)
        assert rising.size >= 95

    def test_noise_at_rest_has_no_edges(self) -> None:
        rng = np.random.default_rng(5)
        time_s = np.arange(0, 2, 1e-4)
        volts = np.where(time_s > 1.0, np.sin(2 * np.pi * 80 * time_s), 0.0)
        volts += rng.normal(0, 0.02, volts.size)
        waveform = Waveform(0.0, 1e4, (Channel("teeth", "V", volts.astype(np.float32)),))
        rising, falling = edge_times_s(waveform, waveform.channel("teeth"))
        # the last noise before the first tooth may count as one
        assert np.sort(rising)[1] > 0.98
        assert np.sort(falling)[1] > 0.98

    def test_a_flat_line_has_none(self) -> None:
        waveform = Waveform(0.0, 1e4, (Channel("teeth", "V", np.zeros(1000, dtype=np.float32)),))
        assert [e.size for e in edge_times_s(waveform, waveform.channel("teeth"))] == [0, 0]

    @pytest.mark.parametrize("sensor", [COIL, SWITCH])
    def test_simulated_sensors_give_the_wheel_and_the_speed(self, cranked, sensor) -> None:
        simulated = cranked(81, "I4", "none")
        waveform, _ = tooth_capture(simulated, sensor)
        track = clearest_track(edge_times_s(waveform, waveform.channel("crank")), ToothWheel())
        assert (track.teeth, track.missing) == (sensor.teeth, sum(sensor.gaps))
        middle_s = (track.times_s[1:] + track.times_s[:-1]) / 2
        true = np.interp(
            middle_s, simulated.truth.track.time_s, np.rad2deg(simulated.truth.track.engine_rad_s)
        )
        inner = slice(20, -20)
        off = track.speeds_deg_s[inner] / true[inner] - 1
        assert np.std(off) < 0.03
