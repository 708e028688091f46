"""The plain reading as a method: it speaks where the fitted one does not follow a recording."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from shopdiag.people.core.words import Text, say
from traces.core.findings import Finding, finding
from traces.core.humps import HumpMethod, Limits
from traces.core.preparation import GOOD_SAMPLES_A_HUMP, Measured, Prepared
from traces.core.report import PlainFigures, Report, ReportParts
from traces.core.setup import AnalysisSetup
from traces.core.signals.plain_reading import (
    LEAST_TO_TELL,
    PlainReading,
    plain_measured,
    read_sag,
    read_teeth,
)
from traces.core.signals.signal_findings import lower_of
from traces.core.signals.teeth_method import ToothCycles, away_from_angle
from traces.core.twin import TDC_AFTER_HUMP_DEG, weigh_label

_OVERRULED = frozenset({"poor-fit", "too-uncertain", "unsteady"})
"""Codes by which a fitted method says that it did not follow the recording."""

_TOLD_BESIDE = _OVERRULED | {"too-short"}
_LEFT_OUT = frozenset({"shape", "level", "length", "apart", "teeth"})
_MOST_LEFT_OUT = 0.2
_HARDLY = 0.25
_WIDE = 0.5


class PlainMethod:
    """Swing after each compression; made by `read_plainly`.

    Parameters
    ----------
    reading
        What was read.
    layout
        How the firing order was laid over the cycle.
    """

    name = "plain"

    def __init__(self, reading: PlainReading, layout: Measured) -> None:
        self.reading = reading
        self._layout = layout

    def measure(self, prepared: Prepared) -> Measured:
        """Return the swings as strengths."""
        reading, layout = self.reading, self._layout
        limits = _limits(prepared.setup)
        tdc_deg = layout.offset_deg + TDC_AFTER_HUMP_DEG
        weighed = weigh_label(prepared, layout, tdc_deg)
        measured = plain_measured(reading, layout, prepared.cranking.span.level_a)
        told = finding("plain-reading", seen=_seen(reading, prepared.setup))
        return replace(
            measured.relabelled(weighed.labelings),
            findings=(*layout.findings, *weighed.findings, told),
            parts=ReportParts(label=weighed.told, plain=_figures(reading, limits)),
        )


def read_plainly(prepared: Prepared, cycles: ToothCycles | None = None) -> PlainMethod | None:
    """Read what each compression does to the signal.

    Parameters
    ----------
    prepared
        The capture.
    cycles
        Tooth times of steady cycles; None where the signal is the battery's sag.

    Returns
    -------
    PlainMethod or None
        None where the engine's compressions cover each other.
    """
    layout = HumpMethod().measure(prepared)
    if cycles is not None:
        elsewhere = away_from_angle(prepared, layout)
        if elsewhere is not None and elsewhere.explained > layout.explained:
            layout = elsewhere
    order = prepared.order.starting_at(layout.labelings[0][0])
    if cycles is None:
        reading = read_sag(prepared.cranking, layout, order)
    else:
        reading = read_teeth(cycles, order, layout.offset_deg)
    return None if reading is None else PlainMethod(reading, layout)


def _figures(reading: PlainReading, limits: Limits) -> PlainFigures:
    return PlainFigures(
        pattern=reading.pattern(limits),
        relative=tuple(round(float(v), 3) for v in reading.relative(limits)),
    )


def or_plain(
    fitted: Report,
    doubts: Sequence[Finding],
    prepared: Prepared,
    cycles: ToothCycles | None,
    judge_plain: Callable[[PlainMethod], Report],
) -> Report:
    """Let the plain reading speak where the fitted method did not follow the recording.

    It takes the fitted method's place only where the crank is steady and its pattern is clear;
    else what it shows is told beside the refusal, or beside figures of wide intervals.

    Parameters
    ----------
    fitted
        What the fitted method said.
    doubts
        What else keeps its figures from being used.
    prepared, cycles
        As `read_plainly` takes them.
    judge_plain
        Judges the capture by the method given.
    """
    stops = _stops([*fitted.findings, *doubts])
    # a fit follows few samples a hump into figures that hang on where the cycle is cut
    unsure = fitted.verdict == "even" and (
        any(f.code == "too-uncertain" for f in fitted.findings)
        or (cycles is None and prepared.samples_a_hump < GOOD_SAMPLES_A_HUMP)
    )
    if cycles is not None and fitted.verdict == "uneven" and _is_wide(fitted):
        return _with_pattern(fitted, prepared, cycles)
    if not stops <= _OVERRULED or not (stops or unsure):
        return fitted
    plain = read_plainly(prepared, cycles)
    if plain is None:
        return fitted
    pattern = plain.reading.pattern(_limits(prepared.setup))
    # beside a weak cylinder the sag of another one rises: no set of weak ones is read from it
    may_be_uneven = bool(stops) and cycles is not None
    spoken = pattern == "even" or (pattern == "uneven" and may_be_uneven)
    if spoken and _most_are_used(fitted):
        report = judge_plain(plain)
        if report.verdict == pattern:
            return report
    return _telling(fitted, plain, prepared.setup) if stops else fitted


def telling_plainly(report: Report, prepared: Prepared, cycles: ToothCycles) -> Report:
    """Tell the pattern seen beside a refusal for too few cycles; the report stays refused."""
    stops = _stops(report.findings)
    if not stops or not stops <= _TOLD_BESIDE or cycles.steady.shape[0] < LEAST_TO_TELL:
        return report
    return _with_pattern(report, prepared, cycles)


def _with_pattern(report: Report, prepared: Prepared, cycles: ToothCycles) -> Report:
    plain = read_plainly(prepared, cycles)
    return report if plain is None else _telling(report, plain, prepared.setup)


def _is_wide(report: Report) -> bool:
    """Return whether figures are so uncertain that the pattern itself says more."""
    return any(e.high - e.low > _WIDE for e in report.estimates)


def _stops(findings: Sequence[Finding]) -> set[str]:
    return {f.code for f in findings if f.severity == "stop"}


def _telling(report: Report, plain: PlainMethod, setup: AnalysisSetup) -> Report:
    told = finding("plain-reading-told", seen=_seen(plain.reading, setup))
    parts = replace(report.parts, plain=_figures(plain.reading, _limits(setup)))
    return replace(report, findings=(*report.findings, told), parts=parts)


def _most_are_used(report: Report) -> bool:
    """Return whether few of the crank's cycles were left out for being unlike the others.

    A valve that sticks now and then makes such cycles; those left would all look well.
    """
    used = sum(c.used for c in report.engine_cycles)
    left_out = sum(c.reason in _LEFT_OUT for c in report.engine_cycles)
    return bool(left_out <= max(1.0, _MOST_LEFT_OUT * used))


def _seen(reading: PlainReading, setup: AnalysisSetup) -> Text:
    limits = _limits(setup)
    relative = reading.relative(limits)
    n, low = relative.size, int(np.count_nonzero(relative < _HARDLY))
    plain = lower_of(setup.signal).plain
    if plain is None:
        raise ValueError(f"{setup.signal} is never read plainly")
    words = plain.alike if relative.min() >= limits.watch_below else plain.unalike
    words = plain.some if low else words
    return say(
        "{seen} ({shares} % of the good ones, in firing sequence)",
        seen=words.filled(n=n, low=low),
        shares=", ".join(f"{100 * share:.0f}" for share in relative),
    )


def _limits(setup: AnalysisSetup) -> Limits:
    return Limits(setup.suspect_below, setup.watch_below)
