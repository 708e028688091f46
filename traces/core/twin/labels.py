"""How sure it is which cylinder is which: where the sync event stands from top dead centre.

How low a cylinder is and which one it is are two questions. Humps of an evenly firing engine
look the same whichever cylinder is called the first; only the sync event tells, by standing
at a known angle from the top dead centre of its cylinder. The fit finds how far the event stands
from a firing; this module weighs that firing against all others of the engine.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from engines.core.firing import CYCLE_DEG, FiringOrder
from engines.core.spacing import are_alike
from shopdiag.people.core.words import Text, say
from traces.core.crank import CylinderMark
from traces.core.findings import Finding, finding
from traces.core.preparation import Measured, Prepared
from traces.core.report import LabelConfidence
from traces.core.setup import MarkedEvent

LAG_DEG = 3.0
"""The model puts a top dead centre so much late on the mean (simulated captures)."""

_LAG_SPREAD_DEG = 5.0
_USUAL_DEG: dict[MarkedEvent, tuple[float, float]] = {
    "ignition": (9.0, 8.0),
    "injector": (4.0, 10.0),
    "tdc": (LAG_DEG, _LAG_SPREAD_DEG),
}
"""Top dead centre after the event, mean and spread, where nobody stated its angle. Spark while
cranking comes 5 to 10 degrees before it (from memory), the model's own lag is a few more; a
diesel injector is told to open near it; of top dead centre itself only the lag is left."""

_STATED_SPREAD_DEG = 8.0
"""Of an angle that a person typed without saying how sure they are of it (assumed)."""

_BY_EYE_DEG = 10.0
"""Spread of a mark by hand about the event: 8 ms at 200 rpm (estimate)."""

_EDGE_SPREAD_DEG = 4.0
"""From one edge of a cam to another, by the crank angle within the cycle (simulated)."""

_OF_FIRST_EDGE = 0.98
"""How often (assumed) an angle that was measured is that of a cam's first edge after its longest
pause: always, but for a slip. Who types one may have any edge's."""

_LONGEST_BY_DEG = 30.0
"""By how much a pause has to be the longest to be that in every capture: edges are counted by time,
and a cycle's speed moves them by some 15 degrees."""

_FITS_WITHIN = 2.5
"""Spreads from where an edge is expected within which a firing may be its cylinder's."""

_ONE_TURN_OFF = 0.02
_SIGN_TURNED = 0.01
_ANYWHERE = 0.005
"""How often (assumed) an event comes one crank turn from where it is said to: a coil that serves
two cylinders, of whose sparks only the one in the exhaust stroke shows, or an angle counted from
the other top dead centre; how often an angle was entered with the wrong sign; and how often what
is said of the event is plainly wrong, so that it may stand anywhere."""

_DOUBTED = 0.95
_REFUSED_BELOW = 0.10
_STATED_REFUSED_BELOW = 0.50
"""Confidence in the labels below which they are doubted, and below which they are not used:
earlier where a stated angle says one thing and the recording another."""


@dataclass(frozen=True, slots=True)
class LabelWeights:
    """How sure the labels are.

    Parameters
    ----------
    tdc_after_event_deg
        Where the fit puts the sync cylinder's firing top dead centre.
    confidence
        That the labels are right, against a shift by any number of firings; 0 to 1.
    firings
        By how many firings the labels may have to be shifted, likeliest first; 0 alone where
        they stay as they are, more than one where several of a cam's edges fit.
    """

    tdc_after_event_deg: float
    confidence: float
    firings: tuple[int, ...] = (0,)

    def told(self) -> LabelConfidence:
        """Return what a report says of them."""
        return LabelConfidence(
            confidence=round(self.confidence, 3),
            tdc_after_event_deg=round(self.tdc_after_event_deg, 1),
        )


def is_settled(confidence: float) -> bool:
    """Return whether labels of that confidence carry more than the figures."""
    return confidence >= _DOUBTED


@dataclass(frozen=True, slots=True)
class Weighed:
    """A layout's labels, weighed.

    `label` is None where no sync decides the labels alone; `labelings` are those of the layout
    that may be true.
    """

    label: LabelWeights | None
    labelings: tuple[tuple[int, ...], ...]
    findings: list[Finding]

    @property
    def told(self) -> LabelConfidence | None:
        """What a report says of the label; None where there is none."""
        return self.label.told() if self.label else None


