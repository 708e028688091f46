"""The file that everybody may try an upload with: simulated once, kept in `practice/data`."""

from dataclasses import replace
from pathlib import Path

from traces.simulator.export import to_csv
from traces.simulator.recorder import Clamp, PickUp
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated, simulate

HEADER = (
    "Simulated practice file: not a recording of a vehicle.",
    "Inline four, firing order 1-3-4-2. Clamp 10 mV/A. Coil: ignition of cylinder 1.",
)
WEAK = 3


def practice_scenario() -> Scenario:
    """Return an inline four with one weak cylinder and the ignition of the first as sync."""
    drawn = draw(_SEED, layout="I4", fault="one", sync="720")
    sync = replace(drawn.sync or PickUp(), cylinder=1, event="ignition", angle_deg=-8.0)
    sync = replace(sync, entered_angle_deg=None, missing_first=0, ring_decay_s=2e-3, leakage=0.05)
    return replace(
        drawn,
        clamp=Clamp(mv_per_a=10.0, bits=12, range_v=10.0, noise_v=0.01),
        sync=sync,
        rate_hz=2_000.0,
        before_s=0.3,
        crank_s=3.0,
        after_s=0.3,
    )


def practice_capture() -> Simulated:
    """Simulate the capture."""
    return simulate(practice_scenario())


def practice_file_write(path: Path) -> None:
    """Write the file anew."""
    to_csv(practice_capture().waveform, path, header=HEADER)


_SEED = 17
