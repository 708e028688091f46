"""Battery voltage: sag is the current's mirror image, and what is judged from it."""

from dataclasses import replace

import numpy as np
import pytest

from engines.core.firing import FiringOrder
from tests.traces.core.signals.measured import measured
from tests.wording import says
from traces.core.analysis.any_signal import judge
from traces.core.setup.analysis_setup import AnalysisSetup, SetupError, SyncSetup
from traces.core.signals.sag import REST_V, sag_of
from traces.core.waveform.waveform import Channel, Waveform
from traces.simulator.other_signals import voltage_capture
from traces.simulator.voltage_log import VoltageLog

FOUR = FiringOrder.parse("1-3-4-2")
SETUP = AnalysisSetup(FOUR, "V", 1000.0, signal="battery-voltage")
BENCH = VoltageLog(rate_hz=2000.0, bits=12, noise_v=0.005)
CONTROL_UNIT = VoltageLog(rate_hz=500.0, bits=10, noise_v=0.02)


def crank_a(time_s, *, from_s=0.5, to_s=3.5, hump_hz=8.0):
    """Return a starter's current: rest, crank with humps, rest."""
    cranking = (time_s >= from_s) & (time_s < to_s)
    return np.where(cranking, 150.0 + 60.0 * np.sin(2 * np.pi * hump_hz * time_s), 0.0)


def recording(volts, rate_hz=2000.0, unit="V") -> Waveform:
    return Waveform(0.0, rate_hz, (Channel("V", unit, volts.astype(np.float32)),))


def sag_a(volts, *, per_ohm, unit="V", rate_hz=2000.0):
    """Return what is made of a voltage, in amperes through a known resistance."""
    whole = recording(volts, rate_hz, unit)
    sag = sag_of(whole, whole.channel("V"), SETUP)
    return sag.waveform.channel("V").values / sag.per_volt / per_ohm, sag


class TestSag:
    """U = E - R i (a battery's source resistance, any textbook) turned round."""

    time_s = np.arange(0, 4, 1 / 2000)

    @pytest.mark.parametrize("ohm", [0.004, 0.008])
    def test_it_is_the_current_through_the_source_resistance(self, ohm: float) -> None:
        current_a = crank_a(self.time_s)
        found_a, sag = sag_a(12.6 - ohm * current_a, per_ohm=ohm)
        inner = (self.time_s > 0.6) & (self.time_s < 3.4)
        assert sag.rest_seen
        assert found_a[inner] == pytest.approx(current_a[inner], abs=1.0)

    def test_millivolts_are_volts(self) -> None:
        current_a = crank_a(self.time_s)
        found_a, _ = sag_a(1000 * (12.6 - 0.006 * current_a), per_ohm=0.006, unit="mV")
        inner = (self.time_s > 0.6) & (self.time_s < 3.4)
        assert found_a[inner] == pytest.approx(current_a[inner], abs=1.0)

    def test_a_battery_that_has_not_recovered_draws_no_current_after_the_crank(self) -> None:
        # charge and surface charge go in the crank: half a volt is missing at its end
        lost_v = 0.5 * np.clip((self.time_s - 0.5) / 3.0, 0, 1)
        volts = 12.8 - lost_v - 0.006 * crank_a(self.time_s)
        found_a, _ = sag_a(volts, per_ohm=0.006)
        assert found_a[self.time_s > 3.6] == pytest.approx(0.0, abs=1.0)
        late = (self.time_s > 3.0) & (self.time_s < 3.4)
        assert found_a[late].mean() == pytest.approx(150.0, abs=8.0)

    def test_without_a_rest_a_usual_one_is_taken(self) -> None:
        late = self.time_s[(self.time_s > 1.0) & (self.time_s < 3.0)]
        _, sag = sag_a(REST_V - 0.006 * crank_a(late), per_ohm=0.006)
        assert not sag.rest_seen
        assert sag.baseline_v == pytest.approx(REST_V)

    def test_twenty_four_volts_keep_the_usual_range(self) -> None:
        volts = 25.0 - 0.012 * crank_a(self.time_s)
        whole = recording(volts)
        sag = sag_of(whole, whole.channel("V"), SETUP)
        cranking = sag.waveform.channel("V").values[2000:6000]
        assert 30 < cranking.mean() < 300

    def test_ripple_is_measured_against_sag_and_voltage(self) -> None:
        _, sag = sag_a(12.6 - 0.006 * crank_a(self.time_s), per_ohm=0.006)
        assert sag.ripple is not None
        # a sine's standard deviation is its amplitude over root two
        assert sag.ripple.of_sag == pytest.approx(60 / 150 / np.sqrt(2), rel=0.15)
        assert sag.ripple.of_voltage == pytest.approx(0.006 * 60 / 11.7 / np.sqrt(2), rel=0.15)


