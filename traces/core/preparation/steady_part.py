"""The steps that every signal goes through once its crank is found: sync, steady cycles, checks."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TypeVar

from traces.core.crank import (
    Cranking,
    CrankSpan,
    Steadiness,
    all_cycle_uses,
    check_direction,
    mark_of,
    order_from,
    recorded_sync,
    settle,
    shift_finding,
    with_marks,
)
from traces.core.findings import Finding
from traces.core.preparation import quality
from traces.core.preparation.prepared import Prepared
from traces.core.report import CycleUses
from traces.core.setup import AnalysisSetup
from traces.core.sync import NO_SYNC, Pulses, Sync
from traces.core.waveform import Channel, Conditioned, Floats, Waveform


@dataclass(frozen=True, slots=True, eq=False)
class Preparation:
    """What was found on the way; a step returns another one that holds more.

    Parameters
    ----------
    clamp
        The channel that is judged.
    conditioned, span
        What it shows, and where the starter cranks.
    count
        Engine cycles passed at each sample of `conditioned`, from the signal alone.
    whole
        The same without the stretch that a person chose, where one did.
    prepared
        None where the capture cannot be judged.
    """

    waveform: Waveform
    setup: AnalysisSetup
    clamp: Channel
    battery: Channel | None = None
    findings: tuple[Finding, ...] = ()
    conditioned: Conditioned | None = None
    span: CrankSpan | None = None
    sync: Sync = NO_SYNC
    cranking: Cranking | None = None
    pulses: Pulses | None = None
    count: Floats | None = None
    steadiness: Steadiness | None = None
    prepared: Prepared | None = None
    whole: "Preparation | None" = None

    @property
    def stopped(self) -> bool:
        """Whether something keeps the capture from being judged."""
        return any(f.severity == "stop" for f in self.findings)

    @property
    def cycle_uses(self) -> CycleUses | None:
        """The crank's engine cycles and what is left out; None where no crank was found."""
        conditioned, span = self.conditioned, self.span
        if conditioned is None or span is None:
            return None
        cycles = self.steadiness.cycles if self.steadiness else ()
        to_s = self.cranking.steady_to_s if self.cranking else None
        recorded_s = (conditioned.t0_s, conditioned.end_s)
        return all_cycle_uses(cycles, span, recorded_s, to_s, self.setup.hand.span_s)


PreparationT = TypeVar("PreparationT", bound=Preparation)


def noticing(done: PreparationT, findings: Iterable[Finding]) -> PreparationT:
    """Return the same with more findings."""
    return replace(done, findings=(*done.findings, *findings))


def steadied(
    done: PreparationT, conditioned: Conditioned, span: CrankSpan, count: Floats
) -> PreparationT:
    """Tie the cycle to the sync or to marks by hand, choose the steady cycles, take stock.

    Parameters
    ----------
    count
        Engine cycles passed at each sample of `conditioned`.
    """
    setup = done.setup
    sync = recorded_sync(setup, done.pulses, conditioned.times_s, count, span.to_s)
    sync, told = with_marks(sync, setup, span, conditioned.times_s, count)
    cranking, steadiness = settle(conditioned, span, count, sync, setup.hand.left_out_s)
    if done.whole is not None and any(f.code == "engine-caught" for f in done.whole.findings):
        # the engine ran in the end, whatever part of the crank was chosen
        steadiness = replace(steadiness, collapsed=True)
    told = [*told, *quality.check_steadiness(cranking, steadiness, span)]
    if cranking is not None and setup.kind.is_current:
        told += quality.check_steps(done.waveform, done.clamp, cranking, setup)
        told += check_direction(cranking, setup)
    told += quality.check_sync(sync, setup)
    told += quality.check_sync_edge(sync, done.pulses, setup)
    told += quality.check_sync_reach(sync, setup, cranking)
    done = replace(done, count=count, sync=sync, cranking=cranking, steadiness=steadiness)
    return noticing(done, told)


def prepared_of(done: Preparation, cranking: Cranking, recorded_hz: float) -> Prepared:
    """Return what a method is given of steady cranking."""
    mark = mark_of(done.setup, done.sync)
    return Prepared(
        setup=done.setup,
        cranking=cranking,
        sync=done.sync,
        order=order_from(done.setup, mark),
        mark=mark,
        recorded_hz=recorded_hz,
    )


def fit_to_judge(done: PreparationT, prepared: Prepared) -> PreparationT:
    """Return the preparation of a capture that nothing keeps from being judged."""
    told = shift_finding(done.setup, prepared.mark)
    return replace(noticing(done, told), prepared=prepared)
