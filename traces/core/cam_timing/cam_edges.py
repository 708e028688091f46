"""Edges of a cam sensor by crank angle: those that come back in every engine cycle."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from traces.core.cam_timing.cam_error import CamError
from traces.core.cam_timing.crank_angle import SIDES, CrankAngle, Side
from traces.core.waveform import Floats

CYCLE_DEG = 720.0
_APART_DEG = 6.0
"""Edges of one side nearer to each other are one that wanders: slots of cam wheels are 10 crank
degrees and more apart (common practice)."""
_IN_CYCLES = 0.6
_ALL_PATTERN = 0.8
_MOST_EDGES = 60
_ALIKE_DEG = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class ComingBack:
    """One edge in every cycle that shows it.

    Parameters
    ----------
    side
        Rising or falling.
    angle_deg
        Its mean, 0 to 720.
    each_deg
        How far from it the edge was in each cycle, shape (cycles seen,).
    seen_deg
        Crank angle at which, counted on from the beginning, shape (cycles seen,).
    """

    side: Side
    angle_deg: float
    each_deg: Floats
    seen_deg: Floats


@dataclass(frozen=True, slots=True, eq=False)
class CamTrace:
    """A cam's edges.

    Parameters
    ----------
    edges
        Those that come back, in order of angle.
    repeats_deg
        After how much they look the same.
    passed_over
        Share of edges that do not come back.
    """

    edges: tuple[ComingBack, ...]
    repeats_deg: float
    passed_over: float

    @property
    def moves_deg(self) -> float:
        """How far the phase wanders, by the mean of the edges in each cycle."""
        off = np.concatenate([edge.each_deg for edge in self.edges])
        cycle = np.concatenate([edge.seen_deg for edge in self.edges]) // CYCLE_DEG
        means = [float(off[cycle == c].mean()) for c in np.unique(cycle)]
        return max(means) - min(means)


def cam_trace(name: str, sides: Sequence[Floats], crank: CrankAngle) -> CamTrace:
    """Find the edges that come back every 720 degrees.

    Parameters
    ----------
    name
        The channel's, for sentences.
    sides
        Rising and falling edges, s, each of shape (edges,).
    crank
        The crank's angle.

    Raises
    ------
    CamError
        If there are none, far too many, or they follow no pattern.
    """
    found: list[ComingBack] = []
    edges = kept = 0
    for side, times_s in zip(SIDES, sides, strict=True):
        angle_deg = crank.at(crank.within(times_s))
        edges += angle_deg.size
        if angle_deg.size > _MOST_EDGES * crank.cycles:
            raise CamError("many-edges", channel=name)
        for edge in _coming_back(side, angle_deg, crank):
            found.append(edge)
            kept += edge.each_deg.size
    if edges < crank.cycles * _IN_CYCLES:
        raise CamError("no-edges", channel=name)
    if not found or kept < _ALL_PATTERN * edges:
        raise CamError("no-pattern", channel=name)
    found.sort(key=lambda edge: edge.angle_deg)
    return CamTrace(tuple(found), _repeats_deg(found), 1.0 - kept / edges)


def _coming_back(side: Side, angle_deg: Floats, crank: CrankAngle) -> list[ComingBack]:
    """Return what comes back of one side."""
    if angle_deg.size == 0:
        return []
    turned = angle_deg % CYCLE_DEG
    order = np.argsort(turned)
    gaps = np.diff(turned[order], append=turned[order[0]] + CYCLE_DEG)
    cuts = np.flatnonzero(gaps > _APART_DEG)
    if cuts.size == 0:
        return []  # edges everywhere
    # from the edge after a cut on, so that no group is cut at 0 degrees
    order = np.roll(order, -(int(cuts[-1]) + 1))
    ends = (cuts - int(cuts[-1]) - 1) % order.size
    groups = np.split(order, np.sort(ends)[:-1] + 1)
    found = []
    for group in groups:
        seen_deg = np.sort(angle_deg[group])
        cycles = np.rint((seen_deg - seen_deg[0]) / CYCLE_DEG)
        off = seen_deg - seen_deg[0] - CYCLE_DEG * cycles
        mean = float((seen_deg[0] + off.mean()) % CYCLE_DEG)
        if np.unique(cycles).size < cycles.size:
            continue  # twice in a cycle
        if cycles.size < max(2.0, _IN_CYCLES * _showing(mean, crank)):
            continue
        found.append(ComingBack(side, mean, off - off.mean(), seen_deg))
    return found


def _showing(mean_deg: float, crank: CrankAngle) -> int:
    """Return in how many cycles an angle was recorded."""
    first, last = float(crank.angle_deg[0]), float(crank.angle_deg[-1])
    return int((last - mean_deg) // CYCLE_DEG - np.ceil((first - mean_deg) / CYCLE_DEG) + 1)


def _repeats_deg(edges: Sequence[ComingBack]) -> float:
    """Return the least turn after which the edges look the same."""
    for parts in (8, 6, 5, 4, 3, 2):
        if all(len([e for e in edges if e.side == side]) % parts == 0 for side in SIDES) and all(
            _has_like(edges, edge, CYCLE_DEG / parts) for edge in edges
        ):
            return CYCLE_DEG / parts
    return CYCLE_DEG


def _has_like(edges: Sequence[ComingBack], edge: ComingBack, turned_deg: float) -> bool:
    there = edge.angle_deg + turned_deg
    return any(
        other.side == edge.side and abs(around(other.angle_deg - there)) < _ALIKE_DEG
        for other in edges
    )


def around(deg: float, whole_deg: float = CYCLE_DEG) -> float:
    """Return an angle from minus half of a whole to half of it."""
    return (deg + whole_deg / 2.0) % whole_deg - whole_deg / 2.0
