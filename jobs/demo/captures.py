"""The demo's recordings, made by the simulator when they are needed."""

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from django.core.files.uploadedfile import SimpleUploadedFile

from jobs.demo.story import DemoCrank, DemoIdle, DemoPressure
from traces.core.setup import AnalysisSetup, PressureSetup, SyncSetup
from traces.core.signal_kinds import CYLINDER_PRESSURE, RUNNING_TEETH
from traces.simulator.export import to_csv
from traces.simulator.pressure import PRESSURE_CHANNEL, PressureCase, pressure_capture
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


def pressure_setup_of(crank: DemoCrank, pressure: DemoPressure) -> AnalysisSetup:
    """Return how the diagnostician sets one cylinder's pressure up."""
    order, case = scenario_of(crank).engine.firing_order, _case_of(pressure)
    return AnalysisSetup(
        firing_order=order,
        current_channel=PRESSURE_CHANNEL,
        mv_per_a=1000.0,
        signal=CYLINDER_PRESSURE.code,
        pressure=PressureSetup(
            kpa_per_v=case.transducer.kpa_per_v,
            compression_ratio=case.compression_ratio,
            cylinder=pressure.cylinder,
            cylinders=len(order),
        ),
    )


def record_pressure(pressure: DemoPressure) -> SimpleUploadedFile:
    """Return the recording of a cylinder's pressure, which begins with a rest."""
    made = pressure_capture(_case_of(pressure))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / pressure.file_name
        to_csv(made.waveform, path)
        return SimpleUploadedFile(pressure.file_name, path.read_bytes())


def _case_of(pressure: DemoPressure) -> PressureCase:
    """Return an idling cylinder that is cut out, behind an exhaust that holds back."""
    return PressureCase(
        seed=pressure.seed,
        rpm=760.0,
        cycles=20,
        swing=0.01,
        intake_kpa=38.0,
        exhaust_kpa=100.0 + pressure.back_kpa,
        air_kpa=100.0,
        wall_k=380.0,
        exhaust_k=600.0,
        rest_s=1.0,
        rate_hz=10_000.0,
    )