def label_of(
    order: FiringOrder,
    mark: CylinderMark,
    tdc_after_event_deg: float,
    others_deg: Sequence[float] = (),
) -> LabelWeights:
    """Weigh the labels as they are against those shifted by one or more firings.

    The event belongs to one of the engine's firings. Each is given the density, at the distance
    that the fit found, of where such an event comes: a bell about the usual or the stated angle;
    a smaller one a crank turn away and, for a stated angle, one where its sign is turned; and a
    low floor all round. The share of the first firing is the confidence. Where firings are even
    the fit cannot tell them apart, so the distance alone decides.

    Of several edges of a cam each may be the one whose angle was stated. The labels then go to
    the firings that fit one of them. Only those count that stand like the first one among the
    others: the layout was chosen by its fit, which tells unlike ones apart.

    Parameters
    ----------
    order
        Counted from the marked cylinder.
    mark
        What was recorded, or marked by hand, and what is known of its angle.
    tdc_after_event_deg
        Fitted firing top dead centre of the sync cylinder after its event.
    others_deg
        How far after that event a cam's other edges come, in crank degrees.

    Raises
    ------
    ValueError
        If nothing is known of the event's angle.
    """
    usual_deg, spread_deg = _expected(mark)
    centres = [(usual_deg, 1.0 - _ONE_TURN_OFF - _ANYWHERE)]
    centres.append((usual_deg + CYCLE_DEG / 2, _ONE_TURN_OFF))
    if mark.angle_deg is not None:
        centres.append((mark.angle_deg + LAG_DEG, _SIGN_TURNED))
    edges = _edges(mark, others_deg)
    firings_deg = order.tdc_angles_deg
    counted = [
        at
        for at, cylinder in enumerate(order.sequence)
        if not others_deg
        or are_alike(order.starting_at(cylinder).intervals_deg, order.intervals_deg)
    ]

    def weight(at: int) -> float:
        return _ANYWHERE / CYCLE_DEG + sum(
            share
            * likely
            * _density(
                _apart_deg(tdc_after_event_deg + firings_deg[at] - edge_deg, centre_deg),
                math.hypot(spread_deg, _EDGE_SPREAD_DEG if edge_deg else 0.0),
                by_hand=mark.by_hand,
            )
            for centre_deg, share in centres
            for edge_deg, likely in edges
        )

    def fits(at: int) -> bool:
        return any(
            abs(_apart_deg(tdc_after_event_deg + firings_deg[at] - edge_deg, usual_deg))
            <= _FITS_WITHIN * math.hypot(spread_deg, _EDGE_SPREAD_DEG if edge_deg else 0.0)
            for edge_deg, _ in edges
        )

    weights = {at: weight(at) for at in counted}
    total = sum(weights.values())
    plain = LabelWeights(tdc_after_event_deg, weights[0] / total)
    if not others_deg:
        return plain
    likeliest = sorted(weights, key=lambda at: -weights[at])
    firings: list[int] = []
    while not is_settled(sum(weights[at] for at in firings) / total):
        firings.append(likeliest[len(firings)])
    if not all(map(fits, firings)):
        return plain  # none of the edges stands where one was stated
    to_first_deg = tdc_after_event_deg + firings_deg[firings[0]]
    return LabelWeights(_apart_deg(to_first_deg, 0.0), weights[firings[0]] / total, tuple(firings))


def weigh_label(
    prepared: Prepared,
    layout: Measured,
    tdc_after_event_deg: float,
    others_deg: Sequence[float] | None = None,
) -> Weighed:
    """Return how sure the labels are, which may be true, and the doubt if there is one.

    Parameters
    ----------
    layout
        How the firing order was laid over the cycle.
    tdc_after_event_deg
        Fitted firing top dead centre of the first cylinder after the event.
    others_deg
        How far after that event a cam's other edges come, in crank degrees; None where cycles
        are counted by the angle.
    """
    mark, labelings = prepared.mark, layout.labelings
    if mark is None or prepared.sync.state != "every-720" or len(labelings) > 1:
        return Weighed(None, labelings, [])
    if others_deg is None:
        others_deg = [CYCLE_DEG * share for share in prepared.sync.others_cycles]
    label = label_of(prepared.order, mark, tdc_after_event_deg, others_deg)
    sequence = labelings[0]
    labelings = tuple(sequence[-at:] + sequence[:-at] if at else sequence for at in label.firings)
    if len(labelings) > 1:
        told = finding("sync-edge-unclear", channel=mark.channel, places=prepared.sync.places)
        return Weighed(label, labelings, [told])
    if is_settled(label.confidence):
        return Weighed(label, labelings, [])
    refused_below = _REFUSED_BELOW if mark.angle_deg is None else _STATED_REFUSED_BELOW
    wording = "which-cylinder"
    if label.confidence < refused_below:
        wording = "hand-mismatch" if mark.by_hand else "sync-mismatch"
    why = _doubt(mark, label, min(prepared.order.intervals_deg))
    return Weighed(label, labelings, [finding(wording, channel=mark.channel, why=why)])


