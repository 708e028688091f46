"""The very samples at two cursors, and what lies between them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.utils.translation import gettext as _

from traces.core.report import Report
from traces.core.signals import speed_curve
from traces.core.waveform import stretch_figures
from traces.models import Reading, Run
from traces.selectors.curves import RecordedCurve, channel_index, described, recording_of
from traces.selectors.figures import chosen_channels, judged_channel


@dataclass(frozen=True, slots=True)
class Cursors:
    """Times of the two cursors in the file's own time; None where one is not set."""

    a_s: float | None = None
    b_s: float | None = None


def run_values(run: Run, cursors: Cursors) -> dict[str, Any]:
    """Return what a run's plot shows at the cursors, in the plot's own units."""
    reading, setup, report = run.reading, run.setup.analysis, run.report
    recording, judged = recording_of(reading, setup), judged_channel(run, report)
    teeth = report.parts.teeth if report else None
    if report and teeth and teeth.speed_at_s:
        rows = [_speed_row(report, judged.name, judged.unit, cursors)]
    else:
        row = _row(recording, judged.channel, cursors, judged.factor)
        rows = [{"name": judged.name, "unit": judged.unit} | row]
    if setup.sync:
        index = channel_index(reading, setup.sync.channel)
        unit = described(reading, index).unit or ""
        name = _("sync (%(channel)s)") % {"channel": setup.sync.channel}
        rows.append({"name": name, "unit": unit} | _row(recording, index, cursors))
    return _answer(recording, cursors, rows)


def reading_values(
    reading: Reading, cursors: Cursors, channels: Sequence[int] = ()
) -> dict[str, Any]:
    """Return what a capture holds at the cursors, in the file's own units."""
    recording = recording_of(reading)
    rows = []
    for index in chosen_channels(reading, channels):
        channel = described(reading, index)
        named = {"name": channel.name, "unit": channel.unit or ""}
        rows.append(named | _row(recording, index, cursors))
    return _answer(recording, cursors, rows)


def _answer(
    recording: RecordedCurve, cursors: Cursors, rows: list[dict[str, Any]]
) -> dict[str, Any]:
    times = {
        name: None if at is None else recording.at_s(recording.nearest(at))
        for name, at in (("a_s", cursors.a_s), ("b_s", cursors.b_s))
    }
    return {"unit": recording.unit, **times, "channels": rows}


def _row(
    recording: RecordedCurve, channel: int, cursors: Cursors, factor: float = 1.0
) -> dict[str, Any]:
    values = recording.samples.values[channel]
    places = [None if t is None else recording.nearest(t) for t in (cursors.a_s, cursors.b_s)]
    a, b = (
        None if i is None or i >= values.size else _finite(float(values[i]) * factor)
        for i in places
    )
    found = _pair(a, b)
    if places[0] is None or places[1] is None:
        return found
    first, last = sorted(i for i in places if i is not None)
    samples = recording.samples
    means = None if samples.means is None else samples.means[channel]
    figures = stretch_figures(values, samples.blocks[channel], first, last + 1, means)
    scaled = [None if v is None else v * factor for v in (figures.minimum, figures.maximum)]
    low, high = scaled if factor >= 0 else reversed(scaled)
    mean = None if figures.mean is None else figures.mean * factor
    between = {"minimum": low, "maximum": high, "mean": mean}
    return found | between | {"mean_is_sampled": figures.mean_is_sampled}


def _speed_row(report: Report, name: str, unit: str, cursors: Cursors) -> dict[str, Any]:
    at_s, rpm = speed_curve(report)
    pair = (cursors.a_s, cursors.b_s)
    a, b = (
        None if t is None or not at_s.size else _finite(float(np.interp(t, at_s, rpm)))
        for t in pair
    )
    found = {"name": name, "unit": unit} | _pair(a, b)
    if pair[0] is None or pair[1] is None:
        return found
    inside = rpm[(at_s >= min(pair[0], pair[1])) & (at_s <= max(pair[0], pair[1]))]
    inside = inside[np.isfinite(inside)]
    figures = (inside.min(), inside.max(), inside.mean()) if inside.size else (None,) * 3
    low, high, mean = (None if v is None else float(v) for v in figures)
    between = {"minimum": low, "maximum": high, "mean": mean}
    return found | between | {"mean_is_sampled": False}


def _pair(a: float | None, b: float | None) -> dict[str, Any]:
    return {"a": a, "b": b, "difference": None if a is None or b is None else b - a}


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None
