"""The last row of a table, where it is none: cut off while saving, or a figure of a footer."""

from collections.abc import Iterator

import numpy as np

from shopdiag.people.core.words import Text, say
from traces.core.readers.stream import Block

_STEPS_OFF = 3.0
_FEWEST_ROWS = 8


def without_torn_end(blocks: Iterator[Block], notes: list[Text]) -> Iterator[Block]:
    """Yield all rows but a last one whose time does not belong there.

    A figure that is cut through is a smaller one, so that time seems to run back; a row that
    ends early far from the others is no row of theirs. A row with a time that fits is kept.
    """
    last: Block | None = None
    for block in blocks:
        if last is not None and block.values.shape[1] < _FEWEST_ROWS:
            last = _joined(last, block)  # a line that is not closed comes by itself
            continue
        if last is not None:
            yield last
        last = block
    if last is None:
        return
    if _ends_torn(last):
        notes.append(say("The last row is cut off or belongs to a footer; it is left out."))
        last = Block(last.values[:, :-1], None if last.times is None else last.times[:-1])
    if last.values.shape[1]:
        yield last


def _joined(first: Block, second: Block) -> Block:
    times = None
    if first.times is not None and second.times is not None:
        times = np.concatenate((first.times, second.times))
    return Block(np.concatenate((first.values, second.values), axis=1), times)


def _ends_torn(block: Block) -> bool:
    if block.times is None or block.times.size < _FEWEST_ROWS:
        return False
    steps = np.diff(block.times)
    if steps[-1] < 0:
        return bool((steps[:-1] >= 0).all())
    cut = np.isnan(block.values[:, -1]) & ~np.isnan(block.values[:, -2])
    usual = float(np.median(steps[:-1]))
    return bool(cut.any() and steps[-1] > _STEPS_OFF * usual)
