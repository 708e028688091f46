"""What a trap caught: named wrongly without a word, or right, asked, warned, refused.

A capture is **wrong in silence** when it was judged, none of the sets of low cylinders it names
(or leaves open as candidates) is the true one, the grey zone of `bench.scoring.GREY` left out,
and no warning of the report is about the trap or says that the figures do not carry the verdict
(`DOUBTS`). In a trap about banks it is so, too, when the means of the banks truly differ by
`UNEVEN` or more and the report neither calls them uneven nor warns of it, or calls alike banks
uneven. Where the sync is moved from cylinder to cylinder, it is so when another set is named.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from bench.scoring import outcome
from bench.trap_scenarios import Trap
from traces.core.analysis import judge
from traces.core.plain_json import PlainJson
from traces.core.report import Report
from traces.core.waveform import Channel, Waveform
from traces.simulator.simulate import Simulated, record

DOUBTS = ("too-uncertain", "time-reversed")
"""Codes by which a report says of itself that its call is not sure."""

UNEVEN, ALIKE = 0.06, 0.03
"""Difference of the banks' true means from which it has to be called, and under which not."""

_MOVED_TO = 2


@dataclass(frozen=True, slots=True)
class Caught(PlainJson):
    """One capture of a trap.

    Parameters
    ----------
    named
        Whether cylinders were named by number; else candidates were listed.
    right, left_open
        As in `bench.scoring.Outcome`.
    warned
        Whether a warning is about the trap, or says that the call is not sure.
    codes
        Stop findings of a refused capture.
    said, truth
        The sets named, and the cylinders that are low.
    bank_called, bank_truth
        Whether the banks were called uneven, and how far their true means are apart.
    moved
        Largest difference of a cylinder's figure between syncs on different cylinders.
    """

    trap: str
    family: str
    layout: str
    fault: str
    seed: int
    judged: bool
    named: bool = False
    right: bool = False
    left_open: bool = False
    warned: bool = False
    codes: tuple[str, ...] = ()
    said: tuple[tuple[int, ...], ...] = ()
    truth: tuple[int, ...] = ()
    errors: tuple[float, ...] = ()
    inside: tuple[bool, ...] = ()
    bank_called: bool | None = None
    bank_truth: float | None = None
    moved: float | None = None

    @property
    def silent(self) -> bool:
        """Whether it is wrong in silence."""
        if not self.judged or self.warned:
            return False
        return self.bank_missed or not (self.right or self.left_open)

    @property
    def bank_missed(self) -> bool:
        """Whether uneven banks were passed over, or alike ones called."""
        if self.bank_truth is None or not self.named:
            return False
        if self.bank_called:
            return self.bank_truth < ALIKE
        return self.bank_truth >= UNEVEN


def caught(name: str, trap: Trap, simulated: Simulated) -> Caught:
    """Judge a capture of a trap as the worker does and hold it against its truth."""
    scenario, truth = simulated.scenario, simulated.truth
    waveform = simulated.waveform
    if trap.kind == "backwards":
        waveform = backwards(waveform)
    report = judge(waveform, scenario.setup())
    found = outcome(simulated, report)
    plain = Caught(
        trap=name,
        family=scenario.family,
        layout=scenario.layout,
        fault=scenario.fault,
        seed=scenario.seed,
        judged=found.judged,
        codes=found.stops,
        truth=truth.low,
    )
    if not found.judged:
        return plain
    doubts = (*trap.speaks, *DOUBTS)
    warned = [f.code for f in report.findings if f.severity != "note"]
    plain = replace(
        plain,
        named=report.cylinders_known,
        right=bool(found.right),
        left_open=found.left_open,
        warned=any(part in code for code in warned for part in doubts),
        said=report.candidates,
        errors=tuple(e for e in found.errors if np.isfinite(e)),
        inside=tuple(i for i, e in zip(found.inside, found.errors, strict=True) if np.isfinite(e)),
    )
    if trap.kind == "bank":
        return _with_banks(plain, simulated, report)
    if trap.kind == "moved":
        return _with_moved(plain, simulated, report)
    return plain


def backwards(waveform: Waveform) -> Waveform:
    """Return the recording played from its end."""
    turned = tuple(Channel(c.name, c.unit, c.values[::-1].copy()) for c in waveform.channels)
    return Waveform(waveform.t0_s, waveform.rate_hz, turned)


def _with_banks(plain: Caught, simulated: Simulated, report: Report) -> Caught:
    difference = report.bank_difference
    return replace(
        plain,
        bank_called=bool(difference and difference.call == "uneven"),
        bank_truth=bank_apart(simulated),
    )


def bank_apart(simulated: Simulated) -> float:
    """Return how far the true means of the banks lie apart, share of a sound cylinder."""
    relative = np.array(simulated.truth.relative_sound)
    faulty = [c.faulty for c in simulated.scenario.engine.cylinders]
    # a single weak cylinder is no matter of its bank
    alone = np.array(faulty) & (simulated.scenario.fault != "bank-late")
    means = [
        float(np.mean([relative[c - 1] for c in bank if not alone[c - 1]]))
        for bank in simulated.scenario.banks
    ]
    return max(means) - min(means)


def _with_moved(plain: Caught, simulated: Simulated, report: Report) -> Caught:
    """Put the same crank's sync on other cylinders: no figure may hang on which it is."""
    scenario, track = simulated.scenario, simulated.truth.track
    if scenario.sync is None or not report.cylinders_known:
        return plain
    rng = np.random.default_rng([scenario.seed, 402])
    others = [c for c in scenario.engine.firing_order.sequence if c != scenario.sync.cylinder]
    figures = _figures(report)
    largest, same = 0.0, True
    for number in rng.permutation(others)[:_MOVED_TO]:
        moved = replace(scenario, sync=replace(scenario.sync, cylinder=int(number)))
        other = judge(record(moved, track, track).waveform, moved.setup())
        if other.verdict == "not judged" or not other.cylinders_known:
            continue
        theirs = _figures(other)
        largest = max(largest, *(abs(theirs[c] - v) for c, v in figures.items()))
        same = same and other.candidates == report.candidates
    # what is wrong with each of them alike is no matter of the sync
    return replace(plain, moved=largest, right=same, left_open=False)


def _figures(report: Report) -> Mapping[int, float]:
    return {e.cylinder: e.relative for e in report.estimates if e.cylinder is not None}
