"""A file's time column as start and rate, and how its rows belong on an even grid."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import Text, say
from traces.core.readers.clock import Clock, Floats
from traces.core.readers.read_error import ReadError
from traces.core.readers.spool import Spool
from traces.core.readers.state_log import StepGrid, is_switch, step_grid, stepped
from traces.core.waveform import Samples

Grid: TypeAlias = Literal["rows", "holes", "uneven", "steps"]

_EVEN_WITHIN = 0.4  # of a step: stamps written with few digits still count as even
_MOST_HOLES = 4  # a grid with this many places a row is no grid with holes
_MOST_GROWTH = 8  # an uneven log may grow this many times when put on a grid
_SMALL_GRID = 200_000  # that much a grid may have anyway
_MANY_SHARE = 0.1  # of rows without a time of their own: fewer are rows written twice
_FEWEST_STAMPS = 20  # so many different stamps before repeated ones count as even
_HALF_A_DIGIT = 0.52
_NO_HOLE = 1.5  # steps: a row that is missing leaves one of two
_LONG_PAUSE = 10.0  # times the long steps of an uneven log: nothing is known in between
_FASTEST_S, _SLOWEST_S = 1e-12, 1e6  # far beyond what any instrument samples at
_SPARSE = 0.5

ONE_ROW = say(
    "There is only one row of numbers; a recording needs many, so export the samples too."
)


@dataclass(frozen=True, slots=True)
class TimeBase:
    """Where rows belong on an even grid.

    Parameters
    ----------
    t0_s, rate_hz, samples
        The grid.
    grid
        `rows`: row and grid are the same. `holes`: rows are missing. `uneven`: the rows'
        steps differ, values are put on the grid by interpolation. `steps`: there is a row only
        where a level changes.
    step_s
        Of the grid.
    pause_s
        Steps longer than this stay a gap in an uneven log.
    notes
        What was found, one sentence each.
    """

    t0_s: float
    rate_hz: float
    samples: int
    grid: Grid = "rows"
    step_s: float = 0.0
    pause_s: float = np.inf
    notes: tuple[Text, ...] = ()

    def place(
        self, rows: Spool[np.float32], clock: Clock, missing_share: float
    ) -> Iterator[Samples]:
        """Put one channel's rows on the grid, block by block; holes become NaN.

        Parameters
        ----------
        rows
            The channel's values, in the clock's blocks.
        clock
            The rows' times.
        missing_share
            Share of the channel's rows without a value: a column that is mostly blank is
            one that was sampled more slowly, and is joined over its blanks.
        """
        if self.grid == "steps":
            return stepped(rows, clock, StepGrid(self.t0_s, self.rate_hz, self.samples))
        if self.grid == "holes":
            return self._with_holes(rows.blocks(), clock)
        sparse = missing_share > _SPARSE
        return self._resampled(rows.blocks(), clock, sparse=sparse, held=is_switch(rows))

    def _with_holes(self, rows: Iterator[Samples], clock: Clock) -> Iterator[Samples]:
        """Lay rows at their place; where two have the same, the later counts."""
        done = 0
        held: Samples = np.empty(0, dtype=np.float32)  # the last place may still be overwritten
        for values, at in zip(rows, row_places(clock, self.step_s), strict=True):
            grid = np.full(int(at[-1]) + 1 - done, np.nan, dtype=np.float32)
            grid[: held.size] = held
            grid[at - done] = values
            yield grid[:-1]
            done, held = int(at[-1]), grid[-1:]
        yield held

    def _resampled(
        self, rows: Iterator[Samples], clock: Clock, *, sparse: bool, held: bool
    ) -> Iterator[Samples]:
        times_s: Floats = np.empty(0)
        known: Floats = np.empty(0)
        pause_s = np.inf if sparse else self.pause_s
        done = 0
        for values, stamps_s in zip(rows, clock.blocks(), strict=True):
            keep = np.isfinite(values) if sparse else np.ones(values.size, dtype=bool)
            times_s = np.concatenate((times_s[-1:], stamps_s[keep]))
            known = np.concatenate((known[-1:], values[keep].astype(np.float64)))
            if not times_s.size:
                continue
            upto = int(np.floor((times_s[-1] - self.t0_s) / self.step_s + 1e-9)) + 1
            grid_s = np.arange(done, min(upto, self.samples), dtype=np.float64) * self.step_s
            grid_s += self.t0_s
            if grid_s.size:
                done += grid_s.size
                yield _interpolated(grid_s, times_s, known, held=held, pause_s=pause_s)
        if done < self.samples:
            yield np.full(self.samples - done, np.nan, dtype=np.float32)


def _interpolated(
    grid_s: Floats, times_s: Floats, known: Floats, *, held: bool, pause_s: float
) -> Samples:
    # equal stamps would make interpolation depend on their order: the last one counts
    before = np.searchsorted(times_s, grid_s, side="right") - 1
    after = np.minimum(before + 1, times_s.size - 1)
    inside = before >= 0
    before = np.maximum(before, 0)
    step_s = times_s[after] - times_s[before]
    if held:
        found = known[before]
    else:
        share = np.divide(
            grid_s - times_s[before], step_s, out=np.zeros_like(grid_s), where=step_s > 0
        )
        # a row's own value stands also where its neighbour is a gap
        slope = np.where(share > 0, known[after] - known[before], 0.0)
        found = known[before] + share * slope
    pause = (step_s > pause_s) & (grid_s > times_s[before])
    return np.where(inside & ~pause, found, np.nan).astype(np.float32)


def row_places(clock: Clock, step_s: float) -> Iterator[NDArray[np.int64]]:
    """Return each row's place on a grid of `step_s`, block by block."""
    last_s, last = clock.first, 0
    for times_s in clock.blocks():
        steps = np.diff(times_s, prepend=last_s)
        at = last + np.cumsum(np.rint(steps / step_s).astype(np.int64))
        last_s, last = float(times_s[-1]), int(at[-1])
        yield at


