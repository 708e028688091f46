"""The fitted twin as a method of the pipeline."""

from dataclasses import replace

import numpy as np

from traces.core.finding_texts import finding
from traces.core.humps import HumpMethod
from traces.core.methods import Measured, Prepared
from traces.core.reference import Limits, sound_mean
from traces.core.results import Finding
from traces.core.twin.cycles import Course, courses, folded, folded_whole, per_cycle_changes
from traces.core.twin.errors import method_errors
from traces.core.twin.fit import Fit, Floats, fit
from traces.core.twin.labels import Label, label_of
from traces.core.twin.model import Profile
from traces.core.twin.parameters import (
    INERTIA,
    KNEE,
    LEVEL,
    PHASE,
    PHASE_UNIT_DEG,
    Knowledge,
    drive_of,
    knowledge,
)

_TDC_AFTER_HUMP_DEG = 16.0  # load humps peak 22 degrees before top dead centre, seen late
_PHASE_SPREAD_DEG = 15.0
_FIRST_LEVEL = 0.85
_FIRST_KNEE = 0.2
_LEAST_ROUGH = 0.05
_GOOD_RMS = 0.006
_POOR_RMS = 0.03
_LEAST_EXPLAINED = 0.97
_WORST_RMS = 0.05
_STRANGEST = 45.0
"""Squared spreads by which a fitted engine may differ, all together, from what engines are."""

_AS_LIKELY = 30.0
"""Twice the log of how much less likely another layout may be and still count as possible."""

_DOUBTED = 0.95
_OTHER = 0.10
"""Confidence in the labels below which they are doubted, and below which they are not used."""

_EMPTY = 0.30
_FAST_RPM = 260.0


class TwinMethod:
    """Peak gauge pressure of each cylinder from a fitted model of starter, crank and gas."""

    name = "twin"

    def measure(self, prepared: Prepared) -> Measured:
        """Fit every layout that the sync leaves open; strengths are peaks over atmosphere.

        Hump readings come first: they lay the firing order over the cycle, give the fit its
        start, and stand beside its figures.
        """
        plain = HumpMethod().measure(prepared)
        cycles = folded(prepared.cranking)
        fitted = [
            (fitted_twin(prepared, layout, cycles), layout)
            for layout in (plain, *plain.alternatives)
        ]
        fitted.sort(key=lambda pair: pair[0].cost)
        best = fitted[0][0].cost
        first, *others = (
            _measured(prepared, found, layout, cycles)
            for found, layout in fitted
            if found.cost <= best + _AS_LIKELY
        )
        return replace(first, alternatives=tuple(others))


def fitted_twin(prepared: Prepared, layout: Measured, cycles: Floats) -> Fit:
    """Fit the twin to the mean of `cycles`, laid out as hump readings found."""
    order = prepared.order.starting_at(layout.labelings[0][0])
    cranking = prepared.cranking
    level_a = float(cycles.mean())
    profile = Profile(
        current=cycles.mean(axis=0) / level_a,
        cycle_s=cranking.cycle_s,
        tdc_deg=np.array(order.tdc_angles_deg),
        cut_off_hz=cranking.conditioned.cut_off_hz,
        fuel=prepared.setup.fuel,
    )
    peak_a = cranking.span.inrush_peak_a
    known = knowledge(
        len(order),
        inrush=peak_a / level_a if peak_a else None,
        phase_deg=layout.offset_deg + _TDC_AFTER_HUMP_DEG,
        phase_spread_deg=_PHASE_SPREAD_DEG,
    )
    rough = np.clip(layout.strengths / max(float(layout.strengths.max()), 1e-9), _LEAST_ROUGH, 1.0)
    found = _from(profile, known, rough)
    if found.rms > _POOR_RMS:
        other = _from(profile, known, rough, lighter=0.7, knee=0.8)
        found = min(found, other, key=lambda f: f.cost)
    return found


def _from(
    profile: Profile,
    known: Knowledge,
    rough: Floats,
    *,
    lighter: float = 0.0,
    knee: float = _FIRST_KNEE,
) -> Fit:
    """Fit leaks and masses; only where that leaves something over, clearances too."""
    first = known.centre.copy()
    first[known.shares] = _FIRST_LEVEL * rough
    first[LEVEL], first[KNEE] = _FIRST_LEVEL, knee
    first[INERTIA] -= lighter
    fixed = np.zeros(first.size, dtype=np.bool_)
    fixed[known.clearances] = True
    found = fit(profile, known, first, fixed)
    if found.rms > _GOOD_RMS:
        found = fit(profile, known, found.state.values)
    return found


