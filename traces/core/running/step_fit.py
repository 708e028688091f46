"""The step of the crank's energy at each firing.

Energy goes with speed squared, so that its relative change is twice that of the speed: no inertia
has to be known. A firing that gives less than the others leaves the crank slower until the next
ones make up for it, so that each tooth after it comes late. The lateness of all teeth of an engine
cycle is the sum of the cylinders' steps, of a swing that every firing has alike (compression, burn
and, where firings are even, the inertia of the pistons), and of the idle's slow changes: all of it
linear, so that least squares take it apart cycle by cycle. Steps are read from where teeth are in
time, not from speeds: a tooth that stands askew spoils a difference of two times, but hardly their
sum.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engines.core.firing import CYCLE_DEG
from traces.core.running.driveline import Driveline, swung
from traces.core.running.idle_stretch import IdleStretch
from traces.core.signals import ToothTrack
from traces.core.waveform import Floats

_COMES_DEG = (-5.0, 0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0, 130.0)
_HAS_COME = (0.0, 0.005, 0.05, 0.17, 0.36, 0.54, 0.67, 0.77, 0.89, 0.96, 1.0)
"""How much of a firing's energy has come by which crank angle after top dead centre: half of the
burn at 15 degrees, in the middle of what is common practice, and the expansion after it."""

_SHIFTS_DEG = tuple(range(-45, 50, 5))
_SHIFT_SPREAD_DEG = 12.0
"""Later or earlier than that, by how late it burns and how far the event is from where it is
taken to stand; an engine with a weak cylinder shows it, on a sound one it is no matter."""

_UNEXPLAINED_DEG, _WHEEL_TIMES = 0.02, 1.5
"""Standard deviation of a tooth's lateness that no part explains; of one that the wheel makes, over
that of a tooth's place."""

_LEAST_SEEN_DEG = 0.1
_HARMONICS = 3
_TEETH_A_WAVE = 2.5
_FINE = 1440
_FINE_DEG = (np.arange(_FINE) + 0.5) * CYCLE_DEG / _FINE
_NO_DIRECTION = 1e-9
_GRID_DEG = 1.0
_DIP_LEAD_DEG = 5.0
_NEAR_TOOTH = 0.2
_RUNOUT_DEG, _SPACING_DEG, _USUAL_TEETH = 0.05, 0.05, 60
"""Standard deviations of a wheel out of true and of one tooth's place, crank degrees; coarser
wheels are cut coarser (from memory)."""


@dataclass(frozen=True, slots=True, eq=False)
class FiringSteps:
    """What each firing does to the crank's energy, over that energy.

    Parameters
    ----------
    first_deg
        Crank angle, as the teeth count it, of the first firing's top dead centre.
    steps
        More or less than the mean firing, shape (cycles, cylinders).
    shift_deg
        How much later than usual a firing's energy comes, counted from `first_deg`.
    misfit
        How much of what no wheel can make the steps leave unexplained, over all of it, and noise
        taken off: large where something swings with the crank.
    wheel_error
        Standard deviation of each cylinder's by a wheel that is no better than it was made, shape
        (cylinders,).
    """

    first_deg: float
    steps: Floats
    shift_deg: float
    misfit: float
    wheel_error: Floats
    driveline: Driveline = None
    cost: float = 0.0

    @property
    def cycles(self) -> int:
        """Number of engine cycles."""
        return int(self.steps.shape[0])


def firing_steps(
    track: ToothTrack,
    idle: IdleStretch,
    cylinders: int,
    first_deg: float | None,
    drivelines: Sequence[Driveline] = (None,),
) -> tuple[FiringSteps, ...]:
    """Return what each firing gives, once for each driveline that may hang on the crank.

    Parameters
    ----------
    first_deg
        A firing top dead centre of the cylinder that counts as first; None where nobody knows
        one: then the swing itself tells where firings stand.
    """
    shifts_deg, spread_deg = _SHIFTS_DEG, _SHIFT_SPREAD_DEG
    if first_deg is None:
        # at higher speeds the pistons' inertia turns the swing round
        half_deg = int(CYCLE_DEG / cylinders / 2)
        shifts_deg, spread_deg = tuple(range(-half_deg, half_deg, 5)), float(half_deg)
        first_deg = idle.from_deg + _dip_deg(track, idle, cylinders)
    within_deg, late_deg = _lateness(track, idle, first_deg)
    usual_deg = late_deg.mean(axis=0)
    leads_deg = [swung(_lead_of_step(), idle.rpm, one) for one in drivelines]
    swing = _swing(within_deg, cylinders, track.teeth)

    def parts(place: int, shift_deg: float) -> Floats:
        return _parts(within_deg, cylinders, shift_deg, leads_deg[place], swing)

    costs = np.array(
        [
            _unexplained(
                np.array([parts(i, shift_deg) for i in range(len(drivelines))]),
                usual_deg,
                track.teeth,
            )
            + (shift_deg / spread_deg) ** 2
            for shift_deg in shifts_deg
        ]
    )
    found = []
    for place, driveline in enumerate(drivelines):
        best = int(np.argmin(costs[:, place]))
        mixed = parts(place, shifts_deg[best])
        taken = np.asarray(np.linalg.pinv(mixed)[:cylinders], dtype=np.float64)
        taken -= taken.mean(axis=0)
        found.append(
            FiringSteps(
                first_deg=first_deg,
                steps=late_deg @ taken.T,
                shift_deg=shifts_deg[best],
                misfit=_misfit(late_deg, mixed),
                wheel_error=_wheel_error(taken, within_deg, track.teeth),
                driveline=driveline,
                cost=float(costs[best, place]),
            )
        )
    return tuple(found)


