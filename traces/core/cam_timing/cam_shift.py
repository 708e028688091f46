"""Cams beside a known-good recording of the same engine: how late each is, and what moved."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from traces.core.cam_timing.cam_edges import CYCLE_DEG, CamTrace, around
from traces.core.cam_timing.cam_error import CamError
from traces.core.cam_timing.cam_reading import CamReading, angles_of, half_width_deg
from traces.core.cam_timing.crank_angle import Side
from traces.core.report import CamBeside, CamCall, CamFigures, CamPlace, CamsFigures, Interval
from traces.core.setup import Valves
from traces.core.waveform import Floats

_MOST_UNEVEN_DEG = 4.0
_FAR_DEG = 45.0
"""Farther than three teeth of any usual sprocket: rather another wheel, or another engine."""
_AS_GOOD_DEG = 25.0
IN_PLACE_DEG = 3.0
"""Chains, tensioners and sensors of sound engines differ by less (our own estimate)."""
_SURELY_DEG = 2.0
_TOOTH_WITHIN_DEG = 2.5
_ALIKE_DEG = 1.5
_LEAST_DEG = 0.5
"""What fitting a sensor anew leaves unknown of any shift (our own estimate)."""


@dataclass(frozen=True, slots=True)
class _Shift:
    """One cam laid on the known-good one."""

    mean_deg: float
    uneven_deg: float
    half_deg: float


@dataclass(frozen=True, slots=True)
class _Lay:
    """All cams laid on the known-good ones, with the crank's wheel turned by some repeats."""

    shifts: tuple[_Shift, ...]

    @property
    def farthest_deg(self) -> float:
        return max(abs(shift.mean_deg) for shift in self.shifts)


def beside_good_cams(
    now: CamReading, good: CamReading, good_name: str, sprocket_teeth: int | None = None
) -> CamsFigures:
    """Lay cams beside those of a known-good recording of the same engine.

    Parameters
    ----------
    now, good
        Both recordings; cams in the same order.
    good_name
        What the known-good one is called.
    sprocket_teeth
        Teeth of the cam's sprocket.

    Raises
    ------
    CamError
        If the wheels or the cams' edges are not alike, or nothing tells by how much they moved.
    """
    side = _shared_side(now, good)
    if now.cranks[side].state != good.cranks[side].state:
        raise CamError("other-state", file=good_name)
    crank, good_crank = now.cranks[side], good.cranks[side]
    if (crank.teeth, crank.pattern) != (good_crank.teeth, good_crank.pattern):
        raise CamError("other-wheel", wheel=crank.pattern, good=good_crank.pattern)
    lays = sorted(_lays(now, good, side), key=lambda lay: lay.farthest_deg)
    if not lays:
        raise CamError("other-pattern", file=good_name)
    best = lays[0]
    if best.farthest_deg > _FAR_DEG:
        raise CamError("far", degrees=f"{best.farthest_deg:.0f}", file=good_name)
    others = [lay for lay in lays[1:] if _differs(lay, best)]
    if others and others[0].farthest_deg < best.farthest_deg + _AS_GOOD_DEG:
        raise CamError("several-ways", file=good_name)
    figures = now.figures(side)
    cams = tuple(
        replace(cam, beside=_beside(shift, sprocket_teeth))
        for cam, shift in zip(figures.cams, best.shifts, strict=True)
    )
    moved, bank = what_moved(cams)
    return replace(figures, cams=cams, known_good=good_name, moved=moved, moved_bank=bank)


def _shared_side(now: CamReading, good: CamReading) -> Side:
    """Return the side that makes the clearer wheel in both: the other one stands elsewhere.

    Raises
    ------
    CamError
        If no side shows the wheel in both.
    """
    shared = [side for side in now.cranks if side in good.cranks]
    if not shared:
        raise CamError(
            "other-wheel",
            wheel=next(iter(now.cranks.values())).pattern,
            good=next(iter(good.cranks.values())).pattern,
        )
    return min(shared, key=lambda side: now.cranks[side].doubt + good.cranks[side].doubt)


def _lays(now: CamReading, good: CamReading, side: Side) -> Iterator[_Lay]:
    """Yield each way in which all cams lie on the known-good ones."""
    crank, good_crank = now.cranks[side], good.cranks[side]
    for turned_deg in np.arange(0.0, CYCLE_DEG, crank.repeats_deg):
        shifts: list[_Shift] = []
        for cam, good_cam in zip(now.traces[side], good.traces[side], strict=True):
            shift = _nearest(cam, good_cam, float(turned_deg))
            if shift is None:
                break
            chance = [
                half_width_deg(edge, angle, reading.sample_s)
                for trace, angle, reading in (
                    (cam, crank, now),
                    (good_cam, good_crank, good),
                )
                for edge in trace.edges
            ]
            half_deg = _half_deg(chance, shift, len(cam.edges))
            shifts.append(replace(shift, half_deg=half_deg))
        else:
            yield _Lay(tuple(shifts))


