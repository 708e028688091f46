"""Which engine cycles of a crank the figures are taken from, and why not from the others."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import Text, say
from traces.core.crank.cranking import CrankSpan
from traces.core.report import CycleUse, CycleUses, Excluded, Reason
from traces.core.setup import SpanS

LEVEL_WITHIN = 0.12  # of the usual cycle's mean current
LENGTH_WITHIN = 0.12
LIKENESS = 0.85

_CUT = say("no whole engine cycle: the crank ends in it")
_LEAST_S = 0.03  # a shorter piece is the edge of a filter, nothing to tell a reader

LEFT_OUT: tuple[Reason, Text] = ("hand", say("left out by hand"))
_NOT_CHOSEN = say("outside the stretch chosen by hand")

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class CycleDeviations:
    """Each cycle held against the usual one.

    Parameters
    ----------
    level, length
        Mean current and duration over the usual cycle's, shape (cycles,).
    likeness
        Correlation with the usual cycle, shape (cycles,).
    """

    level: Floats
    length: Floats
    likeness: Floats

    @property
    def alike(self) -> NDArray[np.bool_]:
        """Return which are alike in level, length and shape."""
        good = np.abs(self.level - 1.0) < LEVEL_WITHIN
        good &= np.abs(self.length - 1.0) < LENGTH_WITHIN
        good &= self.likeness > LIKENESS
        return np.asarray(good, dtype=np.bool_)

    def why(self, index: int) -> tuple[Reason, Text]:
        """Say what sets a cycle apart most."""
        level, length = float(self.level[index]), float(self.length[index])
        likeness = float(self.likeness[index])
        off: dict[Reason, float] = {
            "level": abs(level - 1.0) / LEVEL_WITHIN,
            "length": abs(length - 1.0) / LENGTH_WITHIN,
            "shape": (1.0 - likeness) / (1.0 - LIKENESS),
        }
        reason = max(off, key=lambda name: off[name])
        if reason == "shape":
            return reason, say(
                "its humps are unlike the usual cycle's (likeness {likeness})",
                likeness=f"{likeness:.2f}",
            )
        share = level if reason == "level" else length
        per_cent = f"{100 * abs(share - 1.0):.0f} %"
        return reason, _OFF[reason, share > 1].filled(per_cent=per_cent)


_OFF: Mapping[tuple[Reason, bool], Text] = MappingProxyType(
    {
        ("level", True): say("its current is {per_cent} above the usual cycle's"),
        ("level", False): say("its current is {per_cent} below the usual cycle's"),
        ("length", True): say("it takes {per_cent} longer than the usual one"),
        ("length", False): say("it takes {per_cent} less than the usual one"),
    }
)
"""By what a cycle is off, and whether upwards."""


def cycle_uses(
    edges_s: Floats,
    keep: NDArray[np.int64],
    compared: CycleDeviations,
    *,
    collapsed: bool,
    start_seen: bool,
    wanted: NDArray[np.bool_] | None = None,
) -> tuple[CycleUse, ...]:
    """Give every cycle of a crank its use.

    Parameters
    ----------
    edges_s
        Where cycles begin, and the last one ends, shape (cycles + 1,).
    keep
        Which of them are used.
    compared
        What `keep` was chosen by.
    collapsed
        Whether the engine gave the current a way out after the last of `keep`.
    start_seen
        Whether the recording holds the starter's start, so that it runs up first.
    wanted
        Which cycles a person did not leave out, shape (cycles,); None for all.
    """
    kept = set(keep.tolist())
    if wanted is None:
        wanted = np.ones(edges_s.size - 1, dtype=np.bool_)
    last = max(kept, default=-1)
    alike = compared.alike
    running_up = start_seen and bool(kept)
    in_a_run = keep.size == 0 or np.count_nonzero(wanted[min(kept) : last + 1]) == keep.size
    uses = []
    for i in range(edges_s.size - 1):
        use = CycleUse(float(edges_s[i]), float(edges_s[i + 1]))
        if not wanted[i]:
            use = replace(use, reason=LEFT_OUT[0], words=LEFT_OUT[1])
        elif i in kept:
            running_up = False
        elif collapsed and i > last:
            words = say("the current gives way, as when the engine starts")
            use = replace(use, reason="started", words=words)
        elif alike[i] and in_a_run:
            running_up = False
            words = say("alike, but parted from the longest run of cycles that are")
            use = replace(use, reason="apart", words=words)
        else:
            reason, words = compared.why(i)
            running_up = running_up and reason != "shape"
            use = replace(
                use,
                reason="run-up" if running_up else reason,
                words=say("still running up: {words}", words=words) if running_up else words,
            )
        uses.append(use)
    return tuple(uses)


def excluded_spans(
    cycles: Sequence[CycleUse],
    span: CrankSpan,
    recorded_s: tuple[float, float],
    judged_to_s: float | None,
    chosen_s: SpanS | None = None,
) -> tuple[Excluded, ...]:
    """Return the stretches that no figure is taken from, in time order.

    Parameters
    ----------
    cycles
        Of the crank; empty where none could be told.
    recorded_s
        Begin and end of the recording.
    judged_to_s
        The part of a cycle that follows the last one belongs to the span judged.
    chosen_s
        The only stretch that a person wants judged; None for all.
    """
    begin_s, end_s = recorded_s
    from_s, to_s = chosen_s or recorded_s
    inside_s = (max(begin_s, from_s), min(end_s, to_s))
    return tuple(
        found
        for found in (
            Excluded(begin_s, inside_s[0], LEFT_OUT[0], _NOT_CHOSEN),
            *_spans(cycles, span, inside_s, judged_to_s),
            Excluded(inside_s[1], end_s, LEFT_OUT[0], _NOT_CHOSEN),
        )
        if found.to_s - found.from_s >= _LEAST_S
    )


def _spans(
    cycles: Sequence[CycleUse],
    span: CrankSpan,
    recorded_s: tuple[float, float],
    judged_to_s: float | None,
) -> Iterator[Excluded]:
    if span.start_seen:
        yield Excluded(recorded_s[0], span.from_s, "before", say("before the crank"))
        yield Excluded(span.from_s, span.settled_from_s, "run-up", say("inrush and first run-up"))
    if cycles:
        begin_s = span.settled_from_s if span.start_seen else recorded_s[0]
        yield Excluded(begin_s, cycles[0].from_s, "cut", say("no whole engine cycle"))
        for reason, group in groupby(cycles, key=lambda c: c.reason):
            alike = list(group)
            if reason is not None:
                words = _together(reason, alike)
                if len(alike) > 1:
                    words = say("{count} engine cycles: {why}", count=len(alike), why=words)
                yield Excluded(alike[0].from_s, alike[-1].to_s, reason, words)
        if judged_to_s is None or judged_to_s < span.to_s - _LEAST_S:
            yield Excluded(cycles[-1].to_s, span.to_s, "cut", _CUT)
    if span.end_seen and span.ran_on:
        words = say("the starter runs on unloaded, as when the engine starts")
        yield Excluded(span.to_s, recorded_s[1], "started", words)
    elif span.end_seen:
        yield Excluded(span.to_s, recorded_s[1], "after", say("after the crank"))


def _together(reason: Reason, cycles: Sequence[CycleUse]) -> Text:
    if len(cycles) == 1 or reason in ("started", "apart", "hand"):
        return cycles[0].words
    sentences: dict[str, Text] = {
        "run-up": say("still running up"),
        "level": say("their current is off the usual cycle's"),
        "length": say("they take longer or less than the usual one"),
        "shape": say("their humps are unlike the usual cycle's"),
    }
    return sentences.get(reason, cycles[0].words)


def all_cycle_uses(
    cycles: Sequence[CycleUse],
    span: CrankSpan,
    recorded_s: tuple[float, float],
    judged_to_s: float | None,
    chosen_s: SpanS | None = None,
) -> CycleUses:
    """Return cycles and excluded spans as a report's part; parameters as `excluded_spans`.

    What is left of the crank after the last whole cycle comes as a cycle that is not used, even
    where it lies in the span judged: its humps are marked.
    """
    spans = excluded_spans(cycles, span, recorded_s, judged_to_s, chosen_s)
    listed = list(cycles)
    if cycles and span.to_s - cycles[-1].to_s >= _LEAST_S:
        listed.append(CycleUse(cycles[-1].to_s, span.to_s, "cut", _CUT))
    return CycleUses(
        tuple(replace(c, from_s=round(c.from_s, 5), to_s=round(c.to_s, 5)) for c in listed),
        tuple(replace(s, from_s=round(s.from_s, 5), to_s=round(s.to_s, 5)) for s in spans),
    )
