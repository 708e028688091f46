"""One capture from samples to report: prepare, measure by a method, judge."""

from collections.abc import Sequence
from dataclasses import replace

from engines.core.spacing import firing_angles
from traces.core.crank import all_cycle_uses
from traces.core.findings import Finding
from traces.core.humps import Limits, Reference, find_reference, half_width, recorded_half_width
from traces.core.judging import verdict_checks
from traces.core.judging.bank_balance import bank_findings
from traces.core.judging.bank_figures import compared_banks
from traces.core.judging.opened_plug import called_open, plug_note, settle_by_plug
from traces.core.judging.sync_note import sync_note
from traces.core.preparation import Measured, Method, Preparation, Prepared, prepare
from traces.core.report import Estimate, JudgedLayout, Report, ReportParts
from traces.core.setup import AnalysisSetup
from traces.core.starter import starter_figures
from traces.core.twin import TwinMethod
from traces.core.waveform import Floats, Waveform

_SEVERITIES = ("stop", "warn", "note")
_CHANGING = frozenset({"comes-and-goes", "low-at-first"})
DEFAULT_METHOD: Method = TwinMethod()


def analyse(waveform: Waveform, setup: AnalysisSetup, method: Method = DEFAULT_METHOD) -> Report:
    """Judge the compression balance of a cranking capture.

    Parameters
    ----------
    waveform
        The recording; holds the channels that `setup` names.
    setup
        Engine, clamp, sync and limits.
    method
        How compressions are measured.

    Returns
    -------
    Report
        `not judged` with a stop finding wherever the capture does not allow a verdict.

    Raises
    ------
    SetupError
        If the recording has no channel of the name entered.
    """
    return analysed(prepare(waveform, setup), method)


def analysed(preparation: Preparation, method: Method) -> Report:
    """Judge a capture that was prepared; see `analyse`."""
    report = _pictured(preparation, method)
    prepared = preparation.prepared
    if prepared is None:
        return with_findings(report, preparation.findings)
    return judged(report, prepared, method.measure(prepared), preparation.findings)


def judged(
    report: Report, prepared: Prepared, measured: Measured, noticed: Sequence[Finding]
) -> Report:
    """Judge what a method measured.

    Parameters
    ----------
    report
        What can be drawn of the capture, not judged so far.
    noticed
        What was found before measuring.

    Returns
    -------
    Report
        `not judged` where the figures themselves do not allow a verdict.
    """
    limits = Limits(prepared.setup.suspect_below, prepared.setup.watch_below)
    told_of_plug: tuple[Finding, ...] = ()
    if not _stopped([*noticed, *measured.findings, *verdict_checks.check_fit(measured, prepared)]):
        by_plug = settle_by_plug(measured, prepared, noticed, lambda m: estimates_of(m, limits))
        measured, noticed, told_of_plug = by_plug.measured, by_plug.noticed, by_plug.findings
    report = replace(report, humps=measured.humps, cycles=int(measured.per_cycle.shape[0]))
    if measured.cycles:
        conditioned = prepared.cranking.conditioned
        recorded_s = (conditioned.t0_s, conditioned.end_s)
        span, to_s = prepared.cranking.span, prepared.cranking.steady_to_s
        chosen_s = prepared.setup.hand.span_s
        uses = all_cycle_uses(measured.cycles, span, recorded_s, to_s, chosen_s)
        report = replace(report, parts=replace(report.parts, cycle_uses=uses))
    findings = [*noticed, *measured.findings, *told_of_plug]
    if not _stopped(measured.findings):
        findings += verdict_checks.check_fit(measured, prepared)
    if not _stopped(findings):
        compared = compared_banks(measured, prepared.setup, limits)
        measured = compared.measured if compared else measured
        estimates = called_open(estimates_of(measured, limits), measured)
        order = prepared.order.starting_at(measured.labelings[0][0])
        reference = _reference(measured, limits)
        findings += verdict_checks.check_estimates(estimates, reference, order, limits)
        if not _stopped(findings):
            report = _judged(report, prepared, measured, limits, estimates)
            if compared:
                balance = compared.balance
                suspects = [e.cylinder for e in estimates if e.cylinder and e.call == "suspect"]
                report = replace(report, banks=balance.banks, bank_difference=balance.difference)
                findings += bank_findings(balance, suspects)
    return with_findings(report, findings)


def _reference(measured: Measured, limits: Limits) -> Reference:
    return find_reference(measured.strengths, limits, measured.raised, measured.measure)