def _half_deg(chance: Sequence[float], shift: _Shift, edges: int) -> float:
    """Return half of the 95 % interval of a shift: chance, edges unlike, a sensor fitted anew."""
    mean = float(np.sqrt(np.sum(np.square(chance)))) / edges
    unlike = 2.0 * shift.uneven_deg / np.sqrt(edges)
    return float(np.sqrt(mean**2 + unlike**2 + _LEAST_DEG**2))


def _nearest(cam: CamTrace, good: CamTrace, turned_deg: float) -> _Shift | None:
    """Return the least shift that lays each edge on one of its side; None if none does."""
    if len(cam.edges) != len(good.edges):
        return None
    sides = [edge.side for edge in cam.edges]
    good_sides = [edge.side for edge in good.edges]
    angles, good_angles = angles_of(cam), angles_of(good)
    found: list[_Shift] = []
    for first in range(len(sides)):
        if sides[first:] + sides[:first] != good_sides:
            continue
        off = _off(np.roll(angles, -first), good_angles + turned_deg)
        uneven = float(off.std(ddof=1)) if off.size > 1 else 0.0
        if uneven < _MOST_UNEVEN_DEG:
            found.append(_Shift(float(around(float(off.mean()))), uneven, 0.0))
    return min(found, key=lambda shift: abs(shift.mean_deg), default=None)


def _off(angles: Floats, good: Floats) -> Floats:
    """Return the differences, none of them a whole cycle from the first."""
    off = angles - good
    return np.asarray(off[0] + (off - off[0] + 360.0) % CYCLE_DEG - 360.0)


def _differs(lay: _Lay, best: _Lay) -> bool:
    pairs = zip(lay.shifts, best.shifts, strict=True)
    return any(abs(one.mean_deg - other.mean_deg) > _SURELY_DEG for one, other in pairs)


def _beside(shift: _Shift, sprocket_teeth: int | None) -> CamBeside:
    mean, half = shift.mean_deg, shift.half_deg
    a_tooth = CYCLE_DEG / sprocket_teeth if sprocket_teeth else None
    whole: int | None = None
    call = cam_call(mean, half)
    if a_tooth and call in ("late", "early"):
        nearest = round(mean / a_tooth)
        if nearest and abs(mean - nearest * a_tooth) <= max(_TOOTH_WITHIN_DEG, half):
            whole = nearest
    return CamBeside(
        later_deg=Interval(round(mean, 2), round(mean - half, 2), round(mean + half, 2)),
        sprocket_teeth=sprocket_teeth,
        later_teeth=round(mean / a_tooth, 2) if a_tooth else None,
        whole_teeth=whole,
        uneven_deg=round(shift.uneven_deg, 2),
        call=call,
    )


def cam_call(later_deg: float, half_deg: float) -> CamCall:
    """Call a shift: in place, late, early, or not settled.

    Parameters
    ----------
    later_deg, half_deg
        The shift and half of its interval.
    """
    if abs(later_deg) + half_deg < IN_PLACE_DEG + 1.0 and abs(later_deg) <= IN_PLACE_DEG:
        return "in-place"
    if abs(later_deg) > IN_PLACE_DEG and abs(later_deg) - half_deg > _SURELY_DEG:
        return "late" if later_deg > 0 else "early"
    return "not-settled"


def what_moved(cams: Sequence[CamFigures]) -> tuple[CamPlace, int | None]:
    """Return what the cams that moved have in common, and the bank where it is one."""
    calls = [cam.beside.call for cam in cams if cam.beside]
    gone = [cam for cam in cams if cam.beside and cam.beside.call in ("late", "early")]
    if "not-settled" in calls or not gone:
        return ("open" if "not-settled" in calls else "none"), None
    shared = _shared(gone, cams)
    if shared in ("all", "bank") and not _alike(gone):
        shared = "mixed"
    return shared, gone[0].bank if shared in ("bank", "one-cam") else None


def _shared(gone: Sequence[CamFigures], cams: Sequence[CamFigures]) -> CamPlace:
    """Return the smallest group that holds all cams that moved, and no other."""
    if len(gone) == len(cams):
        return "all"
    banks = {cam.bank for cam in gone}
    if banks in ({1}, {2}) and all(cam in gone for cam in cams if cam.bank in banks):
        return "bank"
    if len(gone) == 1:
        return "one-cam"
    kinds: tuple[Valves, Valves] = ("intake", "exhaust")
    return next((kind for kind in kinds if all(cam.valves == kind for cam in gone)), "mixed")


def _alike(cams: Sequence[CamFigures]) -> bool:
    """Return whether all moved by the same."""
    shifts = [cam.beside.later_deg for cam in cams if cam.beside]
    return max(s.low for s in shifts) <= min(s.high for s in shifts) + _ALIKE_DEG
