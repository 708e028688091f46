"""First method: how high each compression hump stands above its gaps.

The current itself misleads beside a weak cylinder: its charge has little left to push with, the
crank comes slower into the next compression, and that hump stands higher. What the load asks of
the starter is the current plus what speeds up or slows the masses. With s = w0 (1 - I / I_stall)
the second part is proportional to dI/dt, so load = I + tau dI/dt, and humps are read on that.
Lobes of neighbours overlap; the readings are freed from each other with the lobe of a sound
cylinder.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from engines.core.firing import CYCLE_DEG, FiringOrder
from shopdiag.people.core.words import say
from traces.core.compression import STEP_DEG, best_offset, hump_readings, lobe_mix
from traces.core.crank import Cranking
from traces.core.findings import Finding, finding
from traces.core.humps.hump_marks import mark_humps, typical_heights
from traces.core.preparation import Measured, Prepared
from traces.core.report import Hump
from traces.core.waveform import Floats

INERTIA_S = 0.03
"""tau = J w0 / (k I_stall): crank and starter inertia (0.2 + 0.15 kg m2), no-load speed at the
crank 35 rad/s, 250 N m and over at stall: 20 to 50 ms (inertias: FACTS of car makers' data
sheets; speeds and torques from memory). Figures hardly move between 15 and 35 ms."""

_LEADS_DEG = np.arange(-36.0, 13.0)
"""Where load humps stand from an event near top dead centre: the torque of compression peaks
22 degrees before it, the event comes up to 10 before it, the filter's lag moves both."""

_MIDDLE_DEG = -12.0
_BY_EYE_REACH_DEG = 36.0
"""About the middle for events marked by hand, which are some 10 degrees off (8 ms at 200 rpm)."""

_CLEARLY = 1.25
_BESIDE_DEG = 15.0
_SAME_PLACES_DEG = 12.0
"""Firings of two layouts within so much of each other are the same humps."""

_AS_GOOD = 0.95  # of the best contrast: another way to lay the firing order that may be true
_SOUND_ERROR = 0.05
_WEAK_ERROR = 0.08

Labeling = tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Layout:
    """One way to lay the firing order over the cycle.

    `order` starts with position 1; `labelings` are the cylinders that may stand at each
    position; `contrast` is how high humps stand above their gaps on the whole.
    """

    order: FiringOrder
    offset_deg: float
    contrast: float
    labelings: tuple[Labeling, ...]


class HumpMethod:
    """Hump readings, corrected for inertia and overlap.

    Parameters
    ----------
    anywhere
        Look for the humps of teeth as far from an event of stated angle as those of a current.
    """

    name = "humps"

    def __init__(self, *, anywhere: bool = False) -> None:
        self._anywhere = anywhere

    def measure(self, prepared: Prepared) -> Measured:
        """Read every hump of every steady cycle; strengths are amps of load current."""
        conditioned = prepared.cranking.conditioned
        load = load_current(conditioned.current_a, conditioned.rate_hz)
        layouts = _layouts(prepared, load, anywhere=self._anywhere)
        first, *others = layouts
        # of two humps one may be missing: the contrast says nothing of where it should be
        as_good = 0.3 if len(prepared.order) == 2 else _AS_GOOD
        good = [layout for layout in others if layout.contrast >= as_good * first.contrast > 0]
        return replace(
            _measured(prepared, load, first),
            alternatives=tuple(_measured(prepared, load, layout) for layout in good),
        )


def load_current(current_a: Floats, rate_hz: float) -> Floats:
    """Return what the load asks of the starter, in amps: I + tau dI/dt."""
    return current_a + INERTIA_S * np.gradient(current_a) * rate_hz


def fold(cranking: Cranking, signal_a: Floats, from_deg: float) -> Floats:
    """Cut a signal into whole cycles of the steady part by crank angle.

    Parameters
    ----------
    cranking
        For angle and steady part.
    signal_a
        On the grid of the conditioned current, shape (samples,).
    from_deg
        Where a cycle is cut, in degrees from an angle of 0.

    Returns
    -------
    Floats
        Shape (cycles, 360): values at 0, 2, 4 ... degrees of each cycle.
    """
    angle = cranking.angle_deg
    begin, end = angle[cranking.steady.start], angle[cranking.steady.stop - 1]
    first = int(np.ceil((begin - from_deg) / CYCLE_DEG - 0.02))
    last = int(np.floor((end - from_deg) / CYCLE_DEG + 0.02))
    grid = np.arange(0.0, CYCLE_DEG, STEP_DEG)
    inside = from_deg + (grid - from_deg) % CYCLE_DEG
    turns = np.arange(first, last, dtype=np.float64)
    if cranking.left_out_s:
        turns = turns[_wanted(cranking, from_deg + CYCLE_DEG * turns)]
    at = inside + CYCLE_DEG * turns[:, None]
    return np.asarray(np.interp(at, angle, signal_a), dtype=np.float64)


