"""Small previews of a capture's channels."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from traces.core.waveform import envelope
from traces.models import Reading
from traces.selectors.samples import stored_samples

_SPARK_WIDTH, _SPARK_HEIGHT = 240, 48


@dataclass(frozen=True, slots=True)
class Sparkline:
    """A channel's small preview.

    Parameters
    ----------
    name, unit
        Of the channel.
    path
        The curve in drawing units, 240 by 48; empty where there is nothing to draw.
    minimum, maximum
        In the channel's unit; None where the channel holds nothing.
    """

    name: str
    unit: str | None
    path: str
    minimum: float | None
    maximum: float | None
    width: int = _SPARK_WIDTH
    height: int = _SPARK_HEIGHT


def sparklines(reading: Reading) -> tuple[Sparkline, ...]:
    """Return a preview of each of a capture's channels; without curves where samples are gone."""
    try:
        samples = stored_samples(reading)
    except FileNotFoundError:
        samples = None
    found = []
    for i, channel in enumerate(reading.channels):
        path = ""
        if samples is not None:
            points = envelope(samples.values[i], samples.blocks[i], pixels=_SPARK_WIDTH // 2)
            path = _path(points.at_idx, points.values)
        found.append(
            Sparkline(
                name=channel["name"],
                unit=channel["unit"],
                path=path,
                minimum=channel["minimum"],
                maximum=channel["maximum"],
            )
        )
    return tuple(found)


def _path(at_idx: NDArray[np.float64], values: NDArray[np.float32]) -> str:
    """Return a curve as an SVG path of the sparkline's size, broken at gaps."""
    finite = np.isfinite(values)
    if not finite.any():
        return ""
    low, high = float(values[finite].min()), float(values[finite].max())
    span = high - low or 1.0
    most = float(at_idx[-1]) or 1.0
    x = at_idx / most * _SPARK_WIDTH
    y = (_SPARK_HEIGHT - 3) - (values - low) / span * (_SPARK_HEIGHT - 6)
    parts = []
    pen_up = True
    for xi, yi, there in zip(x, y, finite, strict=True):
        if there:
            parts.append(f"{'M' if pen_up else 'L'}{xi:.1f} {yi:.1f}")
        pen_up = not there
    return "".join(parts)
