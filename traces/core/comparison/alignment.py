"""Two mean engine cycles by crank angle, and how one is laid over the other.

A run keeps its mean cycle at equal shares of the cycle's time, counted from the sync event or,
without a sync, from wherever its steady part begins. The fitted twin says which crank angle each
of these points stands at and where the top dead centres are, so that two recordings can be put
on one axis whatever their speed and wherever they began.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from engines.core.firing import CYCLE_DEG, FiringOrder
from traces.core.pooling import take_of
from traces.core.report import Report
from traces.core.setup import AnalysisSetup
from traces.core.signal_kinds import Signal, kind_of
from traces.core.waveform import Floats

By: TypeAlias = Literal["cylinder", "likeness"]

STEP_DEG = 3.0
GRID_DEG = np.arange(0.0, CYCLE_DEG, STEP_DEG)
GRID_DEG.setflags(write=False)

_NEARLY = 1.25
_NEARLY_ATOP = 0.01
"""One engine cranked twice differs by up to 0.05 of its mean current, mostly under 0.02 (both
families of the simulator, in-line, V and odd-fire engines)."""


@dataclass(frozen=True, slots=True, eq=False)
class Cycle:
    """A run's mean engine cycle.

    Parameters
    ----------
    value
        Over the cycle's mean, at equal shares of its time, shape (M,).
    angle_deg
        Crank angle of each, shape (M,), from 0 to under 720.
    tdc_deg
        Firing top dead centre of each position, shape (n,).
    level
        The mean itself: amps or volts; None where that is not known or means nothing.
    """

    value: Floats
    angle_deg: Floats
    tdc_deg: Floats
    level: float | None

    def from_position(self, index: int) -> Floats:
        """Return the cycle on `GRID_DEG`, 0 at the top dead centre of a position (0-based)."""
        at = (GRID_DEG + self.tdc_deg[index]) % CYCLE_DEG
        turned = np.interp(at, self.angle_deg, self.value, period=CYCLE_DEG)
        return np.asarray(turned, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class CycleAlignment:
    """How the second run lies over the first.

    Parameters
    ----------
    by
        `cylinder`: both know their cylinders. `likeness`: turned to where the curves, or
        failing these the figures, are most alike.
    known
        Whether places carry cylinder numbers.
    order
        The engine counted from the first place.
    turns
        By how many places the figures of each are rolled, so that both begin there.
    others
        Further firings by which the second may be turned and fit nearly as well; 0 is as laid.
    misfit
        Root mean square between the two, over the mean current or in relative compression.
    better_by
        Firings by which both lie far closer although both know their cylinders; 0: none.
    """

    by: By
    known: bool
    order: FiringOrder
    turns: tuple[int, int]
    others: tuple[int, ...]
    misfit: float
    better_by: int = 0

    @property
    def is_settled(self) -> bool:
        """Whether it is clear which place of one is which of the other."""
        return not self.others


def cycle_of(report: Report, signal: Signal) -> Cycle | None:
    """Return a report's mean cycle; None where it keeps none by crank angle."""
    fit, layout = report.parts.cycle_fit, report.parts.layout
    if fit is None or not fit.angle_deg or not fit.tdc_deg:
        return None
    amps_known = layout is not None and layout.amps_known
    in_unit = kind_of(signal).in_unit(scale_known=amps_known)
    return Cycle(
        value=np.array(fit.measured, dtype=np.float64),
        angle_deg=np.array(fit.angle_deg, dtype=np.float64),
        tdc_deg=np.array(fit.tdc_deg, dtype=np.float64),
        level=fit.level if in_unit else None,
    )