def _lateness(track: ToothTrack, idle: IdleStretch, first_deg: float) -> tuple[Floats, Floats]:
    """Return where teeth stand in the cycle, and how far the crank was ahead at each of them.

    Returns
    -------
    tuple of Floats
        Degrees from the cycle's beginning, shape (teeth,); and of each whole cycle the angle over
        what even speed would have made of its time, shape (cycles, teeth).
    """
    width_deg = 360.0 / track.teeth
    # the mean reaches half a cycle to either side, and the stretch may end in the first of another
    begin_deg = max(idle.from_deg, 2 * _GRID_DEG) + CYCLE_DEG / 2
    first_deg += CYCLE_DEG * float(np.ceil((begin_deg - first_deg) / CYCLE_DEG))
    starts_deg = np.arange(first_deg, idle.to_deg - 2 * CYCLE_DEG, CYCLE_DEG)
    first, last = np.searchsorted(track.angle_deg, [first_deg, first_deg + CYCLE_DEG])
    within_deg = track.angle_deg[first:last] - first_deg
    wanted_deg = starts_deg[:, None] + within_deg
    at = np.searchsorted(track.angle_deg, wanted_deg - _NEAR_TOOTH * width_deg)
    at = np.minimum(at, track.angle_deg.size - 1)
    is_there = np.abs(track.angle_deg[at] - wanted_deg) < _NEAR_TOOTH * width_deg
    whole = is_there.all(axis=1)
    at, starts_deg = at[whole], starts_deg[whole]
    ends_s = np.interp([starts_deg, starts_deg + CYCLE_DEG], track.angle_deg, track.times_s)
    speed_deg_s = CYCLE_DEG / (ends_s[1] - ends_s[0])
    ahead_s = _over_cycle_s(track, track.angle_deg[at]) - track.times_s[at]
    return within_deg, ahead_s * speed_deg_s[:, None]


def _over_cycle_s(track: ToothTrack, at_deg: Floats) -> Floats:
    """Return the mean time over the engine cycle about each angle.

    It follows slow changes of speed, and nothing that comes back every cycle is left in it.
    """
    grid_deg = np.arange(0.0, track.angle_deg[-1], _GRID_DEG)
    times_s = np.interp(grid_deg, track.angle_deg, track.times_s)
    summed = np.concatenate(([0.0], np.cumsum((times_s[1:] + times_s[:-1]) / 2)))
    half = round(CYCLE_DEG / 2 / _GRID_DEG)
    means = (summed[2 * half :] - summed[: -2 * half]) / (2 * half)
    return np.asarray(np.interp(at_deg, grid_deg[half:-half], means), dtype=np.float64)


def _unexplained(parts: Floats, usual_deg: Floats, teeth: int) -> Floats:
    """Return how badly parts explain the lateness of teeth, in squared standard deviations.

    What a wheel makes comes back after a turn: half of the difference to the turn before is free of
    it and counts fully, half of the sum only as far as it stands clear of a wheel.

    Parameters
    ----------
    parts
        Shape (drivelines, teeth, parts); the result's is (drivelines,).
    """
    half = usual_deg.size // 2
    askew_deg = _WHEEL_TIMES * _SPACING_DEG * _USUAL_TEETH / teeth
    cost = np.zeros(parts.shape[0])
    for sign, error_deg in ((-1.0, _UNEXPLAINED_DEG), (1.0, askew_deg)):
        mixed = (parts[:, :half] + sign * parts[:, half : 2 * half]) / 2
        seen_deg = (usual_deg[:half] + sign * usual_deg[half : 2 * half]) / 2
        along, sizes, _ = np.linalg.svd(mixed, full_matrices=False)
        # parts that say the same after a turn leave directions that are none
        along = along * (sizes > _NO_DIRECTION * sizes.max(axis=1, keepdims=True))[:, None, :]
        left_deg = seen_deg - (along @ (along.swapaxes(1, 2) @ seen_deg[:, None]))[..., 0]
        cost += (left_deg**2).sum(axis=1) / error_deg**2
    return cost


