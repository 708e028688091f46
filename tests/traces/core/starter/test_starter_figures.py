"""Starter and battery figures against circuits whose figures are set."""

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.traces.core.starter.circuit import Circuit, figures_of, starter_of
from traces.core.judging.pipeline import analyse
from traces.core.report.results import Report
from traces.core.report.starter_figures import FIGURES, StarterFigures
from traces.core.setup.analysis_setup import SAME_VOLTAGE_CHANNEL, SetupError
from traces.core.waveform.waveform import Channel, Waveform


@pytest.mark.parametrize("source_mohm", [3.0, 6.0, 12.0])
@pytest.mark.parametrize("sync", [True, False])
def test_ohms_law_gives_the_source_back(source_mohm, sync):
    changes: dict[str, Any] = {} if sync else {"sync": None}
    found = figures_of(Circuit(source_mohm=source_mohm), **changes)
    assert found.ripple_resistance_mohm == pytest.approx(source_mohm, rel=0.01)
    assert found.inrush_resistance_mohm == pytest.approx(source_mohm, rel=0.01)
    assert found.steady_resistance_mohm == pytest.approx(source_mohm, rel=0.01)
    assert abs(found.ripple_resistance_mohm - source_mohm) < 3 * found.ripple_resistance_error_mohm
    assert found.ripple_resistance_error_mohm < 0.03 * source_mohm
    assert "inrush_resistance_mohm" not in found.limited


def test_a_battery_that_polarises_parts_the_whole_drop_from_the_slopes():
    found = figures_of(Circuit(source_mohm=5.0, polarisation_mohm=4.0))
    assert found.ripple_resistance_mohm == pytest.approx(5.0, rel=0.02)
    assert found.steady_resistance_mohm == pytest.approx(9.0, rel=0.03)
    assert "polarisation" in str(found.limited["steady_resistance_mohm"])


def test_a_battery_that_polarises_at_once_parts_inrush_and_ripple():
    circuit = Circuit(source_mohm=4.0, polarisation_mohm=6.0, polarisation_s=0.03)
    found = figures_of(circuit)
    assert found.inrush_resistance_mohm > 1.15 * found.ripple_resistance_mohm
    assert "disagree" in str(found.limited["inrush_resistance_mohm"])


def test_a_clamp_past_its_range_in_the_inrush_does_not_turn_the_slope():
    # a core that saturates softly has no flat top; the voltage falls on
    circuit = Circuit()
    waveform = circuit.waveform()
    amps = waveform.channels[0].values * 100.0
    bent = amps / (1 + (np.abs(amps) / 420.0) ** 6) ** (1 / 6)
    channels = (Channel("clamp", "V", (bent / 100).astype(np.float32)), *waveform.channels[1:])
    found = starter_of(replace(waveform, channels=channels), circuit.setup())
    assert found.inrush_resistance_mohm == pytest.approx(6.0, rel=0.05)


def test_current_voltage_and_speed_of_a_circuit():
    circuit = Circuit(recovered_v=0.15)
    found = figures_of(circuit)
    assert found.start_s == pytest.approx(0.5, abs=0.002)
    assert found.inrush_peak_a == pytest.approx(circuit.current_a().max(), rel=0.005)
    # the rise of 4 ms and the fall of 60 ms meet where their slopes do
    assert found.inrush_at_s - 0.5 == pytest.approx(
        np.log(60 / 4) / (1 / 0.004 - 1 / 0.06), abs=0.002
    )
    assert found.mean_current_a == pytest.approx(160.0, rel=0.005)
    assert found.cranking_rpm == pytest.approx(220.0, rel=0.002)
    assert found.whole_cycles == 7
    assert abs(found.trend_rpm_per_s) < 0.5
    assert found.rest_v == pytest.approx(12.6, abs=0.005)
    assert found.mean_cranking_v == pytest.approx(12.6 - 0.96, abs=0.005)
    assert found.inrush_minimum_v == pytest.approx(circuit.voltage_v().min(), abs=0.03)
    assert found.recovered_v == pytest.approx(12.45, abs=0.005)
    assert found.open_circuit_drop_v == pytest.approx(0.15, abs=0.005)
    assert 0.1 < found.run_up_s < 0.4
    assert found.not_known == {}