def _edges(mark: CylinderMark, others_deg: Sequence[float]) -> list[tuple[float, float]]:
    """Return how far each edge comes after the first one, and how likely it is the one stated."""
    if not others_deg:
        return [(0.0, 1.0)]
    known = mark.of_first_edge and _is_longest_clear(others_deg)
    first = _OF_FIRST_EDGE if known else 1.0 / (1 + len(others_deg))
    return [(0.0, first), *((deg, (1.0 - first) / len(others_deg)) for deg in others_deg)]


def _is_longest_clear(others_deg: Sequence[float]) -> bool:
    """Return whether the pause before the first edge is the longest in every capture."""
    edges_deg = (0.0, *sorted(others_deg))
    pauses_deg = [late - early for early, late in pairwise(edges_deg)]
    return CYCLE_DEG - edges_deg[-1] > max(pauses_deg) + _LONGEST_BY_DEG


def _doubt(mark: CylinderMark, label: LabelWeights, apart_deg: float) -> Text:
    off_deg, apart = label.tdc_after_event_deg, f"{apart_deg:.0f}"
    if mark.angle_deg is not None:
        found_deg = _nearest_turn(LAG_DEG - off_deg, mark.angle_deg)
        return say(
            "the event was entered at {entered} degrees from the firing top dead centre of "
            "cylinder {cylinder}, the nearest place that fits is {found} degrees, and firings are "
            "{apart} degrees apart",
            entered=f"{mark.angle_deg:.0f}",
            cylinder=mark.cylinder,
            found=f"{found_deg:.0f}",
            apart=apart,
        )
    off = f"{abs(off_deg):.0f}"
    if off_deg > 0:
        return say(
            "the event is {off} degrees before the nearest top dead centre, and firings are "
            "{apart} degrees apart",
            off=off,
            apart=apart,
        )
    return say(
        "the event is {off} degrees after the nearest top dead centre, and firings are {apart} "
        "degrees apart",
        off=off,
        apart=apart,
    )


def _expected(mark: CylinderMark) -> tuple[float, float]:
    """Return mean and spread of the top dead centre after the event, in degrees."""
    if mark.angle_deg is not None:
        spread_deg = math.hypot(mark.angle_spread_deg or _STATED_SPREAD_DEG, _LAG_SPREAD_DEG)
        usual_deg = LAG_DEG - mark.angle_deg
    elif mark.event in _USUAL_DEG:
        usual_deg, spread_deg = _USUAL_DEG[mark.event]
    else:
        raise ValueError("an event of unknown angle ties no cylinder")
    if mark.by_hand:
        spread_deg = math.hypot(spread_deg, _BY_EYE_DEG)
    return usual_deg, spread_deg


def _density(off_deg: float, spread_deg: float, *, by_hand: bool) -> float:
    off = off_deg / spread_deg
    if by_hand:
        # slips of the hand have no bell's thin tails: Student's t of three degrees
        return 2 / (math.pi * math.sqrt(3)) * (1 + off * off / 3) ** -2 / spread_deg
    return math.exp(-off * off / 2) / (math.sqrt(2 * math.pi) * spread_deg)


def _apart_deg(one_deg: float, other_deg: float) -> float:
    return (one_deg - other_deg + CYCLE_DEG / 2) % CYCLE_DEG - CYCLE_DEG / 2


def _nearest_turn(angle_deg: float, to_deg: float) -> float:
    """Return the same place of the cycle, counted as `to_deg` is."""
    return to_deg + _apart_deg(angle_deg, to_deg)
