"""The engine's cycle, from current and sync together."""

from tests.traces.simulated import simulated_together
from traces.core.preparation.preparation import prepare
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw


@simulated_together
def _slowing() -> dict[str, Scenario]:
    return {"I5": draw(7_400_201, "I5", family="c")}


def test_pairs_at_first_keep_to_a_crank_that_slows() -> None:
    # a coil that fires every turn twice and then every second turn: half a cycle by its events is
    # three hundredths shorter than half a cycle by the humps
    simulated = _slowing()["I5"]
    prepared = prepare(simulated.waveform, simulated.scenario.setup())
    assert not [f.code for f in prepared.findings if f.severity == "stop"]
    assert prepared.sync.state == "every-720"
    assert prepared.sync.paired_to_s is not None
