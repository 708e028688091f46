"""Files that hold named arrays: which of them are channels, which is time, what is the rate."""

import math
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import Text, say
from traces.core.findings import joined
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import (
    NO_RATE,
    TROUBLE,
    Source,
    refuse_channels,
    refuse_swollen,
    refuse_too_many,
)
from traces.core.readers.stream import BLOCK_ROWS, Block, Column, Stream
from traces.core.readers.text_names import ColumnName, read_title

Part: TypeAlias = Callable[[int, int], NDArray[Any]]

_RATE = re.compile(
    r"(sampl(e|ing)[ _-]?)?(rate|freq(uency)?)([ _-]?hz)?|fs|f_s|sr|hz", re.IGNORECASE
)
_STEP = re.compile(
    r"dt|delta[ _-]?t|(wf[ _-]|x[ _-])?increment|x[ _-]?step"
    r"|(time[ _-]?|sampl(e|ing)[ _-]?)(step|interval|period)",
    re.IGNORECASE,
)
_START = re.compile(
    r"t0|t_0|t[ _-]?start|start([ _-]?time)?([ _-]?s)?|(wf[ _-]|x[ _-])?(start[ _-]?offset|origin)",
    re.IGNORECASE,
)
_LOWEST_HZ, _HIGHEST_HZ = 1e-6, 1e12


@dataclass(frozen=True, slots=True, eq=False)
class Array:
    """One array of a file.

    Parameters
    ----------
    name, unit
        As the file gives them.
    size
        Values along its length.
    part
        Returns values `first` to `last` (exclusive) as real numbers, without reading more.
    coding
        How the values are stored, where that is known before they are read.
    """

    name: str
    unit: str | None
    size: int
    part: Part
    coding: str = ""


@dataclass(slots=True)
class Arrays:
    """What a file holds.

    Parameters
    ----------
    arrays
        One-dimensional and numeric, in the file's order.
    facts
        Single figures by name: rate, step and start are looked for among them.
    left_out
        Names of what cannot be a channel.
    """

    arrays: list[Array] = field(default_factory=list)
    facts: dict[str, float] = field(default_factory=dict)
    left_out: list[str] = field(default_factory=list)

    def add_fact(self, name: str, value: object) -> None:
        """Keep a single figure; anything else is passed over."""
        try:
            figure = float(np.asarray(value).reshape(()).item())
        except TROUBLE:
            return
        if math.isfinite(figure):
            self.facts.setdefault(name, figure)

    def stream(self, kind: str, source: Source, *, block_rows: int = BLOCK_ROWS) -> Stream:
        """Return the channels: the arrays of the length that most share, longest of equals.

        Raises
        ------
        ReadError
            If there are none.
        """
        group = self._group()
        titles = [read_title(array.name, array.unit or "") for array in group]
        clock = next(
            (i for i, title in enumerate(titles) if title.role == "time" and title.named_time), None
        )
        signals = [i for i in range(len(group)) if i != clock]
        if not signals:
            raise ReadError(
                say(
                    "This {kind} file holds no recorded channels; save the samples and try again.",
                    kind=kind,
                )
            )
        refuse_channels(len(signals))
        refuse_too_many(group[0].size * len(signals))
        refuse_swollen(group[0].size * len(signals), source.size)
        notes = self._notes()
        factor = _factor(titles[clock], notes) if clock is not None else None
        rate_hz = None if factor else self._rate_hz(source, notes)
        columns = _columns([group[i] for i in signals], [titles[i] for i in signals])
        return Stream(
            format=kind,
            columns=columns,
            blocks=_blocks(kind, group, signals, (clock, factor or 1.0), block_rows),
            rate_hz=rate_hz,
            t0_s=_found(_START, self.facts) or 0.0,
            rows=group[0].size if clock is None else None,
            notes=notes,
            coding=" ".join(array.coding for array in group),
        )

    def _group(self) -> Sequence[Array]:
        sizes = Counter(array.size for array in self.arrays if array.size > 1)
        if not sizes:
            return []
        size = max(sizes, key=lambda one: (sizes[one] > 1, one))
        self.left_out += [array.name for array in self.arrays if array.size != size]
        return [array for array in self.arrays if array.size == size]

    def _notes(self) -> list[Text]:
        if not self.left_out:
            return []
        names = joined([f"“{_plain(name)}”" for name in self.left_out[:5]])
        if len(self.left_out) > 5:
            names = say("{names} and {count} more", names=names, count=len(self.left_out) - 5)
        return [say("Left out, because they do not fit the other channels: {names}.", names=names)]

    def _rate_hz(self, source: Source, notes: list[Text]) -> float | None:
        rate_hz = _found(_RATE, self.facts)
        step_s = _found(_STEP, self.facts)
        if rate_hz is None and step_s is not None and step_s > 0:
            rate_hz = float(f"{1.0 / step_s:.12g}")
        if rate_hz is not None and _LOWEST_HZ <= rate_hz <= _HIGHEST_HZ:
            return rate_hz
        if source.rate_hz:
            notes.append(say("The file gives no sample rate; it is taken from the set-up."))
        else:
            notes.append(NO_RATE)
        return source.rate_hz


