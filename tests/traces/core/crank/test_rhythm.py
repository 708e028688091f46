"""The engine's cycle, from current and sync together."""

from traces.core.preparation.preparation import prepare
from traces.simulator.scenarios import draw
from traces.simulator.simulate import simulate


def test_pairs_at_first_keep_to_a_crank_that_slows() -> None:
    # a coil that fires every turn twice and then every second turn: half a cycle by its events is
    # three hundredths shorter than half a cycle by the humps
    simulated = simulate(draw(7_400_201, "I5", family="c"))
    prepared = prepare(simulated.waveform, simulated.scenario.setup())
    assert not [f.code for f in prepared.findings if f.severity == "stop"]
    assert prepared.sync.state == "every-720"
    assert prepared.sync.paired_to_s is not None
