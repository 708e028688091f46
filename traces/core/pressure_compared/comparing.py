"""One cylinder beside a known-good capture, and several that were measured in turn."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from traces.core.compression import Geometry
from traces.core.report import BesideKnownGood, Interval, MeasuredInTurn, PressureFigures

_CAM_DEG = 1.2
"""What two recordings of one engine leave unknown of a cam's angle: the crank does not swing
quite alike in both (our own estimate, from simulated engines)."""
_FILLING = 0.008
"""And of the volume at which compression begins, as a share: near the bottom, where volume hardly
changes, that is many degrees."""
_CAM_SHARE = 0.15
"""And of how far it moved: knees do not move quite as the cam does."""
_OF_INTAKE, _OF_EXHAUST = 0.55, 0.42
"""How far the middle of the exchange moves with either cam: where both valves are open it lies
between both, so that it follows each for about a half (gas exchange of simulated engines)."""
_MIDDLE_DEG, _MIDDLE_SHARE = 1.0, 0.12
_LEAST_AFTER_DEG = 6.0
_DISAGREE = 2.5
_PEAK_SHARE = 0.02
"""How well a peak repeats from one recording to the next (our own estimate: battery, oil)."""
_SOUND_OF_BEST = 0.88


@dataclass(frozen=True, slots=True)
class Share:
    """One cylinder's peak over that of the sound ones, with its 95 % interval."""

    cylinder: int
    share: float
    low: float
    high: float


def beside_known_good(
    here: PressureFigures, there: PressureFigures, file: str
) -> BesideKnownGood | None:
    """Return what differs from another capture of that engine, with 95 % intervals.

    None where one was cranked and the other idled: they breathe so differently that no angle
    compares.
    """
    if here.state != there.state:
        return None
    return BesideKnownGood(
        file=file,
        intake_cam_deg=_interval(_intake_cam(here, there)),
        exhaust_cam_deg=_interval(_exhaust_cam(here, there)),
        peak_share=_ratio(here.peak_kpa, there.peak_kpa, _PEAK_SHARE),
        back_pressure_kpa=_difference(here.back_pressure_kpa, there.back_pressure_kpa),
        intake_kpa=_difference_of(here.intake_kpa, there.intake_kpa),
        loss_share=_loss(here, there),
    )