def time_base(clock: Clock) -> TimeBase:
    """Fit an even grid to a time column.

    Parameters
    ----------
    clock
        The rows' times in seconds.

    Raises
    ------
    ReadError
        If time stands still, runs backwards, or belongs to several recordings.
    """
    if clock.count < 2:
        raise ReadError(ONE_ROW)
    notes = clock.unwrap()
    span_s = clock.last - clock.first
    if not span_s > 0:
        raise clock.does_not_rise()
    step_s = span_s / (clock.count - 1)
    if not _FASTEST_S <= step_s <= _SLOWEST_S:
        raise ReadError(
            say(
                "The times are {step_s} s apart on average, which no recording is; check "
                "the time column and export the recording again.",
                step_s=f"{step_s:.3g}",
            )
        )
    off_s = clock.off_even(step_s)
    if off_s <= _EVEN_WITHIN * step_s:
        rate_hz = plain_rate(1.0 / step_s, off_s / span_s)
        return TimeBase(clock.first, rate_hz, clock.count, step_s=step_s, notes=notes)
    rounded = _rounded(clock, notes)
    if rounded and (not clock.standing or clock.standing >= _MANY_SHARE * clock.count):
        return rounded
    if clock.standing > clock.count / 2:
        raise ReadError(
            say(
                "{standing} of {count} rows have the time of the row before, so their "
                "rate cannot be told; export the recording again with more digits of the "
                "times.",
                standing=clock.standing,
                count=clock.count,
            )
        )
    return _with_holes(clock, notes) or rounded or _uneven(clock, notes)


def as_states(base: TimeBase, channels: list[Spool[np.float32]], clock: Clock) -> TimeBase:
    """Return a grid for steps where the rows are a log of states, else `base` as it is."""
    grid = step_grid(channels, clock)
    if grid is None:
        return base
    said = say(
        "There is a row only where a level changes; each step keeps its exact "
        "time on a grid of {rate_hz} Hz.",
        rate_hz=f"{grid.rate_hz:g}",
    )
    return TimeBase(
        grid.t0_s,
        grid.rate_hz,
        grid.samples,
        "steps",
        step_s=1.0 / grid.rate_hz,
        notes=(said,),
    )


