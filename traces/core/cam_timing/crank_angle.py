"""Crank angle at every moment, counted from the mark of the crank's tooth wheel."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from engines.core.firing import FiringOrder
from shopdiag.people.core.words import NOTHING
from traces.core.cam_timing.cam_error import CamError
from traces.core.setup import ToothWheel
from traces.core.signals import ToothTrack, WheelError, clearest_track
from traces.core.waveform import Floats

Side: TypeAlias = Literal["rising", "falling"]
SIDES: tuple[Side, Side] = ("rising", "falling")

_RUNS_FROM_RPM = 450.0
_LEAST_CYCLES = 3.0
_SEEN = 0.5  # of the turns: a place with an edge in more has a tooth
_OFF_PLACE = 0.15  # of a place: edges farther from one stand between two
_BETWEEN_SEEN = 0.6


@dataclass(frozen=True, slots=True, eq=False)
class CrankAngle:
    """Where the crank stood when.

    Parameters
    ----------
    side
        Which edges of the teeth are counted.
    times_s, angle_deg
        Of each, shape (edges,); 0 degrees is the first tooth after the largest gap, or after the
        additional tooth.
    teeth, pattern
        Places of the wheel in a turn, and the wheel as it is written.
    repeats_deg
        After how many degrees the wheel looks the same: 360 where its mark comes once a turn.
    state
        Whether the starter turned it, or the engine ran.
    doubt
        How rough the speed is that the edges make.
    """

    side: Side
    times_s: Floats
    angle_deg: Floats
    teeth: int
    pattern: str
    repeats_deg: float
    state: Literal["cranking", "running"]
    doubt: float

    @property
    def cycles(self) -> float:
        """Engine cycles recorded."""
        return float(self.angle_deg[-1] - self.angle_deg[0]) / 720.0

    @property
    def rpm(self) -> float:
        """Mean speed."""
        return self.cycles * 120.0 / float(self.times_s[-1] - self.times_s[0])

    def at(self, times_s: Floats) -> Floats:
        """Return the crank angle at times within the recording, shape (times,).

        Between teeth the speed changes smoothly (monotone cubic), also across a gap.
        """
        curve = PchipInterpolator(self.times_s, self.angle_deg)
        return np.asarray(curve(times_s), dtype=np.float64)

    def within(self, times_s: Floats) -> Floats:
        """Return the times between the first and last edge."""
        first, last = np.searchsorted(times_s, (self.times_s[0], self.times_s[-1]))
        return times_s[int(first) : int(last)]


def crank_angles(
    edges: Sequence[Floats],
    wheel: ToothWheel,
    order: FiringOrder | None = None,
    *,
    running: bool = False,
) -> dict[Side, CrankAngle]:
    """Tie each side's edges to crank angle.

    Parameters
    ----------
    edges
        Rising and falling ones of the crank sensor, each of shape (edges,).
    wheel
        What the person knows of it.
    order
        The engine's, whose compressions tell equal sectors of a wheel from whole turns.
    running
        Whether the engine ran; else only what the starter turned counts.

    Returns
    -------
    dict
        By side, the clearer one first; a side that makes no wheel is left out.

    Raises
    ------
    CamError
        If neither side makes a wheel with a mark in it, or too little is recorded.
    """
    found: dict[Side, CrankAngle] = {}
    problem: CamError | None = None
    for side, times_s in zip(SIDES, edges, strict=True):
        try:
            found[side] = _crank_angle(side, times_s, wheel, order, running=running)
        except CamError as error:
            if problem is None or problem.trouble == "wheel":
                problem = error
    if not found:
        raise problem or CamError("wheel", reason=NOTHING)
    clearest = min(found.values(), key=lambda angle: angle.doubt)
    # a side that makes another wheel than the clearer one has edges where no teeth end
    alike = {s: a for s, a in found.items() if a.pattern == clearest.pattern}
    return dict(sorted(alike.items(), key=lambda item: item[1].doubt))


def _crank_angle(
    side: Side, times_s: Floats, wheel: ToothWheel, order: FiringOrder | None, *, running: bool
) -> CrankAngle:
    try:
        track = clearest_track([times_s], wheel, order, running=running)
    except WheelError as error:
        raise CamError("wheel", reason=error.args[0]) from None
    cycles = float(track.angle_deg[-1]) / 720.0
    if cycles < _LEAST_CYCLES:
        raise CamError("few-cycles", cycles=f"{cycles:.1f}", least=f"{_LEAST_CYCLES:.0f}")
    first_deg, repeats_deg = _mark(times_s, track)
    return CrankAngle(
        side=side,
        times_s=track.times_s,
        angle_deg=track.angle_deg - first_deg,
        teeth=track.teeth,
        pattern=track.pattern,
        repeats_deg=repeats_deg,
        state="running" if track.usual_rpm > _RUNS_FROM_RPM else "cranking",
        doubt=track.doubt,
    )


def _mark(times_s: Floats, track: ToothTrack) -> tuple[float, float]:
    """Return the track's angle of the wheel's first tooth, and after how much it looks the same.

    Raises
    ------
    CamError
        If the wheel has no mark.
    """
    a_place = 360.0 / track.teeth
    places = np.rint(track.angle_deg / a_place).astype(np.int64) % track.teeth
    turns = float(track.angle_deg[-1]) / 360.0
    has_tooth = np.bincount(places, minlength=track.teeth) > _SEEN * turns
    if has_tooth.all():
        after = _after_additional(times_s, track, turns)
        if after is None:
            raise CamError("no-mark", teeth=track.teeth)
        return after * a_place, 360.0
    first, repeats = _first_place(has_tooth)
    return first * a_place, repeats * a_place


def _first_place(has_tooth: NDArray[np.bool_]) -> tuple[int, int]:
    """Return the first place after the largest gap, and after how many places all comes back.

    Of equal gaps the one counts whose wheel, read on from there, has its other gaps latest.
    """
    places = has_tooth.size
    starts = [i for i in range(places) if has_tooth[i] and not has_tooth[i - 1]]
    turned = {i: tuple(np.roll(has_tooth, -i).tolist()) for i in starts}
    gaps = {i: _gap_before(has_tooth, i) for i in starts}
    first = max(starts, key=lambda i: (gaps[i], turned[i], -i))
    alike = [i for i in starts if turned[i] == turned[first]]
    return first, places // len(alike)


def _gap_before(has_tooth: NDArray[np.bool_], place: int) -> int:
    gap = 0
    while not has_tooth[place - 1 - gap]:
        gap += 1
    return gap


def _after_additional(times_s: Floats, track: ToothTrack, turns: float) -> float | None:
    """Return the place after the tooth that stands between two others; None without one."""
    inside = times_s[(times_s > track.times_s[0]) & (times_s < track.times_s[-1])]
    others = np.setdiff1d(inside, track.times_s)
    at = np.interp(others, track.times_s, track.angle_deg) * track.teeth / 360.0
    off = at % 1.0
    between = at[(off > _OFF_PLACE) & (off < 1.0 - _OFF_PLACE)]
    if between.size == 0:
        return None
    counts = np.bincount(np.floor(between).astype(np.int64) % track.teeth, minlength=track.teeth)
    place = int(counts.argmax())
    if counts[place] < _BETWEEN_SEEN * turns or counts[place] < _BETWEEN_SEEN * between.size:
        return None
    return float((place + 1) % track.teeth)