def shares_in_turn(figures: Sequence[PressureFigures]) -> list[Share]:
    """Return each cylinder's peak over the mean of the sound ones.

    Sound are those within 12 % of the median of the better half: where most are weak, the best
    still tells them.

    Parameters
    ----------
    figures
        Of two and more cylinders, each with its number.
    """
    peaks = np.array([one.peak_kpa.value for one in figures])
    better = np.sort(peaks)[peaks.size // 2 :]
    sound = peaks >= _SOUND_OF_BEST * float(np.median(better))
    level = float(peaks[sound].mean())
    found = []
    for one, peak in zip(figures, peaks, strict=True):
        own = (one.peak_kpa.high - one.peak_kpa.low) / 3.92 / max(peak, 1e-9)
        half = 1.96 * peak / level * float(np.hypot(own, _PEAK_SHARE))
        share = float(peak / level)
        found.append(Share(one.cylinder or 0, share, share - half, share + half))
    return found


def in_turn(figures: Sequence[PressureFigures], files: Sequence[str]) -> list[MeasuredInTurn]:
    """Return the rows of a comparison, by cylinder, with the rank of their losses."""
    losses = [one.loss_per_s.value if one.loss_per_s else None for one in figures]
    falling = sorted((loss for loss in losses if loss is not None), reverse=True)
    rows = [
        MeasuredInTurn(
            cylinder=one.cylinder or 0,
            file=file,
            peak_kpa=one.peak_kpa.value,
            rpm=one.rpm,
            loss_per_s=loss,
            loss_rank=None if loss is None else falling.index(loss) + 1,
            exhaust_opens_deg=one.exhaust_opens_deg.value if one.exhaust_opens_deg else None,
            intake_closes_deg=one.intake_closes_deg.value if one.intake_closes_deg else None,
            back_pressure_kpa=one.back_pressure_kpa.value if one.back_pressure_kpa else None,
        )
        for one, file, loss in zip(figures, files, losses, strict=True)
    ]
    return sorted(rows, key=lambda row: row.cylinder)


def _intake_cam(now: PressureFigures, good: PressureFigures) -> tuple[float, float] | None:
    """Return how much later the intake cam is, and its standard deviation, degrees.

    A cranked engine tells it by where compression begins. An idling one fills little, and its
    compression begins near the bottom, where volume hardly changes: there the fall from exhaust to
    intake about top dead centre tells more, less what the exhaust cam moved of it.
    """
    closing = _moved(now, good, "intake_closes_deg")
    if closing is None:
        return None
    closing = _widened(closing, float(np.hypot(_CAM_DEG, _near_bottom(now, good))), _CAM_SHARE)
    if now.state == "cranking":
        return closing
    middle, exhaust = _moved(now, good, "exchange_deg"), _exhaust_cam(now, good)
    if middle is None or exhaust is None:
        return closing
    later = (middle[0] - _OF_EXHAUST * exhaust[0]) / _OF_INTAKE
    own = float(np.hypot(middle[1], _OF_EXHAUST * exhaust[1])) / _OF_INTAKE
    opening = _widened((later, own), _MIDDLE_DEG, _MIDDLE_SHARE)
    both = float(np.hypot(opening[1], closing[1]))
    weight = (closing[1] / both) ** 2
    value = weight * opening[0] + (1 - weight) * closing[0]
    sigma = opening[1] * closing[1] / both
    if abs(opening[0] - closing[0]) > _DISAGREE * both:
        # valves that do not overlap move the fall otherwise: both may be right
        sigma = max(abs(opening[0] - value), abs(closing[0] - value))
    return value, sigma


def _near_bottom(now: PressureFigures, good: PressureFigures) -> float:
    """Return how many degrees a share of `_FILLING` is where the intake closes the earliest."""
    closes = [
        one.intake_closes_deg.value for one in (now, good) if one.intake_closes_deg is not None
    ]
    after_deg = max(_LEAST_AFTER_DEG, min(closes) - 540.0)
    shape = Geometry(now.compression_ratio)
    slope = float(shape.slope(np.array([180.0 - after_deg]))[0])
    return float(np.rad2deg(_FILLING / slope))


def _exhaust_cam(now: PressureFigures, good: PressureFigures) -> tuple[float, float] | None:
    moved = _moved(now, good, "exhaust_opens_deg")
    return None if moved is None else _widened(moved, _CAM_DEG, _CAM_SHARE)


def _moved(now: PressureFigures, good: PressureFigures, name: str) -> tuple[float, float] | None:
    """Return how much later a figure is and its scatter from cycle to cycle."""
    here: Interval | None = getattr(now, name)
    there: Interval | None = getattr(good, name)
    if here is None or there is None:
        return None
    scatter = float(np.hypot(_scatter(now, name, here), _scatter(good, name, there)))
    return here.value - there.value, scatter


def _scatter(figures: PressureFigures, name: str, figure: Interval) -> float:
    """Return how much an angle scatters from cycle to cycle; results of before lack that."""
    known = None if figures.scatter is None else getattr(figures.scatter, name)
    return (figure.high - figure.low) / 3.92 if known is None else float(known)


def _widened(moved: tuple[float, float], deg: float, share: float) -> tuple[float, float]:
    return moved[0], float(np.sqrt(moved[1] ** 2 + deg**2 + (share * moved[0]) ** 2))


def _interval(found: tuple[float, float] | None) -> Interval | None:
    if found is None:
        return None
    value, half = found[0], 1.96 * found[1]
    return Interval(round(value, 1), round(value - half, 1), round(value + half, 1))


def _difference(here: Interval | None, there: Interval | None) -> Interval | None:
    return None if here is None or there is None else _difference_of(here, there)


def _difference_of(here: Interval, there: Interval) -> Interval:
    more = here.value - there.value
    half = float(np.hypot(here.high - here.value, there.high - there.value))
    return Interval(round(more, 1), round(more - half, 1), round(more + half, 1))


def _ratio(here: Interval, there: Interval, repeats: float) -> Interval:
    share = here.value / there.value
    own = np.hypot((here.high - here.value) / here.value, (there.high - there.value) / there.value)
    half = share * float(np.hypot(own, 1.96 * repeats))
    return Interval(round(share, 3), round(share - half, 3), round(share + half, 3))


def _loss(here: PressureFigures, there: PressureFigures) -> Interval | None:
    now, good = here.loss_per_s, there.loss_per_s
    if now is None or good is None or good.value <= 0 or now.value <= 0:
        return None
    share = now.value / good.value
    half = share * float(
        np.hypot((now.high - now.value) / now.value, (good.high - good.value) / good.value)
    )
    return Interval(round(share, 2), round(share - half, 2), round(share + half, 2))