def _misfit(late_deg: Floats, parts: Floats) -> float:
    half = late_deg.shape[1] // 2
    apart_deg = (late_deg[:, :half] - late_deg[:, half : 2 * half]) / 2
    seen_deg, mixed = apart_deg.mean(axis=0), (parts[:half] - parts[half : 2 * half]) / 2
    left_deg = seen_deg - mixed @ (np.linalg.pinv(mixed) @ seen_deg)
    noise = float(apart_deg.var(axis=0, ddof=1).mean()) / apart_deg.shape[0]
    clear = max(0.0, float((left_deg**2).mean()) - noise)
    return float(np.sqrt(clear / max(float((seen_deg**2).mean()), _LEAST_SEEN_DEG**2)))


def _parts(
    within_deg: Floats, cylinders: int, shift_deg: float, lead_deg: Floats, swing: Floats
) -> Floats:
    """Return what the lateness of teeth is made of: steps, then the swing, then its level.

    Shape (teeth, parts). Steps come `shift_deg` later than usual.
    """
    gap_deg = CYCLE_DEG / cylinders
    steps = [
        np.interp(within_deg - gap_deg * place - shift_deg, _FINE_DEG, lead_deg, period=CYCLE_DEG)
        for place in range(cylinders)
    ]
    return np.array([*steps, *swing]).T


def _swing(within_deg: Floats, cylinders: int, teeth: int) -> Floats:
    """Return what every firing has alike, as far as teeth show it, and a level; by rows."""
    orders = [h * cylinders for h in range(1, _HARMONICS + 1)]
    orders = [o for o in orders if o * _TEETH_A_WAVE <= 2 * teeth] or [cylinders]
    turned = 2 * np.pi * within_deg / CYCLE_DEG
    swing = [wave(order * turned) for order in orders for wave in (np.cos, np.sin)]
    return np.array([*swing, np.ones_like(within_deg)])


def _lead_of_step() -> Floats:
    """Return how far a crank gets ahead by one firing's energy, over the crank's, each cycle.

    At `_FINE_DEG` from its top dead centre.
    """
    since_deg = (_FINE_DEG - _COMES_DEG[0]) % CYCLE_DEG + _COMES_DEG[0]
    # what comes at once goes again evenly
    course = np.interp(since_deg, _COMES_DEG, _HAS_COME) - since_deg / CYCLE_DEG
    course -= course.mean()
    lead_deg = np.cumsum(course) / 2 * CYCLE_DEG / _FINE
    return np.asarray(lead_deg - lead_deg.mean(), dtype=np.float64)


def _wheel_error(taken: Floats, within_deg: Floats, teeth: int) -> Floats:
    place = np.rint(within_deg % 360.0 * teeth / 360.0).astype(np.int64) % teeth
    by_tooth = np.zeros((taken.shape[0], teeth))
    np.add.at(by_tooth.T, place, taken.T)
    askew = _SPACING_DEG * _USUAL_TEETH / teeth * np.sqrt((by_tooth**2).sum(axis=1))
    turned = np.exp(1j * np.deg2rad(within_deg))
    out_of_true = _RUNOUT_DEG * np.abs(taken @ turned)
    return np.asarray(np.hypot(askew, out_of_true), dtype=np.float64)


def _dip_deg(track: ToothTrack, idle: IdleStretch, cylinders: int) -> float:
    """Return how far after the stretch's beginning a compression has slowed the crank most."""
    within_deg, late_deg = _lateness(track, idle, idle.from_deg)
    swing = _swing(within_deg, cylinders, track.teeth)
    apart = np.linalg.pinv(_parts(within_deg, cylinders, 0.0, _lead_of_step(), swing))
    cosine, sine = (apart @ late_deg.mean(axis=0))[cylinders : cylinders + 2]
    # the lead a cos + b sin falls fastest a quarter wave after its highest
    highest = np.arctan2(sine, cosine)
    gap_deg = CYCLE_DEG / cylinders
    return float(((highest + np.pi / 2) / (2 * np.pi)) % 1.0 * gap_deg) - _DIP_LEAD_DEG
