"""Which firing is whose: the events of the sync channel laid on the crank's angle."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from engines.core.firing import CYCLE_DEG, FiringOrder
from shopdiag.people.core.words import Text, say
from traces.core.setup import AnalysisSetup, Fuel, SyncSetup
from traces.core.signals import ToothTrack
from traces.core.waveform import Floats

State: TypeAlias = Literal["none", "missing", "no-angle", "every-360", "every-720"]

_USUAL_DEG = {"ignition": -10.0, "injector": -6.0}
"""From firing top dead centre, while idling: timing is some degrees to 20 before it (common
practice)."""

_WITHIN_DEG = 25.0
_FEWEST = 4
_MOST_ASTRAY = 0.25


class MarksError(ValueError):
    """The events do not fit the engine; `why` is the rest of a sentence."""

    def __init__(self, why: Text) -> None:
        super().__init__(why)
        self.why = why


@dataclass(frozen=True, slots=True)
class FiringMarks:
    """Where firings stand, and whose they may be.

    Parameters
    ----------
    state
        What the sync channel is worth.
    first_deg
        Crank angle, as the teeth count it, of a firing top dead centre of the first cylinder of
        each of `sequences`; None where nothing tells it.
    sequences
        The cylinders in firing sequence from there, once for each numbering that fits.
    events
        How many events count.
    """

    state: State
    first_deg: float | None
    sequences: tuple[tuple[int, ...], ...]
    events: int = 0

    @property
    def settles(self) -> bool:
        """Whether it is clear whose firing is whose."""
        return len(self.sequences) == 1


def firing_marks(events_s: Floats | None, track: ToothTrack, setup: AnalysisSetup) -> FiringMarks:
    """Lay the sync's events on the crank's angle.

    Parameters
    ----------
    events_s
        Of the sync channel while the engine idles; None where none was recorded.

    Raises
    ------
    MarksError
        If they keep to no place of the cycle, or come more often than was said.
    """
    order, sync = setup.firing_order, setup.sync
    if events_s is None or sync is None:
        return FiringMarks("none", None, _rotations(order))
    if events_s.size < _FEWEST:
        return FiringMarks("missing", None, _rotations(order), events_s.size)
    at_deg = np.interp(events_s, track.times_s, track.angle_deg)
    place_deg = _place_deg(at_deg, sync)
    usual_deg = _from_tdc_deg(sync, setup.fuel)
    if usual_deg is None:
        return FiringMarks("no-angle", None, _rotations(order), events_s.size)
    first_deg = (place_deg - usual_deg) % CYCLE_DEG
    own = order.starting_at(sync.cylinder)
    if sync.every_deg == CYCLE_DEG:
        return FiringMarks("every-720", first_deg, (own.sequence,), events_s.size)
    other = own.companion_of(sync.cylinder)
    if other is None:
        # a turn on no cylinder fires: only the place of the teeth would tell which turn it is
        return FiringMarks("every-360", None, _rotations(order), events_s.size)
    both = (own.sequence, own.starting_at(other).sequence)
    return FiringMarks("every-360", first_deg, both, events_s.size)


def _place_deg(at_deg: Floats, sync: SyncSetup) -> float:
    """Return where events stand in the cycle, or in the turn where they come every turn."""
    every = float(sync.every_deg)
    turned = np.exp(2j * np.pi * at_deg / every)
    middle = turned.sum()
    if abs(middle) < 0.5 * at_deg.size:
        raise MarksError(_often(at_deg, sync))
    off_deg = np.angle(turned * np.conj(middle)) * every / (2 * np.pi)
    if float(np.mean(np.abs(off_deg) > _WITHIN_DEG)) > _MOST_ASTRAY:
        raise MarksError(_often(at_deg, sync))
    return float(np.angle(middle) * every / (2 * np.pi)) % every


def _often(at_deg: Floats, sync: SyncSetup) -> Text:
    apart_deg = float(np.median(np.diff(at_deg)))
    if sync.every_deg == CYCLE_DEG and abs(apart_deg - CYCLE_DEG / 2) < _WITHIN_DEG:
        return say("they come every 360 degrees and are set up as every 720")
    return say("they keep to no one place of the engine's cycle")


def _from_tdc_deg(sync: SyncSetup, fuel: Fuel) -> float | None:
    if sync.angle_deg is not None:
        return sync.angle_deg
    if sync.event == "injector" and fuel != "diesel":
        return None
    return _USUAL_DEG.get(sync.event)


def _rotations(order: FiringOrder) -> tuple[tuple[int, ...], ...]:
    return tuple(order.starting_at(cylinder).sequence for cylinder in order.sequence)
