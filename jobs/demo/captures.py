"""The demo's recordings, made by the simulator when they are needed."""

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from django.core.files.uploadedfile import SimpleUploadedFile

from jobs.demo.story import DemoCrank
from traces.core.setup import AnalysisSetup
from traces.simulator.export import to_csv
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
