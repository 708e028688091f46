"""The times of a file's rows, kept out of memory, and what their steps are like."""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import Text, say
from traces.core.readers.read_error import ReadError
from traces.core.readers.spool import BLOCK, Spool

Floats: TypeAlias = NDArray[np.float64]

_SAMPLED = 1_000_000  # steps that stand for all where their usual length is asked
_MOST_WRAPS = 10_000
_LEAST_ROWS = 20  # fewer tell no counter's round from a slip
_LEAST_ROWS_A_WRAP = 8
_SAME_WITHIN = 0.02  # of a counter's range: ends and starts of its rounds
_ROUND_DIGITS = 2
_LEAST_POWER = 256.0
_PERIOD_WITHIN = 0.05  # of a step: what jitter leaves uncertain of a counter's range


_LEAST_EVEN_ROWS = 1000  # fewer are put by as they are
_EXACT_WITHIN = 1e-6  # of a step: what figures of 64 bits leave uncertain of times at 1 MHz


@dataclass(slots=True)
class _Piece:
    """Rows that follow on each other: told by a line, or put by one by one.

    Parameters
    ----------
    row
        The first of them.
    first, step
        Of the line; a step of 0 where there is none.
    put_by
        Where the times begin in the spool if there is no line.
    """

    row: int
    first: float = 0.0
    step: float = 0.0
    put_by: int = 0