def test_a_longer_inrush_takes_longer_to_run_up():
    slow = Circuit(inrush_a=1200.0)
    assert figures_of(slow).run_up_s > figures_of(Circuit(inrush_a=300.0)).run_up_s


def test_a_volt_is_a_hundred_amps_at_ten_millivolts_an_amp():
    # common practice: the scale printed on the clamp
    circuit = Circuit(mean_a=100.0, ripple_a=30.0, inrush_a=400.0, mv_per_a=10.0)
    clamp_v = circuit.waveform().channels[0].values
    cranking = (circuit.time_s > 1.5) & (circuit.time_s < 5.0)
    assert clamp_v[cranking].mean() == pytest.approx(1.0, abs=0.02)
    assert figures_of(circuit).mean_current_a == pytest.approx(100.0, rel=0.01)


@pytest.mark.parametrize(
    ("order", "rpm"), [("1-3-4-2", 200.0), ("1-5-3-6-2-4", 180.0), ("1-8-4-3-6-5-7-2", 240.0)]
)
def test_the_speed_is_that_of_the_humps(order, rpm):
    # humps come at n x rpm / 120 (arithmetic: n compressions in two turns)
    circuit = Circuit(order=order, rpm=rpm)
    count = len(circuit.setup().firing_order)
    current = circuit.current_a()[(circuit.time_s > 1.5) & (circuit.time_s < 5.5)]
    spectrum = np.abs(np.fft.rfft(current - current.mean()))
    hump_hz = np.argmax(spectrum) * circuit.rate_hz / current.size
    assert hump_hz == pytest.approx(count * rpm / 120.0, abs=0.3)
    assert figures_of(circuit, sync=None).cranking_rpm == pytest.approx(rpm, rel=0.003)


@pytest.mark.parametrize("rpm_per_s", [-9.0, -4.0, 5.0])
@pytest.mark.parametrize("sync", [True, False])
def test_a_speed_that_changes_is_seen_to(rpm_per_s, sync):
    changes: dict[str, Any] = {} if sync else {"sync": None}
    found = figures_of(Circuit(rpm=230.0, rpm_per_s=rpm_per_s), **changes)
    assert found.trend_rpm_per_s == pytest.approx(rpm_per_s, abs=0.6)
    assert found.trend_low_rpm_per_s - 0.3 < rpm_per_s < found.trend_high_rpm_per_s + 0.3


def test_a_speed_that_falls_asks_for_battery_and_starter():
    found = figures_of(Circuit(rpm=230.0, rpm_per_s=-14.0))
    note = next(n for n in found.notes if n.figure == "trend_rpm_per_s")
    assert note.lies == "below"
    assert "battery" in str(note.remedy)
    steady = figures_of(Circuit(rpm=230.0))
    assert not [n for n in steady.notes if n.figure == "trend_rpm_per_s"]


def test_the_starting_profile_of_iso_16750_2_gives_its_levels():
    """Level I: from 12 V to 8 V in 5 ms, 15 ms there, to 10.5 V in 50 ms, ripple of 2 Hz.

    ISO 16750-2, starting profile. The current that goes with it is that of a 6 milliohm source.
    """
    rate_hz = 10_000.0
    time_s = np.arange(round(2.2 * rate_hz)) / rate_hz
    ends_s = np.cumsum([0.4, 0.005, 0.015, 0.050, 1.0, 0.040])
    volts = np.interp(time_s, ends_s, [12.0, 8.0, 8.0, 10.5, 10.5, 12.0])
    held = (time_s > ends_s[3]) & (time_s < ends_s[4])
    volts += np.where(held, 0.1 * np.sin(2 * np.pi * 2.0 * (time_s - ends_s[3])), 0.0)
    clamp_v = (12.0 - volts) / 0.006 / 100.0
    channels = (
        Channel("clamp", "V", clamp_v.astype(np.float32)),
        Channel("battery", "V", volts.astype(np.float32)),
    )
    setup = Circuit().setup(sync=None, voltage_channel="battery")
    found = starter_of(Waveform(0.0, rate_hz, channels), setup)
    assert analyse(Waveform(0.0, rate_hz, channels), setup).verdict == "not judged"
    assert found.rest_v == pytest.approx(12.0, abs=0.01)
    assert found.inrush_minimum_v == pytest.approx(8.0, abs=0.01)
    assert found.mean_cranking_v == pytest.approx(10.5, abs=0.1)
    assert found.recovered_v == pytest.approx(12.0, abs=0.01)
    assert found.inrush_peak_a == pytest.approx(4.0 / 0.006, rel=0.01)
    # The standard has deeper levels than this one: 8 V is no lower bound to compare with.
    assert "inrush_minimum_v" not in {n.figure for n in found.notes}