def _rounded(clock: Clock, notes: tuple[Text, ...]) -> TimeBase | None:
    """Return an even grid where times have so few digits that their steps differ, else None."""
    first_s, step_s, reach_s = clock.line()
    if not step_s > 0:
        return None
    doubt = reach_s / (clock.last - clock.first)
    if clock.standing:
        if clock.count - clock.standing < _FEWEST_STAMPS or not clock.is_rounded_line(
            first_s, step_s, _EVEN_WITHIN * step_s
        ):
            return None
        notes += (say("Several rows share one time; they are taken as evenly spaced."),)
    elif reach_s > _EVEN_WITHIN * step_s or clock.longest_step > _NO_HOLE * step_s:
        longer = (clock.last - clock.first) / clock.least_step - (clock.count - 1)
        # single holes bend the line as far, many only where they come as evenly as digits drop
        if reach_s > _HALF_A_DIGIT * clock.least_step or longer < _FEWEST_STAMPS:
            return None
    rate_hz = plain_rate(1.0 / step_s, doubt)
    return TimeBase(clock.first, rate_hz, clock.count, step_s=step_s, notes=notes)


def _with_holes(clock: Clock, notes: tuple[Text, ...]) -> TimeBase | None:
    """Return an even grid with rows missing, or None where the steps are uneven."""
    usual_s = float(np.median(clock.sampled_steps()))
    span_s = clock.last - clock.first
    if not usual_s > 0 or span_s / usual_s > _MOST_HOLES * clock.count:
        return None
    places = last = 0
    for at in row_places(clock, usual_s):
        places += int(np.count_nonzero(np.diff(at, prepend=last))) if at.size else 0
        last = int(at[-1])
    # a step that is short but not none stands for no hole and no repeated row
    if last < 1 or clock.count - 1 - places > clock.standing:
        return None
    step_s = span_s / last
    off_s = _off_s(clock, row_places(clock, step_s), step_s)
    if off_s > _EVEN_WITHIN * step_s:
        return None
    if missing := last - places:
        notes += (say("{missing} rows are missing from the even time steps.", missing=missing),)
    if clock.standing:
        notes += (
            say(
                "{standing} rows repeat the time of the row before and take its place.",
                standing=clock.standing,
            ),
        )
    rate_hz = plain_rate(1.0 / step_s, off_s / span_s)
    return TimeBase(clock.first, rate_hz, last + 1, "holes", step_s=step_s, notes=notes)


def _uneven(clock: Clock, notes: tuple[Text, ...]) -> TimeBase:
    span_s = clock.last - clock.first
    steps = clock.sampled_steps()
    finest_s = float(np.quantile(steps, 0.1))
    most = max(_MOST_GROWTH * clock.count, _SMALL_GRID)
    step_s = max(finest_s, span_s / most)
    pause_s = _LONG_PAUSE * float(np.quantile(steps, 0.9))
    rate_hz = float(f"{1.0 / step_s:.12g}")
    longest_s = clock.longest_step
    said = say(
        "The time steps are uneven; values were put on an even grid of {rate} Hz.",
        rate=f"{rate_hz:g}",
    )
    if longest_s > pause_s:
        said = say(
            "{uneven} The longest pause is {pause} s.", uneven=said, pause=f"{longest_s:.3g}"
        )
    return TimeBase(
        clock.first,
        rate_hz,
        int(np.floor(span_s / step_s * (1 + 1e-12))) + 1,
        "uneven",
        step_s=step_s,
        pause_s=pause_s,
        notes=(*notes, said),
    )


def _off_s(clock: Clock, places: Iterator[NDArray[np.int64]], step_s: float) -> float:
    """Return how far times stray from their places at most."""
    return max(
        float(np.abs(times_s - (clock.first + at * step_s)).max())
        for times_s, at in zip(clock.blocks(), places, strict=True)
    )


def plain_rate(rate_hz: float, doubt: float) -> float:
    """Return the roundest rate the stamps allow: 499999.99997 is 500000.

    `doubt` is how far the stamps stray from even, as a share of the whole span.
    """
    for digits in range(1, 10):
        rounded = float(f"{rate_hz:.{digits - 1}e}")
        if abs(rounded / rate_hz - 1.0) <= max(doubt, 1e-9):
            return rounded
    return rate_hz