def align_cycles(
    reports: tuple[Report, Report], setups: tuple[AnalysisSetup, AnalysisSetup]
) -> CycleAlignment:
    """Lay the second report over the first.

    Parameters
    ----------
    reports, setups
        Both judged, of engines with the same firing order.
    """
    order = setups[0].firing_order.starting_at(1)
    firsts = tuple(
        _firsts(report, setup, order) for report, setup in zip(reports, setups, strict=True)
    )
    settled = tuple(r.cylinders_known for r in reports)
    if not any(settled):
        # neither knows: places count from the first one's own
        order = order.starting_at(order.sequence[firsts[0][0]])
        firsts = ((0,), _apart(firsts[0][0], firsts[1], len(order)))
    cycles = tuple(cycle_of(r, s.signal) for r, s in zip(reports, setups, strict=True))
    if setups[0].signal != setups[1].signal:
        cycles = (None, None)
    n = len(order)

    def misfit(first: int, second: int) -> float:
        return _misfit(reports, cycles, (first, second))

    if all(settled):
        here = misfit(firsts[0][0], firsts[1][0])
        turned = [misfit(firsts[0][0], (firsts[1][0] + k) % n) for k in _even_turns(order)]
        return CycleAlignment(
            "cylinder",
            known=True,
            order=order,
            turns=(firsts[0][0], firsts[1][0]),
            others=(),
            misfit=here,
            better_by=_far_better(here, turned, _even_turns(order), n),
        )
    pairs = [(a, b) for a in firsts[0] for b in firsts[1]]
    found = sorted(((misfit(*pair), pair) for pair in pairs), key=lambda m: m[0])
    best, turns = found[0]
    nearly = [pair for m, pair in found[1:] if m <= max(_NEARLY * best, best + _NEARLY_ATOP)]
    return CycleAlignment(
        "likeness",
        known=any(settled),
        order=order,
        turns=turns,
        others=tuple(sorted((b - turns[1] - a + turns[0]) % n for a, b in nearly)),
        misfit=best,
    )


def _firsts(report: Report, setup: AnalysisSetup, order: FiringOrder) -> tuple[int, ...]:
    """Return the places of `order` where a report's first position may stand; never none."""
    own = setup.firing_order
    layout = report.parts.layout
    if report.cylinders_known and report.estimates[0].cylinder is not None:
        found = [report.estimates[0].cylinder]
    elif layout is not None and layout.first_cylinders:
        found = list(layout.first_cylinders[0])
    else:
        found = [own.sequence[i] for i in take_of(0, report, setup).firsts]
    return tuple(order.position_of(c) for c in found) or tuple(range(len(order)))


def _apart(base: int, firsts: Sequence[int], n: int) -> tuple[int, ...]:
    return tuple((first - base) % n for first in firsts)


def _even_turns(order: FiringOrder) -> list[int]:
    """Return the turns under which the firing angles of an engine stay as they are."""
    own = np.array(order.tdc_angles_deg)
    turned = [order.starting_at(c).tdc_angles_deg for c in order.sequence]
    return [k for k, angles in enumerate(turned) if k and np.allclose(angles, own, atol=1.0)]


def _far_better(here: float, turned: list[float], turns: list[int], n: int) -> int:
    """Return the turn under which both lie far closer, as firings later (negative: earlier)."""
    if not turned or min(turned) > here / 2 or here < 2 * _NEARLY_ATOP:
        return 0
    by = n - turns[int(np.argmin(turned))]
    return by if by <= n / 2 else by - n


def _misfit(
    reports: tuple[Report, Report],
    cycles: tuple[Cycle | None, ...],
    turns: tuple[int, int],
) -> float:
    one, other = cycles
    if one is not None and other is not None:
        off = on_axis(one, turns[0]) - on_axis(other, turns[1])
    else:
        figures = [
            np.roll([e.relative for e in r.estimates], t)
            for r, t in zip(reports, turns, strict=True)
        ]
        off = figures[0] - figures[1]
    return float(np.sqrt(np.mean(off * off)))


def on_axis(cycle: Cycle, turn: int) -> Floats:
    """Return a cycle on `GRID_DEG`, its positions rolled by `turn` places."""
    return cycle.from_position(-turn % cycle.tdc_deg.size)
