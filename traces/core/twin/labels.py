"""How sure it is which cylinder is which: where the sync event stands from top dead centre.

How low a cylinder is and which one it is are two questions. Humps of an evenly firing engine
look the same whichever cylinder is called the first; only the sync event tells, by standing
near the top dead centre of its cylinder. The fit finds how far the event stands from the nearest
firing; this module weighs that against the firing before and the one after.
"""

import math
from dataclasses import dataclass

from engines.core.firing import FiringOrder
from traces.core.hand import MarkedEvent

_USUAL_DEG: dict[MarkedEvent, tuple[float, float]] = {
    "ignition": (9.0, 8.0),
    "injector": (4.0, 10.0),
    "cam": (0.0, 25.0),
    "tdc": (3.0, 5.0),
}
"""Top dead centre after the event, mean and spread. Spark while cranking comes 5 to 10 degrees
before it (from memory), the model's own lag is a few more; a diesel injector is told to open
near it; a cam edge is wherever its maker put it, so it says little; of top dead centre itself
only the lag is left."""

_BY_EYE_DEG = 10.0
"""Spread of a mark by hand about the event: 8 ms at 200 rpm (estimate)."""


@dataclass(frozen=True, slots=True)
class Label:
    """How sure the labels are.

    Parameters
    ----------
    tdc_after_event_deg
        Where the fit puts the sync cylinder's firing top dead centre.
    confidence
        That the labels are right, against a shift by one firing either way; 0 to 1.
    """

    tdc_after_event_deg: float
    confidence: float


def label_of(
    order: FiringOrder, event: MarkedEvent, tdc_after_event_deg: float, *, by_hand: bool = False
) -> Label:
    """Weigh the labels as they are against those shifted by one firing.

    Parameters
    ----------
    order
        Counted from the marked cylinder.
    event
        What was recorded, or marked by hand.
    tdc_after_event_deg
        Fitted firing top dead centre of the sync cylinder after its event.
    by_hand
        Whether a person marked it, by eye.
    """
    usual, spread = _USUAL_DEG[event]
    if by_hand:
        spread = math.hypot(spread, _BY_EYE_DEG)
    before, after = -order.intervals_deg[-1], order.intervals_deg[0]

    def weight(shift_deg: float) -> float:
        off = (tdc_after_event_deg + shift_deg - usual) / spread
        if by_hand:
            # slips of the hand have no bell's thin tails: Student's t of three degrees
            return (1 + off * off / 3) ** -2
        return math.exp(-off * off / 2)

    here = weight(0.0)
    total = here + weight(before) + weight(after)
    return Label(tdc_after_event_deg, here / total if total > 0 else 0.0)
