"""What a method of judging is given and what it hands back."""

import math
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from engines.core.firing import FiringOrder
from traces.core.crank import Cranking, CylinderMark
from traces.core.findings import Finding
from traces.core.report import NO_PARTS, CycleUse, Hump, ReportParts
from traces.core.setup import AnalysisSetup
from traces.core.sync import Sync
from traces.core.waveform import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """A capture found fit to judge.

    Parameters
    ----------
    setup
        As the user gave it.
    cranking
        Conditioned current, steady part and crank angle.
    sync
        What the sync channel says, or the events marked by hand.
    order
        The engine counted from the cylinder whose events they are; as entered where there are
        none.
    mark
        What the events are; None where nothing ties the cycle to a cylinder.
    recorded_hz
        Samples a second of the recording itself, however fine the grid it was laid on.
    """

    setup: AnalysisSetup
    cranking: Cranking
    sync: Sync
    order: FiringOrder
    mark: CylinderMark | None = None
    recorded_hz: float = math.inf

    @property
    def samples_a_hump(self) -> float:
        """How many samples of the recording show one compression."""
        return self.recorded_hz * self.cranking.cycle_s / len(self.order)


@dataclass(frozen=True, slots=True, eq=False)
class Freed:
    """What a method measures where one bank may differ from the others as a whole.

    Parameters
    ----------
    strengths
        Shape (cylinders,), in the unit of `Measured.strengths`.
    covariance
        Shape (cylinders, cylinders): of what is wrong with them, as shares of a sound cylinder's.
    """

    strengths: Floats
    covariance: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """Strength of each compression, by position in the firing sequence.

    Parameters
    ----------
    strengths
        Shape (cylinders,), proportional to gauge compression, any unit.
    per_cycle
        Shape (cycles, cylinders), same unit.
    method_errors
        Shape (cylinders,): standard deviation of what the method itself gets wrong, as a
        share of a sound cylinder's strength.
    error_correlation
        Shape (cylinders, cylinders): how those errors go together; None where each is its own.
    banks_freed
        What to compare banks by; None where `strengths` have to do.
    hump_strengths
        Shape (cylinders,): plain hump heights in amps, before any correction.
    labelings
        Which cylinder may stand at each position: one tuple where the sync decides, more
        where it does not.
    humps
        For the picture.
    offset_deg
        Where humps stand from their top dead centres.
    explained
        Share of the mean cycle's variance that the method accounts for, 0 to 1.
    raised
        Shape (cylinders,): which the method found high by a small clearance, so that they are no
        measure for the others; None where it cannot tell.
    measure
        Shape (cylinders,): which are the measure of the others, where that is known; None where
        their figures have to tell.
    changing
        Shape (cylinders,): which are low in some cycles only; None where the method does not
        look. Their strength is the mean of `per_cycle`.
    alternatives
        Other ways to lay the firing order over the cycle that fit as well.
    findings
        What the method noticed.
    cycles
        The crank's engine cycles with their use, where `per_cycle` was not taken from those that
        the preparation chose: its rows are the used ones in order. Empty where it was.
    parts
        What the method adds to a report.
    """

    strengths: Floats
    per_cycle: Floats
    method_errors: Floats
    hump_strengths: Floats
    labelings: tuple[tuple[int, ...], ...]
    humps: tuple[Hump, ...]
    offset_deg: float
    explained: float
    raised: NDArray[np.bool_] | None = None
    changing: NDArray[np.bool_] | None = None
    alternatives: "tuple[Measured, ...]" = ()
    findings: tuple[Finding, ...] = ()
    cycles: tuple[CycleUse, ...] = ()
    parts: ReportParts = NO_PARTS
    error_correlation: Floats | None = None
    banks_freed: Freed | None = None
    measure: NDArray[np.bool_] | None = None

    def cycles_at_one_level(self) -> Floats:
        """Return strengths by cycle: one with more torque throughout is not unevenness."""
        levels = self.per_cycle.mean(axis=1, keepdims=True)
        usual = float(self.strengths.mean())
        shows = levels > max(0.2 * usual, 0.0)
        turned = np.divide(usual, levels, out=np.ones_like(levels), where=shows)
        return np.asarray(self.per_cycle * turned)

    def relabelled(self, labelings: tuple[tuple[int, ...], ...]) -> "Measured":
        """Return the same with other cylinders at its positions."""
        if labelings == self.labelings:
            return self
        known = labelings[0] if len(labelings) == 1 else None
        humps = tuple(
            replace(h, cylinder=known[h.position - 1] if known else None) for h in self.humps
        )
        return replace(self, labelings=labelings, humps=humps)


class Method(Protocol):
    """A way to measure compression from steady cranking; keeps no state between calls."""

    name: str

    def measure(self, prepared: Prepared) -> Measured:
        """Measure every compression of the steady part."""
        ...
