"""Channels as lines of a plot: never more points than pixels can show, in few bytes."""

import base64
import math
from dataclasses import dataclass
from html import escape
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from traces.core.setup import AnalysisSetup
from traces.core.waveform import Channel, block_extremes, envelope, index_of_channel
from traces.models import Reading
from traces.selectors.figure_marks import View
from traces.selectors.samples import StoredSamples, rate_hz_of, start_s_of, stored_samples

_STEPS_A_PIXEL = 50
"""Times are rounded to this part of a pixel."""

Times = NDArray[np.float64]
Values = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class RecordedCurve:
    """A capture's compact copy on its time base.

    Parameters
    ----------
    samples
        On disk.
    t0_s, rate_hz
        Time of the first sample and samples a second; 0 and 1 where the rate is not known.
    unit
        Of times: seconds, or samples where the rate is not known.
    """

    samples: StoredSamples
    t0_s: float
    rate_hz: float
    unit: Literal["s", "samples"] = "s"

    @property
    def size(self) -> int:
        """Samples of each channel."""
        return int(self.samples.values.shape[1])

    def at_s(self, index: int) -> float:
        """Return the time of a sample."""
        return self.t0_s + index / self.rate_hz

    def index(self, time_s: float | None, otherwise: int) -> int:
        """Return the sample at or before a time, from 0 to the number of samples."""
        if time_s is None:
            return otherwise
        return int(min(max((time_s - self.t0_s) * self.rate_hz, 0), self.size))

    def nearest(self, time_s: float) -> int:
        """Return the sample nearest to a time."""
        return round(min(max((time_s - self.t0_s) * self.rate_hz, 0), max(self.size - 1, 0)))

    def stretch(self, view: View) -> tuple[int, int]:
        """Return first and last (exclusive) sample of a view, one more on either side.

        With one more the line reaches the frame.
        """
        first, last = self.index(view.from_s, 0) - 1, self.index(view.to_s, self.size) + 2
        return min(max(first, 0), self.size), min(last, self.size)

    def meta(self) -> dict[str, Any]:
        """Return what the browser needs to stay inside the recording and on its samples."""
        last = max(self.size - 1, 1)
        return {
            "start_s": self.t0_s,
            "end_s": self.at_s(last),
            "rate_hz": self.rate_hz,
            "unit": self.unit,
        }


def recording_of(reading: Reading, setup: AnalysisSetup | None = None) -> RecordedCurve:
    """Open a capture that was read; counted in samples where nobody said how fast it was.

    Raises
    ------
    FileNotFoundError
        If the files were taken away.
    """
    samples, rate_hz = stored_samples(reading), rate_hz_of(reading, setup)
    if rate_hz is None:
        return RecordedCurve(samples, 0.0, 1.0, "samples")
    return RecordedCurve(samples, start_s_of(reading), rate_hz)


@dataclass(frozen=True, slots=True)
class Look:
    """How a line is named and drawn; the colour is one of the tokens."""

    name: str
    unit: str
    colour: str = "ink"
    width: float = 1.5
    yaxis: str = "y"


def channel_line(
    recording: RecordedCurve, channel: int, view: View, look: Look, *, factor: float = 1.0
) -> dict[str, Any]:
    """Return a channel as one of Plotly's scatter traces, its values times `factor`.

    At most two points a pixel; each sample by itself, and marked, where there are few.
    """
    first, last = recording.stretch(view)
    points = envelope(
        recording.samples.values[channel],
        recording.samples.blocks[channel],
        pixels=view.pixels,
        first=first,
        last=last,
    )
    values = (points.values * np.float32(factor)).astype(np.float32)
    times_s = recording.t0_s + points.at_idx / recording.rate_hz
    return line(times_s, values, view, look, time_unit=recording.unit)


def uneven_line(times_s: Times, values: Values, view: View, look: Look) -> dict[str, Any]:
    """Return values at times of their own as a trace; else as `channel_line`."""
    low = 0 if view.from_s is None else int(np.searchsorted(times_s, view.from_s))
    high = None if view.to_s is None else int(np.searchsorted(times_s, view.to_s, "right"))
    points = envelope(values, block_extremes(values), pixels=view.pixels, first=low, last=high)
    return line(times_s[points.at_idx.astype(np.intp)], points.values, view, look)


def line(
    times_s: Times, values: Values, view: View, look: Look, *, time_unit: str = "s"
) -> dict[str, Any]:
    """Return points as one of Plotly's scatter traces.

    Times are decimal numbers, rounded to a small part of a pixel; values are the very float32
    of the file (scaled), packed as Plotly takes them.
    """
    digits = time_digits(times_s, view.pixels)
    few = times_s.size < view.pixels / 4
    return {
        "type": "scatter",
        "x": np.round(times_s, digits).tolist(),
        "y": {
            "dtype": "f4",
            "bdata": base64.b64encode(values.astype("<f4").tobytes()).decode("ascii"),
        },
        "mode": "lines+markers" if few else "lines",
        "marker": {"size": 5, "color": f"token:{look.colour}"},
        "line": {"width": look.width, "color": f"token:{look.colour}"},
        "name": escape(look.name),
        "showlegend": False,
        "yaxis": look.yaxis,
        "hovertemplate": f"%{{x:.{max(digits - 1, 0)}f}} {time_unit}, "
        f"%{{y:.5~g}} {escape(look.unit)}<extra></extra>",
    }


def time_digits(times_s: Times, pixels: int) -> int:
    """Return how many decimals tell apart the times of a pixel, or of samples further apart."""
    span_s = float(times_s[-1] - times_s[0]) if times_s.size else 0.0
    if span_s <= 0:
        return 9
    step_s = span_s / min(pixels, times_s.size) / _STEPS_A_PIXEL
    return min(max(math.ceil(-math.log10(step_s)), 0), 12)


def described(reading: Reading, index: int, values: Values | None = None) -> Channel:
    """Return a channel as the file describes it."""
    found = reading.channels[index]
    return Channel(
        name=found["name"],
        unit=found["unit"],
        values=np.empty(0, dtype=np.float32) if values is None else values,
    )


def channel_index(reading: Reading, wanted: str) -> int:
    """Return the index of a channel that the set-up names; the run was checked against it."""
    index = index_of_channel([str(c["name"]) for c in reading.channels], wanted)
    if index is None:
        raise KeyError(f"There is no channel “{wanted}” in this reading.")
    return index