def _wanted(cranking: Cranking, begin_deg: Floats) -> NDArray[np.bool_]:
    """Return which cycles, by where they begin, a person did not leave out."""
    times_s = cranking.conditioned.times_s
    begin_s = np.interp(begin_deg, cranking.angle_deg, times_s)
    end_s = np.interp(begin_deg + CYCLE_DEG, cranking.angle_deg, times_s)
    left_out = [cranking.is_left_out(*ends) for ends in zip(begin_s, end_s, strict=True)]
    return ~np.array(left_out, dtype=np.bool_)


def _layouts(prepared: Prepared, load: Floats, *, anywhere: bool) -> list[_Layout]:
    """Return the ways to lay the firing order, most likely first."""
    order = prepared.order
    usual = np.median(fold(prepared.cranking, load, 0.0), axis=0)
    if prepared.mark is None:
        return _free_layouts(usual, order)
    leads_deg = _leads(prepared, anywhere=anywhere)
    if prepared.sync.state == "every-720":
        return _edge_layouts(prepared, usual, leads_deg)
    return _half_turn_layouts(usual, order, leads_deg)


def _edge_layouts(prepared: Prepared, usual: Floats, leads_deg: Floats) -> list[_Layout]:
    """Return where humps may stand from the event.

    Of several edges of a cam any may be the one whose angle was stated. Where firing is even the
    layouts are alike, and the one that needs the least correction stands for all; else each is
    one of its own, and how well it fits tells which. Which cylinders that means the methods
    weigh.
    """
    order = prepared.order
    middle_deg = float(leads_deg.mean())
    found: list[tuple[float, _Layout]] = []
    for edge_deg in _edges_deg(prepared):
        offset_deg, contrast = best_offset(usual, order, leads_deg + edge_deg)
        layout = _Layout(order, offset_deg, contrast, (order.sequence,))
        found.append((abs(offset_deg - middle_deg - edge_deg), layout))
    layouts: list[_Layout] = []
    for _, layout in sorted(found, key=lambda pair: pair[0]):
        if not any(_are_one(layout, other) for other in layouts):
            layouts.append(layout)
    return sorted(layouts, key=lambda layout: -layout.contrast)


def _edges_deg(prepared: Prepared) -> Iterator[float]:
    """Yield how far after the event each edge comes, in crank degrees."""
    yield 0.0
    cranking, sync = prepared.cranking, prepared.sync
    count = np.interp(sync.events_s, cranking.conditioned.times_s, cranking.cycle_count)
    for share in sync.others_cycles:
        from_deg, to_deg = (
            np.interp(at, cranking.cycle_count, cranking.angle_deg) for at in (count, count + share)
        )
        yield float(np.median(to_deg - from_deg))


def _are_one(one: _Layout, other: _Layout) -> bool:
    """Return whether two layouts have firings at the same places, whichever these are."""
    at_deg = np.array(one.order.tdc_angles_deg)
    off_deg = (at_deg[:, None] - at_deg + one.offset_deg - other.offset_deg) % CYCLE_DEG
    nearest_deg = np.minimum(off_deg, CYCLE_DEG - off_deg).min(axis=1)
    return bool(nearest_deg.max() < _SAME_PLACES_DEG)


def _leads(prepared: Prepared, *, anywhere: bool) -> Floats:
    """Return where load humps may stand from the event.

    Ignition and diesel injection happen near top dead centre. An event of stated angle stands
    that much elsewhere; up to half the gap to the next firing is looked at, so that an angle that
    does not fit is seen. What was marked by eye may stand a little beside its place.
    """
    mark, gap_deg = prepared.mark, min(prepared.order.intervals_deg)
    if mark is None or (mark.angle_deg is None and not mark.by_hand):
        return _LEADS_DEG
    middle_deg = _MIDDLE_DEG - (mark.angle_deg or 0.0)
    reach = gap_deg / 2 - 2.0
    if mark.angle_deg is None:
        reach = min(reach, _BY_EYE_REACH_DEG)
    of_signal = prepared.setup.kind.event_reach_deg
    if of_signal is not None and not anywhere:
        reach = min(reach, of_signal)
    return np.arange(np.ceil(middle_deg - reach), np.floor(middle_deg + reach) + 1.0)


