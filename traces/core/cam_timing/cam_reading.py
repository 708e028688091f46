"""A recording of crank and cam sensors: each cam's phase with its spread."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
import scipy

from engines.core.firing import FiringOrder
from traces.core.cam_timing.cam_edges import CYCLE_DEG, CamTrace, ComingBack, cam_trace
from traces.core.cam_timing.cam_error import CamError
from traces.core.cam_timing.crank_angle import CrankAngle, Side, crank_angles
from traces.core.report import CamEdge, CamFigures, CamsFigures, Interval
from traces.core.setup import CamChannel, ToothWheel
from traces.core.signals import edge_times_s
from traces.core.waveform import Floats, Waveform

Edges: TypeAlias = tuple[Floats, Floats]
"""Rising and falling ones, s."""

_LEAST_HALF_DEG = 0.1
_MIDDLE_SHARE = 0.05  # of a sample: how well the middle of a step of two levels is found
_CONFIDENCE = 0.975


@dataclass(frozen=True, slots=True)
class CamChannels:
    """Which channel is which.

    Parameters
    ----------
    crank
        The crank sensor's, by name or number.
    cams
        The cam sensors'.
    wheel
        The crank's wheel, as far as it is known.
    order
        The engine's firing order, where it is known: it tells some wheels apart.
    """

    crank: str
    cams: tuple[CamChannel, ...]
    wheel: ToothWheel = field(default_factory=ToothWheel)
    order: FiringOrder | None = None


@dataclass(frozen=True, slots=True, eq=False)
class CamReading:
    """What a recording shows, by whichever side of the crank's teeth it is counted.

    Parameters
    ----------
    cranks
        By side, the clearer one first.
    traces
        By side, each cam's edges as they were named.
    channels
        The cams.
    sample_s
        Time between samples.
    """

    cranks: Mapping[Side, CrankAngle]
    traces: Mapping[Side, tuple[CamTrace, ...]]
    channels: tuple[CamChannel, ...]
    sample_s: float

    def figures(self, side: Side | None = None) -> CamsFigures:
        """Return the figures, counted by one side of the crank's teeth; the clearer if None."""
        used: Side = next(iter(self.cranks)) if side is None else side
        crank, traces = self.cranks[used], self.traces[used]
        turned_deg = _turned_deg(traces[0], crank.repeats_deg)
        return CamsFigures(
            state=crank.state,
            rpm=round(crank.rpm, 1),
            cycles=round(crank.cycles, 1),
            wheel=crank.pattern,
            wheel_repeats_deg=crank.repeats_deg,
            crank_side=used,
            cams=tuple(
                CamFigures(
                    name=channel.channel,
                    bank=channel.bank,
                    valves=channel.valves,
                    edges=self._edges(trace, crank, turned_deg),
                    repeats_deg=trace.repeats_deg,
                    moves_deg=round(trace.moves_deg, 2),
                )
                for channel, trace in zip(self.channels, traces, strict=True)
            ),
        )

    def _edges(self, trace: CamTrace, crank: CrankAngle, turned_deg: float) -> tuple[CamEdge, ...]:
        edges = []
        for edge in trace.edges:
            angle_deg = (edge.angle_deg - turned_deg) % CYCLE_DEG
            half_deg = half_width_deg(edge, crank, self.sample_s)
            edges.append(
                CamEdge(
                    side=edge.side,
                    angle=Interval(
                        round(angle_deg, 2),
                        round(angle_deg - half_deg, 2),
                        round(angle_deg + half_deg, 2),
                    ),
                    after_teeth=round(angle_deg * crank.teeth / 360.0, 2),
                    spread_deg=round(spread_deg(edge), 2),
                    cycles=edge.each_deg.size,
                )
            )
        return tuple(sorted(edges, key=lambda edge: edge.angle.value))


def read_cams(waveform: Waveform, channels: CamChannels) -> CamReading:
    """Read each cam's phase, while the starter turns the engine or else while it runs.

    Parameters
    ----------
    waveform
        The recording.
    channels
        Which channel is which.

    Raises
    ------
    CamError
        If the crank's wheel or a cam's edges follow no pattern.
    KeyError
        If there is no such channel.
    """
    edges = edge_times_s(waveform, waveform.channel(channels.crank))
    cam_edges = [edge_times_s(waveform, waveform.channel(cam.channel)) for cam in channels.cams]
    try:
        return _read(waveform, channels, edges, cam_edges, running=False)
    except CamError as cranked:
        try:
            return _read(waveform, channels, edges, cam_edges, running=True)
        except CamError:
            raise cranked from None


def _read(
    waveform: Waveform,
    channels: CamChannels,
    edges: Edges,
    cam_edges: Sequence[Edges],
    *,
    running: bool,
) -> CamReading:
    cranks = crank_angles(edges, channels.wheel, channels.order, running=running)
    traces = {
        side: tuple(
            cam_trace(cam.channel, sides, crank)
            for cam, sides in zip(channels.cams, cam_edges, strict=True)
        )
        for side, crank in cranks.items()
    }
    named = tuple(
        CamChannel(waveform.channel(cam.channel).name, cam.bank, cam.valves)
        for cam in channels.cams
    )
    return CamReading(cranks, traces, named, 1.0 / waveform.rate_hz)


def spread_deg(edge: ComingBack) -> float:
    """Return the standard deviation of an edge from cycle to cycle."""
    return float(edge.each_deg.std(ddof=1)) if edge.each_deg.size > 1 else 0.0


def half_width_deg(edge: ComingBack, crank: CrankAngle, sample_s: float) -> float:
    """Return half of the 95 % interval of an edge's mean angle.

    Chance from cycle to cycle (Student), the step between samples, and a least.
    """
    count = edge.each_deg.size
    chance = 0.0
    if count > 1:
        students = float(scipy.stats.t.ppf(_CONFIDENCE, count - 1))
        chance = students * spread_deg(edge) / np.sqrt(count)
    step_deg = _MIDDLE_SHARE * crank.rpm * 6.0 * sample_s
    return float(np.sqrt(chance**2 + step_deg**2 + _LEAST_HALF_DEG**2))


def _turned_deg(trace: CamTrace, repeats_deg: float) -> float:
    """Return by how much angles are turned so that two recordings of one engine count alike.

    Which of two turns came first is chance: the edge after the cam's longest pause is counted in
    the wheel's first repeat.
    """
    angles: Sequence[float] = [edge.angle_deg for edge in trace.edges]
    pauses = np.diff(angles, prepend=angles[-1] - CYCLE_DEG)
    after: float = angles[int(np.argmax(np.round(pauses, 1)))]
    return float(after // repeats_deg * repeats_deg)


def angles_of(trace: CamTrace) -> Floats:
    """Return the mean angles of a cam's edges, shape (edges,)."""
    return np.array([edge.angle_deg for edge in trace.edges])
