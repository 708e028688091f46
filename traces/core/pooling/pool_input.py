"""One judged capture as pooling takes it: figures in firing sequence, with their two errors."""

from dataclasses import dataclass, replace

import numpy as np

from engines.core.firing import FiringOrder
from traces.core.pooling.random_effects import student_t
from traces.core.report import Estimate, Report
from traces.core.setup import AnalysisSetup
from traces.core.waveform import Floats


@dataclass(frozen=True, slots=True, eq=False)
class PoolInput:
    """Figures of one capture.

    Parameters
    ----------
    key
        The caller's own name for the capture.
    order
        Firing order of the engine, as set up.
    firsts
        0-based places in `order.sequence` where the first figure may stand: one where the
        sync decides, more where it does not, none where the humps fit several layouts.
    relative
        Shape (cylinders,), in firing sequence.
    sampling
        Shape (cylinders,): standard error from cycle to cycle.
    method
        Shape (cylinders,): standard deviation of what the method gets wrong about the engine.
    half
        Shape (cylinders,): half of each figure's own 95 % interval.
    cycles
        Engine cycles behind the figures.
    """

    key: int
    order: FiringOrder
    firsts: tuple[int, ...]
    relative: Floats
    sampling: Floats
    method: Floats
    half: Floats
    cycles: int

    @property
    def is_settled(self) -> bool:
        """Whether it is known which cylinder each figure belongs to."""
        return len(self.firsts) == 1

    def turned(self, first: int) -> "PoolInput":
        """Return the figures with the first one at place `first` of the firing order."""
        return replace(
            self,
            firsts=(0,) if self.is_settled else self.firsts,
            relative=np.roll(self.relative, first),
            sampling=np.roll(self.sampling, first),
            method=np.roll(self.method, first),
            half=np.roll(self.half, first),
        )


def take_of(key: int, report: Report, setup: AnalysisSetup) -> PoolInput:
    """Return what pooling needs of a judged report.

    Raises
    ------
    ValueError
        If the report has no figures.
    """
    if not report.estimates:
        raise ValueError("a capture that was not judged has no figures to pool")
    errors = [
        _errors(e, evened) for e, evened in zip(report.estimates, _evened(report), strict=True)
    ]
    return PoolInput(
        key=key,
        order=setup.firing_order,
        firsts=_firsts(report, setup),
        relative=np.array([e.relative for e in report.estimates]),
        sampling=np.array([sampling for sampling, _ in errors]),
        method=np.array([method for _, method in errors]),
        half=np.array([half_of(e) for e in report.estimates]),
        cycles=report.cycles,
    )


def _evened(report: Report) -> list[Floats]:
    """Return each cylinder's cycles, a cycle with more torque throughout turned alike."""
    counts = {len(e.per_cycle) for e in report.estimates}
    if len(counts) != 1 or counts == {0}:
        return [np.empty(0)] * len(report.estimates)
    cycles = np.array([e.per_cycle for e in report.estimates])
    levels = cycles.mean(axis=0)
    usual = float(np.mean([e.relative for e in report.estimates]))
    return list(cycles * np.where(levels > 0.2 * usual, usual / np.maximum(levels, 1e-9), 1.0))


def half_of(estimate: Estimate) -> float:
    """Return half of a figure's 95 % interval."""
    # the lower end may be cut at 0
    return max(estimate.high - estimate.relative, estimate.relative - estimate.low)


def _errors(estimate: Estimate, cycles: Floats) -> tuple[float, float]:
    """Split an interval into its two parts; without cycles all of it counts as the method's."""
    half = half_of(estimate)
    if cycles.size < 2:
        return 0.0, half / 1.96
    sampling = float(cycles.std(ddof=1)) / np.sqrt(cycles.size)
    rest = half**2 - (student_t(cycles.size - 1) * sampling) ** 2
    return sampling, float(np.sqrt(max(0.0, rest))) / 1.96


def _firsts(report: Report, setup: AnalysisSetup) -> tuple[int, ...]:
    order = setup.firing_order
    first = report.estimates[0].cylinder
    if report.cylinders_known and first is not None:
        return (order.position_of(first),)
    layout = report.parts.layout
    if layout is not None and layout.first_cylinders is not None:
        firsts = layout.first_cylinders
        return tuple(order.position_of(c) for c in firsts[0]) if len(firsts) == 1 else ()
    # runs of earlier versions do not say it; evenly firing engines leave no doubt
    if not order.is_even:
        return ()
    if setup.sync is None or any(f.code == "sync-missing" for f in report.findings):
        return tuple(range(len(order)))
    here = order.position_of(setup.sync.cylinder)
    companion = order.companion_of(setup.sync.cylinder)
    return () if companion is None else (here, order.position_of(companion))