class Clock:
    """Times in the order of the rows.

    Parameters
    ----------
    folder
        Where times lie that are too many for memory.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._times = Spool(np.float64, folder)  # of rows that are not even
        self._pieces: list[_Piece] = []
        self._ramp: Floats = np.empty(0)
        self.count = 0
        """Rows so far."""
        self._wraps: list[tuple[int, float, float]] = []  # row, time before, time after
        self._from_row: NDArray[np.int64] = np.zeros(1, dtype=np.int64)
        self._shift: Floats = np.zeros(1)
        self._first_bad = 0
        self.first = self.last = 0.0
        self.least_step = np.inf
        self.longest_step = 0.0
        self.standing = 0
        """Rows whose time is that of the row before."""

    def add(self, times: Floats) -> None:
        """Take the next rows' times, finite."""
        if times.size == 0:
            return
        row = self.count
        if row == 0:
            self.first = self.last = float(times[0])
        steps = np.diff(times, prepend=self.last)
        if row == 0:
            steps = steps[1:]
        if steps.size and float(steps.min()) <= 0.0:
            self._note_back(times, steps, row)
            steps = steps[steps > 0]
        if steps.size:
            self.least_step = min(self.least_step, float(steps.min()))
            self.longest_step = max(self.longest_step, float(steps.max()))
        self.last = float(times[-1])
        self._put_by(times, steps)
        self.count += times.size

    def _note_back(self, times: Floats, steps: Floats, row: int) -> None:
        shift = times.size - steps.size
        self.standing += int(np.count_nonzero(steps == 0))
        self._first_bad = self._first_bad or int(np.argmax(steps <= 0)) + row + shift + 1
        for at in np.flatnonzero(steps < 0)[: _MOST_WRAPS + 1 - len(self._wraps)]:
            after = float(times[at + shift])
            self._wraps.append((row + int(at) + shift, after - float(steps[at]), after))

    def _put_by(self, times: Floats, steps: Floats) -> None:
        """Keep times as a line where they are one: a long recording's would fill the disk."""
        if self._is_line(times, steps):
            step = float(times[-1] - times[0]) / (times.size - 1)
            self._pieces.append(_Piece(self.count, float(times[0]), step))
            return
        if not self._pieces or self._pieces[-1].step:
            self._pieces.append(_Piece(self.count, put_by=self._times.size))
        self._times.add(times)

    def _is_line(self, times: Floats, steps: Floats) -> bool:
        if times.size < _LEAST_EVEN_ROWS or steps.size < times.size - 1:
            return False
        step = float(times[-1] - times[0]) / (times.size - 1)
        # the first step may lead here from another piece
        if not step > 0 or float(steps[1:].max()) > 1.01 * step:
            return False
        if self._ramp.size < times.size:
            self._ramp = np.arange(times.size, dtype=np.float64)
        off = self._ramp[: times.size] * step
        off += times[0]
        off -= times
        return bool(max(off.max(), -off.min()) <= _EXACT_WITHIN * step)

    def blocks(self) -> Iterator[Floats]:
        """Return all times in order, counted on over rounds once `unwrap` has found them.

        They come in the parts in which a `Spool` gives the rows' values.
        """
        for row in range(0, self.count, BLOCK):
            yield self._between(row, min(row + BLOCK, self.count))

    def _between(self, first: int, last: int) -> Floats:
        found = np.empty(last - first)
        at = bisect_right(self._pieces, first, key=lambda piece: piece.row) - 1
        row = first
        while row < last:
            piece = self._pieces[at]
            upto = self._pieces[at + 1].row if at + 1 < len(self._pieces) else self.count
            upto = min(upto, last)
            into = found[row - first : upto - first]
            if piece.step:
                np.multiply(np.arange(row - piece.row, upto - piece.row), piece.step, out=into)
                into += piece.first
            else:
                begin = piece.put_by - piece.row
                into[:] = self._times.part(begin + row, begin + upto)
            row, at = upto, at + 1
        if self._shift.size > 1:
            rounds = np.searchsorted(self._from_row, np.arange(first, last), side="right") - 1
            found += self._shift[rounds]
        return found

    def off_even(self, step: float) -> float:
        """Return how far times stray at most from the first one and a step for each row."""
        furthest = 0.0
        for i, piece in enumerate(self._pieces):
            upto = self._pieces[i + 1].row if i + 1 < len(self._pieces) else self.count
            # two lines are furthest apart at an end
            parts = (
                [(piece.row, piece.row + 1), (upto - 1, upto)]
                if piece.step
                else [(at, min(at + BLOCK, upto)) for at in range(piece.row, upto, BLOCK)]
            )
            for first, last in parts:
                times = self._between(first, last)
                off = np.abs(times - (self.first + np.arange(first, last) * step))
                furthest = max(furthest, float(off.max()))
        return furthest

    def line(self) -> tuple[float, float, float]:
        """Return the straight line nearest to the times: time of the first row, step, reach.

        The reach is half of the band along the line in which all times lie.
        """
        middle = (self.count - 1) / 2
        total = leaning = 0.0
        for row, times in self._off_first():
            total += float(times.sum())
            leaning += float(times @ (np.arange(row, row + times.size) - middle))
        step = leaning / (self.count * (self.count**2 - 1) / 12)
        first = total / self.count - middle * step
        least, most = np.inf, -np.inf
        for row, times in self._off_first():
            off = times - (first + np.arange(row, row + times.size) * step)
            least, most = min(least, float(off.min())), max(most, float(off.max()))
        return self.first + first, step, (most - least) / 2

    def is_rounded_line(self, first: float, step: float, within: float) -> bool:
        """Return whether each time lies on a line as nearly as times around it are apart.

        That is what few digits leave of even times; with figures that keep their number of
        digits, later times are further apart than earlier ones.

        Parameters
        ----------
        first, step
            Of the line.
        within
            How much further off a time may be.
        """
        for row, times in self._off_first():
            changes = np.flatnonzero(np.diff(times) > 0) + 1
            if changes.size < 2:
                return False
            # of each run of equal times: the longer of the steps before and behind it
            steps = np.diff(times[np.concatenate(([0], changes))])
            apart = np.maximum(np.append(steps, 0.0), np.insert(steps, 0, 0.0))
            runs = np.searchsorted(changes, np.arange(times.size), side="right")
            off = self.first + times - (first + np.arange(row, row + times.size) * step)
            if (np.abs(off) > 1.05 * apart[runs] + within).any():
                return False
        return True

    def _off_first(self) -> Iterator[tuple[int, Floats]]:
        """Return parts of the times since the first one, and the row that each begins with."""
        row = 0
        for times in self.blocks():
            yield row, times - self.first
            row += times.size

    def close(self) -> None:
        """Let go of the times."""
        self._times.close()

    def sampled_steps(self) -> Floats:
        """Return steps that rise, from all over the file where there are very many.

        At least one, if there is one at all: coarse times may rise in few places.
        """
        blocks = -(-self.count // BLOCK)
        every = max(1, self.count // _SAMPLED)
        found = self._rising([i % every == 0 or i == blocks - 1 for i in range(blocks)])
        return found if found.size else self._rising([True] * blocks)

    def _rising(self, wanted: list[bool]) -> Floats:
        """Return the steps over 0 in the blocks wanted, and those that lead to them."""
        found, last = [np.empty(0)], self.first
        for times, is_wanted in zip(self.blocks(), wanted, strict=True):
            if is_wanted:
                steps = np.diff(times, prepend=last)
                found.append(steps[steps > 0])
            last = float(times[-1])
        return np.concatenate(found)

    def unwrap(self) -> tuple[Text, ...]:
        """Count on over the rounds of a counter that starts again; say so.

        Raises
        ------
        ReadError
            If time runs back in another way than a counter's, or starts again like the next
            of several recordings.
        """
        if not self._wraps:
            return ()
        rows = np.array([row for row, _, _ in self._wraps])
        ends = np.array([before for _, before, _ in self._wraps])
        starts = np.array([after for _, _, after in self._wraps])
        usual = float(np.median(self.sampled_steps())) if self.longest_step > 0 else 0.0
        range_ = float(ends.max() - starts.min())
        same = max(_SAME_WITHIN * range_, 2 * usual)
        lengths = np.diff(np.concatenate((rows, [self.count])))
        if (
            len(rows) > _MOST_WRAPS
            or usual <= 0
            or self.count < _LEAST_ROWS
            or (lengths[:-1] < _LEAST_ROWS_A_WRAP).any()
            or float(np.ptp(ends)) > same
            or float(np.ptp(starts)) > same
            or float(starts.max()) > min(self.first, float(starts.min())) + same
        ):
            raise self.does_not_rise()
        period = float(np.median(ends - starts)) + usual
        as_first = abs(self.first - float(np.median(starts))) <= usual
        if as_first and not _is_round(period, _PERIOD_WITHIN * usual):
            raise ReadError(
                say(
                    "The file holds {count} recordings one after the other: time starts "
                    "again in row {rows} of the numbers; save one of them alone.",
                    count=len(rows) + 1,
                    rows=rows[0] + 1,
                )
            )
        self._from_row = np.concatenate(([0], rows))
        self._shift = period * np.arange(len(rows) + 1, dtype=np.float64)
        self.last += float(self._shift[-1])
        self._restated()
        times = say("once") if len(rows) == 1 else say("{count} times", count=len(rows))
        return (
            say(
                "Time starts again {times}, every {period} s; it is counted on without a pause.",
                times=times,
                period=f"{period:.6g}",
            ),
        )

    def _restated(self) -> None:
        """Take stock of the steps again, now that the rounds are counted on."""
        self.least_step, self.longest_step, last = np.inf, 0.0, self.first
        for times in self.blocks():
            steps = np.diff(times, prepend=last)
            if float(steps.min()) < 0:
                raise self.does_not_rise()
            rising = steps[steps > 0]
            self.least_step = min(self.least_step, float(rising.min(initial=np.inf)))
            self.longest_step = max(self.longest_step, float(rising.max(initial=0.0)))
            last = float(times[-1])

    def does_not_rise(self) -> ReadError:
        """Return the error that names the first row at fault."""
        return ReadError(
            say(
                "Time does not rise in row {row} of the numbers; check which column is "
                "time and export the recording again.",
                row=self._first_bad or 2,
            )
        )


def _is_round(period: float, within: float) -> bool:
    """Return whether a counter would have such a range: a round figure or a power of two."""
    figure = float(f"{period:.{_ROUND_DIGITS - 1}e}")
    return abs(figure - period) <= within or _is_power_of_two(period, within)


def _is_power_of_two(period: float, within: float) -> bool:
    """Return whether the range is 2^n ticks of a decimal unit (1 s, 1 ms, 1 us, 1 ns)."""
    for tick in (1.0, 1e-3, 1e-6, 1e-9):
        nearest = 2.0 ** round(np.log2(period / tick))
        if nearest >= _LEAST_POWER and abs(nearest * tick - period) <= within:
            return True
    return False
