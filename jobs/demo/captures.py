"""The demo's recordings, made by the simulator when they are needed."""

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from django.core.files.uploadedfile import SimpleUploadedFile

from jobs.demo.story import DemoCrank, DemoIdle
from traces.core.setup import AnalysisSetup, SyncSetup
from traces.core.signal_kinds import RUNNING_TEETH
from traces.simulator.export import to_csv
from traces.simulator.running import CRANK_CHANNEL, SYNC_CHANNEL, Idle, idle_capture
from traces.simulator.scenario import BATTERY_CHANNEL, Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import simulate_many

RATE_HZ = 5_000.0


def scenario_of(crank: DemoCrank) -> Scenario:
    """Return the scenario of a demo capture; the same each time."""
    drawn = draw(
        crank.seed, layout=crank.layout, fault=crank.fault, flaw=crank.flaw, sync=crank.sync
    )
    return replace(drawn, rate_hz=RATE_HZ, record_battery=crank.battery)


def setup_of(crank: DemoCrank) -> AnalysisSetup:
    """Return how the diagnostician of the demo sets a capture up."""
    voltage_channel = BATTERY_CHANNEL if crank.battery else None
    return replace(scenario_of(crank).setup(), voltage_channel=voltage_channel)


def record(cranks: Sequence[DemoCrank]) -> list[SimpleUploadedFile]:
    """Return the recordings of `cranks` as the files a person would upload."""
    files = []
    with tempfile.TemporaryDirectory() as folder:
        for crank, made in zip(
            cranks, simulate_many([scenario_of(c) for c in cranks]), strict=True
        ):
            path = Path(folder) / crank.file_name
            to_csv(made.waveform, path)
            files.append(SimpleUploadedFile(crank.file_name, path.read_bytes()))
    return files


def idle_setup_of(crank: DemoCrank) -> AnalysisSetup:
    """Return how the diagnostician sets the idling engine up: its teeth, and a coil as sync."""
    order = scenario_of(crank).engine.firing_order
    return AnalysisSetup(
        firing_order=order,
        current_channel=CRANK_CHANNEL,
        mv_per_a=1000.0,
        signal=RUNNING_TEETH.code,
        sync=SyncSetup(SYNC_CHANNEL, order.sequence[0], "ignition"),
        flywheel="one-piece",
    )


def record_idle(crank: DemoCrank, idle: DemoIdle) -> SimpleUploadedFile:
    """Return the recording of a vehicle's idling engine, switched off at the end."""
    order = scenario_of(crank).engine.firing_order
    made = idle_capture(
        Idle(idle.seed, "gas", order, burn=idle.burn, course="coast", lasts_s=8.0, rate_hz=10_000.0)
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / idle.file_name
        to_csv(made.waveform, path)
        return SimpleUploadedFile(idle.file_name, path.read_bytes())