class TestMeasured:
    """Logs of a control unit; what they must show stands in the README beside them."""

    def setup(self, *, bit: int | None = 0) -> AnalysisSetup:
        sync = None if bit is None else SyncSetup("Injectors", bit + 1, "injector", bit=bit)
        return replace(SETUP, current_channel="VBatt", sync=sync)

    @pytest.mark.parametrize("bit", [0, 1, 2, 3, None])
    def test_with_plugs_in_it_is_never_uneven_and_the_speed_is_right(self, real, bit) -> None:
        waveform = measured(real / "i4-battery-voltage-plugs-in.csv")
        report = judge(waveform, self.setup(bit=bit))
        assert report.verdict != "uneven"
        if report.verdict == "not judged":
            assert [f.code for f in report.findings if f.severity == "stop"] == ["too-short"]
        assert report.cranking_rpm == pytest.approx(316, abs=6)

    def test_about_twelve_compressions_show(self, real) -> None:
        waveform = measured(real / "i4-battery-voltage-plugs-in.csv")
        report = judge(waveform, self.setup())
        sag = sag_of(waveform, waveform.channel("VBatt"), SETUP)
        volts = sag.waveform.channel("VBatt").values
        times_s = sag.waveform.t0_s + np.arange(volts.size) / sag.waveform.rate_hz
        cranking_s = times_s[volts > 0.3 * np.median(volts)]
        assert report.cranking_rpm
        # n x rpm / 120 humps a second (arithmetic)
        humps = np.ptp(cranking_s) * 4 * report.cranking_rpm / 120
        assert humps == pytest.approx(12, abs=2.5)

    @pytest.mark.parametrize("bit", [0, None])
    def test_with_plugs_out_there_is_no_compression_and_no_cylinder(self, real, bit) -> None:
        waveform = measured(real / "i4-battery-voltage-plugs-out.csv")
        report = judge(waveform, self.setup(bit=bit))
        assert report.verdict == "not judged"
        assert [f.code for f in report.findings if f.severity == "stop"] == ["no-compression"]
        assert (report.estimates, report.candidates) == ((), ())


class TestJudged:
    @pytest.mark.parametrize("log", [BENCH, CONTROL_UNIT])
    def test_a_sound_engine_is_even(self, cranked, log: VoltageLog) -> None:
        waveform, setup = voltage_capture(cranked(81, "I4", "none"), log)
        report = judge(waveform, setup)
        assert report.verdict == "even", report.findings
        assert report.method == "voltage"

    @pytest.mark.parametrize("log", [BENCH, CONTROL_UNIT])
    @pytest.mark.parametrize("family", ["a", "b"])
    def test_a_dead_cylinder_is_named(self, cranked, log: VoltageLog, family: str) -> None:
        simulated = cranked(82, "I4", "dead", family=family)
        waveform, setup = voltage_capture(simulated, log)
        report = judge(waveform, setup)
        assert report.verdict == "uneven", report.findings
        assert report.candidates == (simulated.truth.low,)

    def test_its_lower_trust_is_said_and_no_ampere_is(self, cranked) -> None:
        waveform, setup = voltage_capture(cranked(82, "I4", "dead"), BENCH)
        report = judge(waveform, setup)
        trust = [f for f in report.findings if f.code == "lower-trust"]
        assert [f.severity for f in trust] == ["warn"]
        assert "trusted less" in trust[0].message
        if report.starter is not None:
            figures = report.starter.to_json()
            assert [k for k, v in figures.items() if k.endswith(("_a", "_mohm")) and v] == []
        said = " ".join(f.message + f.remedy for f in report.findings)
        assert " A " not in said
        assert "clamp reads" not in said
        # humps are told in volts of the battery
        assert all(5.0 < h.current_a < 13.5 for h in report.humps)
        assert all(-1.0 < h.height_a < 6.0 for h in report.humps)

    def test_intervals_are_wider_than_those_of_the_current(self, cranked) -> None:
        simulated = cranked(81, "I4", "none")
        waveform, setup = voltage_capture(simulated, BENCH)
        by_voltage = judge(waveform, setup)
        by_current = judge(simulated.waveform, simulated.scenario.setup())

        def mean_width(report):
            return np.mean([e.high - e.low for e in report.estimates])

        assert mean_width(by_voltage) > mean_width(by_current)

    def test_a_recording_that_begins_in_mid_crank_says_what_was_assumed(self, cranked) -> None:
        waveform, setup = voltage_capture(cranked(81, "I4", "none"), BENCH)
        first = int(1.5 * waveform.rate_hz)
        cut = tuple(replace(c, values=c.values[first:]) for c in waveform.channels)
        report = judge(replace(waveform, channels=cut), setup)
        assert report.verdict != "uneven"
        assert "rest-assumed" in {f.code for f in report.findings}

    @pytest.mark.parametrize("flaw", ["no-compression", "engine-catches", "too-short"])
    def test_a_crank_that_cannot_be_judged_is_not(self, cranked, flaw: str) -> None:
        waveform, setup = voltage_capture(cranked(84, "I4", "none", flaw=flaw), BENCH)
        report = judge(waveform, setup)
        assert report.verdict == "not judged"
        stops = {f.code for f in report.findings if f.severity == "stop"}
        wanted = {
            "no-compression": {"no-compression"},
            "engine-catches": {"engine-caught", "too-short", "unsteady"},
            "too-short": {"too-short"},
        }
        assert stops & wanted[flaw]

    def test_a_channel_without_sag_is_no_battery(self) -> None:
        rng = np.random.default_rng(3)
        volts = 12.5 + rng.normal(0, 0.01, 8000)
        report = judge(recording(volts), SETUP)
        assert report.verdict == "not judged"
        stop = [f for f in report.findings if f.severity == "stop"]
        assert {f.code for f in stop} == {"no-signal"}
        assert "battery voltage" in stop[0].message

    def test_channels_that_are_not_there_or_the_same_are_told(self, cranked) -> None:
        waveform, setup = voltage_capture(cranked(81, "I4", "none"), BENCH)
        with pytest.raises(SetupError, match="There is no channel"):
            judge(waveform, replace(setup, current_channel="Nowhere"))
        with pytest.raises(SetupError) as refused:
            judge(waveform, replace(setup, current_channel="2"))
        assert says(refused.value, "analysis_setup.clamp-sync-cannot-same")

    def test_the_same_capture_gives_the_same_digits(self, cranked) -> None:
        waveform, setup = voltage_capture(cranked(82, "I4", "dead"), BENCH)
        assert judge(waveform, setup) == judge(waveform, setup)