def columns_of(
    name: str, unit: str | None, shape: tuple[int, ...], part: Part, coding: str = ""
) -> list[Array]:
    """Return a table's columns, or its rows where those are the longer ones, as arrays.

    Parameters
    ----------
    part
        Returns the table's slice `first` to `last` along its longer side, that side first.
    """
    if len(shape) == 1:
        return [Array(name, unit, shape[0], part, coding)]
    long, short = max(shape), min(shape)
    refuse_channels(short)

    def column(i: int) -> Part:
        return lambda first, last: part(first, last)[:, i]

    names = [f"{name} {i + 1}" if short > 1 else name for i in range(short)]
    return [Array(names[i], unit, long, column(i), coding) for i in range(short)]


def _columns(group: Sequence[Array], titles: Sequence[ColumnName]) -> tuple[Column, ...]:
    taken: Counter[str] = Counter()
    found = []
    for number, (array, title) in enumerate(zip(group, titles, strict=True), start=1):
        name = title.name or _plain(array.name) or str(number)
        taken[name.casefold()] += 1
        if taken[name.casefold()] > 1:
            name = f"{name} ({number})"
        unit = title.written_unit if title.role == "time" else title.unit
        found.append(Column(name, unit))
    return tuple(found)


def _factor(title: ColumnName, notes: list[Text]) -> float:
    if title.time_factor is None:
        notes.append(say("The times carry no unit; they are read as seconds."))
    return title.time_factor or 1.0


def _blocks(
    kind: str,
    group: Sequence[Array],
    signals: Sequence[int],
    timing: tuple[int | None, float],
    block_rows: int,
) -> Iterator[Block]:
    clock, factor = timing
    size = group[signals[0]].size
    for first in range(0, size, block_rows):
        last = min(first + block_rows, size)
        try:
            values = np.stack([_real(group[i].part(first, last), last - first) for i in signals])
            times = None
            if clock is not None:
                times = _real(group[clock].part(first, last), last - first, np.float64)
                times = times * factor
        except TROUBLE:
            raise ReadError(
                say(
                    "This {kind} file is cut off or damaged after {first} samples; save or "
                    "copy it again.",
                    kind=kind,
                    first=first,
                )
            ) from None
        if times is not None:
            keep = np.isfinite(times)
            if not keep.all():
                values, times = values[:, keep], times[keep]
        yield Block(values, times)


def _real(
    values: NDArray[Any], size: int, dtype: type[np.float32 | np.float64] = np.float32
) -> NDArray[Any]:
    if values.shape != (size,) or values.dtype.kind not in "biuf":
        raise ValueError("no row of real numbers")
    with np.errstate(over="ignore"):
        return values.astype(dtype)


def _found(pattern: re.Pattern[str], facts: Mapping[str, float]) -> float | None:
    return next((value for name, value in facts.items() if pattern.fullmatch(name.strip())), None)


def _plain(name: str) -> str:
    return "".join(c if c.isprintable() else " " for c in name).strip()[:80]