def estimates_of(measured: Measured, limits: Limits) -> tuple[Estimate, ...]:
    """Turn strengths into figures relative to the sound mean, one a position."""
    reference = _reference(measured, limits)
    mean = reference.mean
    hump_mean = _hump_mean(measured, mean, limits)
    known = measured.labelings[0] if len(_all_labelings(measured)) == 1 else None
    evened = measured.cycles_at_one_level()
    estimates = []
    for i, strength in enumerate(measured.strengths):
        relative = float(strength) / mean
        changes = measured.changing is not None and bool(measured.changing[i])
        interval = recorded_half_width if changes else half_width
        half = interval(evened[:, i] / mean, float(measured.method_errors[i]))
        low, high = reference.widened(i, relative - half, relative + half)
        estimates.append(
            Estimate(
                position=i + 1,
                cylinder=known[i] if known else None,
                relative=max(0.0, round(relative, 6)),
                low=max(0.0, round(low, 6)),
                high=max(0.0, round(high, 6)),
                call=limits.call(relative, high),
                per_cycle=tuple(round(float(v), 6) for v in measured.per_cycle[:, i] / mean),
                hump_relative=round(float(measured.hump_strengths[i]) / hump_mean, 6),
            )
        )
    return tuple(estimates)


def _judged(
    report: Report,
    prepared: Prepared,
    measured: Measured,
    limits: Limits,
    estimates: tuple[Estimate, ...],
) -> Report:
    opened = prepared.setup.opened_plug
    candidates = _low_sets(measured, estimates, opened)
    for other in measured.alternatives:
        candidates += _low_sets(other, estimates_of(other, limits), opened)
    uneven = any(e.call == "suspect" for e in estimates)
    return replace(
        report,
        verdict="uneven" if uneven else "even",
        estimates=estimates,
        candidates=tuple(dict.fromkeys(candidates)),
        cylinders_known=len(_all_labelings(measured)) == 1,
        sync_note=plug_note(measured, prepared.setup.firing_order)
        or sync_note(prepared, len(_all_labelings(measured))),
        parts=replace(
            report.parts.with_those_of(measured.parts), layout=_layout(prepared, measured)
        ),
    )


def _layout(prepared: Prepared, measured: Measured) -> JudgedLayout:
    return JudgedLayout(
        amps_known=prepared.cranking.conditioned.amps_known,
        offset_deg=round(measured.offset_deg, 1),
        explained=round(measured.explained, 3),
        first_cylinders=tuple(
            tuple(labels[0] for labels in layout.labelings)
            for layout in (measured, *measured.alternatives)
        ),
    )


def _low_sets(
    measured: Measured, estimates: tuple[Estimate, ...], opened: int | None
) -> tuple[tuple[int, ...], ...]:
    """Return the set of low cylinders, less one opened, under each labeling that may be true."""
    low = [e.position - 1 for e in estimates if e.call == "suspect"]
    return tuple(
        tuple(sorted(labels[i] for i in low if labels[i] != opened))
        for labels in measured.labelings
    )


def _all_labelings(measured: Measured) -> list[tuple[int, ...]]:
    return [
        *measured.labelings,
        *(labels for other in measured.alternatives for labels in other.labelings),
    ]


def _hump_mean(measured: Measured, mean: float, limits: Limits) -> float:
    """Return the plain hump height of the cylinders that count as sound."""
    sound = measured.strengths >= limits.watch_below * mean
    heights: Floats = measured.hump_strengths[sound]
    return max(float(heights.mean()) if heights.size else 0.0, 1e-9)


def _pictured(preparation: Preparation, method: Method) -> Report:
    """Return a report that holds what can be drawn, judged or not."""
    cranking, conditioned = preparation.cranking, preparation.conditioned
    return Report(
        verdict="not judged",
        cranking_rpm=cranking.rpm if cranking else None,
        sync_events_s=tuple(float(t) for t in preparation.sync.events_s),
        judged_from_s=cranking.steady_from_s if cranking else None,
        judged_to_s=cranking.steady_to_s if cranking else None,
        method=method.name,
        inverted=conditioned.inverted if conditioned else False,
        # starter and battery are those of the whole crank, whatever part a person chose
        starter=starter_figures(preparation.whole or preparation),
        parts=ReportParts(
            firing_angles=firing_angles(preparation.setup.firing_order),
            cycle_uses=preparation.cycle_uses,
        ),
    )


def _stopped(findings: Sequence[Finding]) -> bool:
    return any(f.severity == "stop" for f in findings)


def with_findings(report: Report, findings: Sequence[Finding]) -> Report:
    """Return the report with these findings, the gravest first.

    A capture that is not judged names no cylinder that comes and goes, and each reason for not
    judging it is said once.
    """
    stops = {f.code: f for f in reversed(findings) if f.severity == "stop"}
    others = [f for f in findings if f.severity != "stop"]
    if stops:
        others = [f for f in others if f.code not in _CHANGING]
    kept = [*reversed(stops.values()), *others]
    ordered = sorted(kept, key=lambda f: _SEVERITIES.index(f.severity))
    return replace(report, findings=tuple(ordered))