def _measured(prepared: Prepared, found: Fit, layout: Measured, cycles: Floats) -> Measured:
    setup = prepared.setup
    peaks = found.lobes.peaks
    limits = Limits(setup.suspect_below, setup.watch_below)
    strongest = float(peaks.max())
    reference = sound_mean(peaks, limits)[0] if strongest > 0 else 1.0
    level_a = float(cycles.mean())
    label = _label(prepared, found, layout)
    single = np.maximum(peaks + per_cycle_changes(found, cycles / level_a), 0.0)
    whole = folded_whole(prepared.cranking) / level_a
    whole = np.maximum(peaks + per_cycle_changes(found, whole), 0.0)
    changing = courses(whole / reference)
    if changing:
        # the steady part may hold its good cycles only, or its bad ones: all of the crank counts
        single, peaks = whole, peaks.copy()
        for course in changing:
            peaks[course.index] = whole[:, course.index].mean()
    # in amps of the load, so that a method's figures can be told from nothing at all
    amps = level_a * float(np.ptp(found.profile.current)) / max(strongest, 1e-9)
    return replace(
        layout,
        strengths=peaks * amps,
        per_cycle=single * amps,
        method_errors=method_errors(found, reference),
        explained=found.explained,
        alternatives=(),
        findings=(
            *_refusals(prepared, found),
            *_doubts(prepared, label),
            *(_told(course, layout) for course in changing),
        ),
        extra={
            "which_cylinder": label
            and {
                "confidence": round(label.confidence, 3),
                "tdc_after_event_deg": round(label.tdc_after_event_deg, 1),
            },
            **_shown(found),
        },
    )


def _refusals(prepared: Prepared, found: Fit) -> list[Finding]:
    strange = found.known.strangeness(found.state.values) > _STRANGEST
    if found.explained < _LEAST_EXPLAINED or found.rms > _WORST_RMS or strange:
        return [finding("poor-fit", share=f"{100 * found.explained:.0f}")]
    n = found.profile.cylinders
    if n >= 4 and n % 2 == 0 and prepared.cranking.rpm > _FAST_RPM:
        peaks = found.lobes.peaks
        one, other = sorted((peaks[::2], peaks[1::2]), key=lambda p: float(p.mean()))
        if float(one.max()) < _EMPTY * float(other.min()):
            why = ": every other hump is missing, as when a cycle is taken for two"
            return [finding("hump-mismatch", cylinders=n, why=why)]
    return []


def _label(prepared: Prepared, found: Fit, layout: Measured) -> Label | None:
    """Return how sure the labels are; None where no sync decides them alone."""
    sync = prepared.setup.sync
    if sync is None or prepared.sync.state != "every-720" or len(layout.labelings) > 1:
        return None
    phase_deg = float(found.state.values[PHASE]) * PHASE_UNIT_DEG
    return label_of(prepared.order, sync.event, phase_deg)


def _doubts(prepared: Prepared, label: Label | None) -> list[Finding]:
    sync = prepared.setup.sync
    if label is None or sync is None or label.confidence >= _DOUBTED:
        return []
    off = label.tdc_after_event_deg
    side = "before" if off > 0 else "after"
    apart = min(prepared.order.intervals_deg)
    why = (
        f"the event stands {abs(off):.0f} degrees {side} the nearest top dead centre, and firings "
        f"are {apart:.0f} degrees apart"
    )
    if label.confidence < _OTHER:
        return [finding("sync-mismatch", channel=sync.channel, why=why)]
    return [finding("which-cylinder", channel=sync.channel, why=why)]


def _told(course: Course, layout: Measured) -> Finding:
    """Name a cylinder that is low in some cycles of the crank, steady part or not."""
    known = len(layout.labelings) == 1
    place = layout.labelings[0][course.index] if known else course.index + 1
    which = f"{'Cylinder' if known else 'Position'} {place}"
    code = "low-at-first" if course.kind == "first" else "comes-and-goes"
    return finding(code, which=which, low=course.low, cycles=course.cycles)


def _shown(found: Fit) -> dict[str, object]:
    """Return figures of the fitted engine for display; plain JSON values."""
    values = found.state.values
    drive = drive_of(values)
    return {
        "twin": {
            "stall_over_mean": round(drive.motor.stall_a, 2),
            "knee_over_mean": round(drive.motor.knee_a, 3),
            "starter_share_of_inertia": round(drive.share, 3),
            "inertia": round(drive.inertia, 3),
            "clutch_free_share": round(float((found.state.orbit.mode != 0).mean()), 3),
            "residual_share": round(found.rms, 4),
        },
        "cycle_fit": {
            "measured": [round(float(v), 3) for v in found.profile.current],
            "model": [round(float(v), 3) for v in found.state.current],
        },
    }
