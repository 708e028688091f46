"""Cylinders that stand higher than the sound ones: which they are, and how it is said."""

from collections.abc import Sequence
from typing import Protocol

from shopdiag.people.core.words import NOTHING, Text, say
from traces.core.findings import cylinders_words
from traces.core.report.results import HIGH, LOW_CALLS, Report

HIGH_FROM = 1.15
"""Relative compression from which a cylinder counts as high. Sound cylinders scatter by 2 to 3 %
(common practice), so that this is beyond them, and a method's own errors."""

HIGH_CLEAR_OF = 1.05
"""What the low end of its interval must reach, so that it is clear of a sound cylinder."""


class Figured(Protocol):
    """One cylinder's relative compression, of one capture or of several pooled."""

    @property
    def relative(self) -> float: ...
    @property
    def low(self) -> float: ...
    @property
    def call(self) -> str: ...


def high_places(estimates: Sequence[Figured]) -> tuple[int, ...]:
    """Return the places in firing sequence, from 0, of the cylinders that stand high.

    After a weak cylinder the crank comes slower into the next compression, and some of that may
    be left in its figure; such a one is not called high.
    """
    return tuple(
        i
        for i, estimate in enumerate(estimates)
        if stands_high(
            estimate.relative, estimate.low, estimates[i - 1].call if len(estimates) > 1 else ""
        )
    )


def stands_high(relative: float, low: float, call_before: str) -> bool:
    """Return whether a figure is high, by the low end of its interval and the call before it."""
    return relative >= HIGH_FROM and low >= HIGH_CLEAR_OF and call_before not in LOW_CALLS


def told_calls(estimates: Sequence[Figured]) -> tuple[str, ...]:
    """Return the calls as people are told them: a cylinder that is high is not told as good."""
    high = high_places(estimates)
    return tuple(
        HIGH if i in high and e.call == "sound" else e.call for i, e in enumerate(estimates)
    )


def standing_high(report: Report) -> tuple[int, ...]:
    """Return the places of a report's humps that stand high, whatever makes them so.

    One beneath another cylinder's second compression is among them: its figure is that of its own
    compression alone.
    """
    if not report.shows_compressions:
        # what drives the crank more than others is no compression that stands high
        return ()
    second = report.parts.second_compression
    beneath = {second.on} if second is not None and second.on is not None else set()
    return tuple(sorted({*high_places(report.estimates), *beneath}))


def high_words(report: Report) -> Text:
    """Return what stands high, as the subject of "is high"; nothing where none does.

    Where one is beneath a second compression, its companion's valve gear is to be looked at; the
    finding says so.
    """
    places = standing_high(report)
    numbers = [report.estimates[i].cylinder for i in places]
    known = sorted(n for n in numbers if n is not None)
    if not places and not any(f.code == "high-hump" for f in report.findings):
        return NOTHING
    if report.cylinders_known and len(report.candidates) < 2 and len(known) == len(places) > 0:
        return cylinders_words(known)
    return say("one cylinder or more")


def is_high(report: Report) -> bool:
    """Return whether something stands high, or a compression too many shows."""
    return high_words(report) != NOTHING
