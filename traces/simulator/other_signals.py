"""A simulated crank as the other signals record it, with the set-up a person would enter."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from traces.core.setup import AnalysisSetup
from traces.core.signal_kinds import BATTERY_VOLTAGE, CRANK_TEETH, Signal
from traces.core.waveform import Channel, Waveform
from traces.simulator.pickup import sync_volts
from traces.simulator.simulate import Simulated
from traces.simulator.tooth_sensor import ToothSensor, draw_sensor, sensor_volts
from traces.simulator.voltage_log import VoltageLog, draw_log, log_voltage, sample_times_s

_PICK_UP_HZ = 2000.0
"""Slower logs cannot show a pick-up's pulses; they hold the event as a bit that stays on."""

_EVENT_LASTS_S = 8e-3


def voltage_capture(simulated: Simulated, log: VoltageLog) -> tuple[Waveform, AnalysisSetup]:
    """Return battery voltage with the sync beside it."""
    scenario, truth = simulated.scenario, simulated.truth
    battery = log_voltage(scenario, truth.track, log)
    if log.rate_hz >= _PICK_UP_HZ:
        sync = _pick_up(simulated, log.rate_hz)
    else:
        times_s = sample_times_s(scenario, log.rate_hz)
        bits = np.zeros(times_s.size, dtype=np.float32)
        for at_s in truth.sync_s:
            first = int(np.ceil(at_s * log.rate_hz))
            bits[first : first + max(2, round(_EVENT_LASTS_S * log.rate_hz))] = 1
        sync = Channel(scenario.sync_channel, None, bits)
    waveform = Waveform(0.0, log.rate_hz, (battery, sync))
    return waveform, replace(
        scenario.setup(), current_channel="battery", mv_per_a=1000.0, signal=BATTERY_VOLTAGE.code
    )


def tooth_capture(simulated: Simulated, sensor: ToothSensor) -> tuple[Waveform, AnalysisSetup]:
    """Return a crank sensor's waveform with the sync beside it."""
    scenario = simulated.scenario
    crank = sensor_volts(scenario, simulated.truth.track, sensor)
    waveform = Waveform(0.0, sensor.rate_hz, (crank, _pick_up(simulated, sensor.rate_hz)))
    return waveform, replace(
        scenario.setup(), current_channel="crank", mv_per_a=1000.0, signal=CRANK_TEETH.code
    )


def _pick_up(simulated: Simulated, rate_hz: float) -> Channel:
    scenario = replace(simulated.scenario, rate_hz=rate_hz)
    rng = np.random.default_rng([scenario.seed, 3])
    volts = sync_volts(scenario, simulated.truth.track, rng)
    return Channel(scenario.sync_channel, "V", volts.astype(np.float32))


def _voltage_drawn(simulated: Simulated) -> tuple[Waveform, AnalysisSetup]:
    return voltage_capture(simulated, draw_log(simulated.scenario.seed))


def _teeth_drawn(simulated: Simulated) -> tuple[Waveform, AnalysisSetup]:
    return tooth_capture(simulated, draw_sensor(simulated.scenario.seed))


CAPTURES: Mapping[Signal, Callable[[Simulated], tuple[Waveform, AnalysisSetup]]] = MappingProxyType(
    {BATTERY_VOLTAGE.code: _voltage_drawn, CRANK_TEETH.code: _teeth_drawn}
)
"""A recording of another signal of the same crank, drawn from the scenario's seed."""