def _half_turn_layouts(usual: Floats, order: FiringOrder, leads_deg: Floats) -> list[_Layout]:
    """Events every 360 degrees: the sync cylinder fires at one or at the other."""
    here_deg, here = best_offset(usual, order, leads_deg)
    there_deg, there = best_offset(usual, order, leads_deg + CYCLE_DEG / 2)
    companion = order.companion_of(order.sequence[0])
    if companion is not None and _same_angles(order, order.starting_at(companion)):
        swapped = order.starting_at(companion).sequence
        return [_Layout(order, here_deg, here, (order.sequence, swapped))]
    layouts = [
        _Layout(order, here_deg, here, (order.sequence,)),
        _Layout(order, there_deg, there, (order.sequence,)),
    ]
    return sorted(layouts, key=lambda layout: -layout.contrast)


def _free_layouts(usual: Floats, order: FiringOrder) -> list[_Layout]:
    """No sync: any firing may be the first; uneven spacing narrows it down."""
    layouts: list[_Layout] = []
    done: list[tuple[float, ...]] = []
    for cylinder in order.sequence:
        turned = order.starting_at(cylinder)
        if any(_close(turned.tdc_angles_deg, angles) for angles in done):
            continue
        done.append(turned.tdc_angles_deg)
        # the first hump of the steady part comes within the gap before the first firing
        offsets = np.arange(0.0, turned.intervals_deg[-1], 1.0)
        offset_deg, contrast = best_offset(usual, turned, offsets)
        alike = tuple(
            order.starting_at(other).sequence
            for other in order.sequence
            if _same_angles(turned, order.starting_at(other))
        )
        layouts.append(_Layout(turned, offset_deg, contrast, alike))
    return sorted(layouts, key=lambda layout: -layout.contrast)


def _check_event(prepared: Prepared, usual: Floats, layout: _Layout) -> tuple[Finding, ...]:
    """Refuse an event that falls between two humps: either could be its cylinder's."""
    mark = prepared.mark
    if mark is None or mark.angle_deg is not None:
        return ()  # the twin weighs a stated angle
    reach = min(layout.order.intervals_deg) / 2
    around = np.arange(np.ceil(layout.offset_deg - reach), layout.offset_deg + reach)
    there_deg, contrast = best_offset(usual, layout.order, around)
    beside_deg = abs(there_deg - layout.offset_deg)
    if contrast <= _CLEARLY * layout.contrast or beside_deg < _BESIDE_DEG:
        return ()
    why = say("they are {deg} degrees from the nearest hump", deg=f"{abs(there_deg):.0f}")
    wording = "hand-mismatch" if mark.by_hand else "sync-mismatch"
    return (finding(wording, channel=mark.channel, why=why),)


def _measured(prepared: Prepared, load: Floats, layout: _Layout) -> Measured:
    order = layout.order
    cut_deg = layout.offset_deg - order.intervals_deg[-1] / 2
    cycles = fold(prepared.cranking, load, cut_deg)
    mix = lobe_mix(order, prepared.setup.fuel)
    readings = hump_readings(cycles, order, layout.offset_deg)
    per_cycle = readings @ np.linalg.pinv(mix.matrix).T
    strengths = np.median(per_cycle, axis=0)
    cylinders = layout.labelings[0] if len(layout.labelings) == 1 else None
    humps = _in_cycles_wanted(
        prepared.cranking, mark_humps(prepared.cranking, order, layout.offset_deg, cylinders)
    )
    sound = max(float(strengths.max()), 1e-12)
    weakness = np.clip(1.0 - strengths / sound, 0.0, 1.0)
    usual = np.median(cycles, axis=0)
    fitted = mix.expected(strengths, layout.offset_deg)
    return Measured(
        strengths=strengths,
        per_cycle=per_cycle,
        method_errors=_SOUND_ERROR + _WEAK_ERROR * weakness,
        hump_strengths=typical_heights(humps, len(order)),
        labelings=layout.labelings,
        humps=humps,
        offset_deg=layout.offset_deg,
        explained=_explained(usual, fitted),
        findings=_check_event(prepared, usual, layout),
    )


def _in_cycles_wanted(cranking: Cranking, humps: tuple[Hump, ...]) -> tuple[Hump, ...]:
    spans = cranking.left_out_s
    return tuple(h for h in humps if not any(a < h.at_s < b for a, b in spans))


def _explained(usual: Floats, fitted: Floats) -> float:
    one, other = usual - usual.mean(), fitted - fitted.mean()
    size = float(np.sqrt((one @ one) * (other @ other)))
    likeness = float(one @ other) / size if size > 0 else 0.0
    return max(0.0, likeness) ** 2


def _same_angles(one: FiringOrder, other: FiringOrder) -> bool:
    return _close(one.tdc_angles_deg, other.tdc_angles_deg)


def _close(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return bool(np.allclose(one, other, atol=1.0))
