"""A log with a row only where a level changes: steps at exact times, nothing between them.

Laid on an even grid, the two samples around a step lie on a line that crosses the middle between
the two levels exactly when the step came, so that the grid costs no accuracy. A level that holds
for less than two samples is a glitch, and left out.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from traces.core.readers.clock import Clock, Floats
from traces.core.readers.spool import Spool
from traces.core.readers.stream import BLOCK_ROWS
from traces.core.waveform import Samples

_FEWEST_ROWS, _MOST_ROWS = 16, 4_000_000
_LEAST_ROWS_A_LEVEL = 4
_MOST_LEVELS = 4  # a channel with so few values is a switch: held, not interpolated
_MOST_WHOLE_LEVELS = 16  # so is one with so few whole numbers: a state or a bit mask
_LOOKED_AT = 4096
_SAMPLES_A_STEP = 6
_SHORT = 0.02  # of a channel's levels, by how long they hold: shorter ones are glitches
_RATES_HZ = (1_000.0, 500_000.0)
_SMALL_GRID = 200_000  # samples that a short log may have anyway
_MOST_GROWTH = 16  # times as many samples as rows
_LEAST_CHANGING = 0.5  # of rows
_APART = 2.0  # samples between two steps, so that each has its own two


@dataclass(frozen=True, slots=True, eq=False)
class StepGrid:
    """An even grid that is fine enough for a log's steps."""

    t0_s: float
    rate_hz: float
    samples: int


def is_switch(rows: Spool[np.float32]) -> bool:
    """Return whether a channel holds states, between which there is nothing."""
    levels: Samples = np.empty(0, dtype=np.float32)
    seen = 0
    for part in rows.blocks():
        known = part[np.isfinite(part)][: _LOOKED_AT - seen]
        seen += known.size
        levels = np.unique(np.concatenate((levels, known)))
        if seen >= _LOOKED_AT:
            break
    whole = bool((levels == np.rint(levels)).all())
    return levels.size <= (_MOST_WHOLE_LEVELS if whole else _MOST_LEVELS)


def step_grid(channels: list[Spool[np.float32]], clock: Clock) -> StepGrid | None:
    """Return a grid for a log of states, None where the rows are no such log.

    Parameters
    ----------
    channels
        All of the file's, in the clock's rows.
    clock
        The rows' times, which do not come in even steps.
    """
    if not _FEWEST_ROWS <= clock.count <= _MOST_ROWS or not all(map(is_switch, channels)):
        return None
    times_s = np.concatenate(list(clock.blocks()))
    changing = np.zeros(times_s.size - 1, dtype=bool)
    shortest_s = np.inf
    for channel in channels:
        values = np.concatenate(list(channel.blocks()))
        if np.unique(values).size * _LEAST_ROWS_A_LEVEL > values.size:
            return None  # few rows of a signal hold few values, too
        changes = _changes(values)
        changing[changes - 1] = True
        lasting = np.diff(times_s[changes])
        lasting = lasting[lasting > 0]
        if lasting.size > 1:
            shortest_s = min(shortest_s, float(np.quantile(lasting, _SHORT)))
    if changing.mean() < _LEAST_CHANGING or not np.isfinite(shortest_s):
        return None
    span_s = clock.last - clock.first
    most = max(_SMALL_GRID, _MOST_GROWTH * clock.count)
    finest_hz = max(most / span_s, 1e-9)
    rate_hz = float(np.clip(np.ceil(_SAMPLES_A_STEP / shortest_s), *_RATES_HZ))
    rate_hz = float(f"{min(rate_hz, finest_hz):.3g}")
    return StepGrid(clock.first, rate_hz, int(np.floor(span_s * rate_hz * (1 + 1e-12))) + 3)


def stepped(rows: Spool[np.float32], clock: Clock, grid: StepGrid) -> Iterator[Samples]:
    """Yield one channel on the grid."""
    times_s = np.concatenate(list(clock.blocks()))
    values = np.concatenate(list(rows.blocks()))
    changes = _changes(values)
    at = (times_s[changes] - grid.t0_s) * grid.rate_hz
    before, after = values[changes - 1], values[changes]
    two_levels = np.unique(values[np.isfinite(values)]).size == 2
    if two_levels and np.isfinite(values).all():
        keep = _without_glitches(at)
        at, before, after = at[keep], before[keep], after[keep]
    first = values[0]
    floor = np.floor(at).astype(np.int64)
    part = (at - floor).astype(np.float32)
    for begin in range(0, grid.samples, BLOCK_ROWS):
        samples = np.arange(begin, min(begin + BLOCK_ROWS, grid.samples))
        last = np.searchsorted(at, samples, side="right") - 1
        level = np.where(last >= 0, after[np.maximum(last, 0)], first) if at.size else None
        found = np.full(samples.size, first) if level is None else level.astype(np.float32)
        if two_levels:
            for offset, share in ((0, 0.5 - 0.5 * part), (1, 1.0 - 0.5 * part)):
                place = floor + offset - begin
                inside = (place >= 0) & (place < samples.size)
                found[place[inside]] = (before + (after - before) * share)[inside]
        yield found.astype(np.float32)


def _changes(values: Samples) -> NDArray[np.int64]:
    """Return the rows whose value is another than in the row before."""
    now, last = values[1:], values[:-1]
    return np.flatnonzero((now != last) & ~(np.isnan(now) & np.isnan(last))) + 1


def _without_glitches(at: Floats) -> NDArray[np.bool_]:
    """Return which steps remain once a level that hardly holds is passed over with both its steps.

    Of two levels the next step but one leads to the same one.
    """
    keep = np.ones(at.size, dtype=bool)
    last: list[int] = []
    for i, step in enumerate(at):
        if last and step - at[last[-1]] < _APART:
            keep[i] = keep[last.pop()] = False
        else:
            last.append(i)
    return keep