def test_the_points_of_a_starters_data_sheet_come_back():
    """A 1.4 kW starter: locked 780 A at 4 V, loaded 300 A at 7.7 V (a maker's data sheet, weak).

    The supply of that sheet between the two: (7.7 - 4) V / 480 A = 7.7 milliohm.
    """
    supply_mohm = 1000 * (7.7 - 4.0) / (780 - 300)
    circuit = Circuit(
        inrush_a=780.0,
        mean_a=300.0,
        source_mohm=supply_mohm,
        emf_v=7.7 + 300 * supply_mohm / 1000,
        recovered_v=0.0,
    )
    found = figures_of(circuit)
    assert found.inrush_peak_a == pytest.approx(780.0, rel=0.015)
    assert found.inrush_minimum_v == pytest.approx(4.0, abs=0.1)
    assert found.mean_current_a == pytest.approx(300.0, rel=0.005)
    assert found.mean_cranking_v == pytest.approx(7.7, abs=0.01)
    assert found.inrush_resistance_mohm == pytest.approx(supply_mohm, rel=0.01)
    note = next(n for n in found.notes if n.figure == "ripple_resistance_mohm")
    assert note.lies == "within"


def test_each_figure_has_its_unit_in_its_name_and_survives_json():
    found = figures_of(Circuit(recovered_v=0.1))
    data = json.loads(json.dumps(found.to_json()))
    again = StarterFigures.from_json(data)
    assert again.to_json() == data
    assert all(
        name.endswith(("_s", "_a", "_v", "_rpm", "_mohm")) or name == "whole_cycles"
        for name in FIGURES
    )
    assert data["mean_current_a"] == pytest.approx(160.0, rel=0.005)
    assert set(FIGURES) | {"not_known", "limited", "notes"} == set(data)


def test_a_result_of_an_older_version_has_no_starter_figures():
    circuit = Circuit()
    data = analyse(circuit.waveform(), circuit.setup()).to_json()
    assert data["starter"]["cranking_rpm"] == pytest.approx(220.0, rel=0.002)
    del data["starter"]
    assert Report.from_json(data).starter is None


def test_every_figure_that_is_null_says_why():
    for cut, changes in (
        (slice(None), {"voltage_channel": None}),
        (slice(5000, None), {}),
        (slice(0, 4500), {}),
        (slice(None), {"mv_per_a": 100.0}),
    ):
        data = figures_of(Circuit(), cut, **changes).to_json()
        assert [n for n in FIGURES if data[n] is None and n not in data["not_known"]] == []
        assert [n for n in FIGURES if data[n] is not None and n in data["not_known"]] == []


@pytest.mark.parametrize("name", ["clamp", "1", "coil"])
def test_the_batterys_channel_is_neither_clamp_nor_sync(name):
    circuit = Circuit()
    with pytest.raises(SetupError, match=str(SAME_VOLTAGE_CHANNEL)):
        analyse(circuit.waveform(), circuit.setup(voltage_channel=name))


def test_a_channel_that_is_not_there_is_said():
    circuit = Circuit()
    with pytest.raises(SetupError, match="no channel “Z”"):
        analyse(circuit.waveform(), circuit.setup(voltage_channel="Z"))
