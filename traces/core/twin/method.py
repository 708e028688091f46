"""The fitted twin as a method of the pipeline."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from engines.core.firing import CYCLE_DEG
from traces.core.humps import HumpMethod, Limits, check_engine, sound_mean, with_doubts
from traces.core.preparation import GOOD_SAMPLES_A_HUMP, Freed, Measured, Prepared
from traces.core.report import CycleUse, ReportParts
from traces.core.setup import AnalysisSetup
from traces.core.twin.bank_fits import peaks_freed
from traces.core.twin.cycles import (
    Course,
    courses,
    cycles_marched,
    cycles_used,
    folded,
    folded_whole,
    per_cycle_changes,
)
from traces.core.twin.errors import changing_error, method_correlation, method_errors
from traces.core.twin.fit_direction import check_direction_of_fit
from traces.core.twin.fit_figures import cycle_fit, engine_figures
from traces.core.twin.fitting import Fit, Floats
from traces.core.twin.invariance import check_shifts, cut_later, shifts_of
from traces.core.twin.labels import weigh_label
from traces.core.twin.model import Profile, angles_deg
from traces.core.twin.parameters import PHASE, PHASE_UNIT_DEG, knowledge
from traces.core.twin.refusals import check_twin, inconstant_finding
from traces.core.twin.shut_valve import (
    beneath_errors,
    likelier_shut,
    second_compression,
    shut_finding,
    without_second,
)
from traces.core.twin.starts import (
    AS_LIKELY,
    GOOD_RMS,
    PHASE_SPREAD_DEG,
    TDC_AFTER_HUMP_DEG,
    far,
    fit_readings,
    initial_shares,
    likelier,
)

_UNLIKE_RMS = 0.03
_LEAST_WELL = 2
_RAISED_BELOW = -0.08  # ln clearance; makes the peak a tenth higher

_EMPTY = 0.30


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
            (_or_shut(prepared, fitted_twin(prepared, layout, cycles), layout), layout)
            for layout in (plain, *plain.alternatives)
        ]
        fitted.sort(key=lambda pair: pair[0].cost)
        best = fitted[0][0].cost
        alone = _has_one_hump(fitted[0][0])
        first = _measured(prepared, *fitted[0], cycles, is_first=True)
        others: list[Measured] = []
        if not _is_refused(first):
            others += [
                _measured(prepared, found, layout, cycles, is_first=False)
                for found, layout in fitted[1:]
                if found.cost <= best + AS_LIKELY
            ]
        if alone:
            # one hump has no spacing that would tell it from another cylinder's
            worse = [layout for found, layout in fitted if found.cost > best + AS_LIKELY]
            others += [first.relabelled(layout.labelings) for layout in worse]
        first = replace(first, alternatives=tuple(others))
        if not alone:
            doubts = check_engine(prepared, plain, best, _refitted_cost, half_cycles=True)
            first = with_doubts(first, doubts)
        if _is_refused(first):
            return first
        direction = check_direction_of_fit(prepared, *fitted[0])
        return replace(first, findings=(*first.findings, *direction))


def _is_refused(measured: Measured) -> bool:
    return any(f.severity == "stop" for f in measured.findings)


def _or_shut(prepared: Prepared, found: Fit, layout: Measured) -> Fit:
    if _has_one_hump(found):
        return found
    return likelier_shut(found, initial_shares(layout.strengths, prepared.setup))


def _refitted_cost(other: Prepared, layout: Measured, in_reach: float) -> float:
    return fitted_twin(other, layout, folded(other.cranking), in_reach=in_reach).cost


def _has_one_hump(found: Fit) -> bool:
    peaks = found.lobes.peaks
    return bool(np.count_nonzero(peaks > _EMPTY * peaks.max()) == 1)


def fitted_twin(
    prepared: Prepared, layout: Measured, cycles: Floats, *, in_reach: float = np.inf
) -> Fit:
    """Fit the twin to the mean of `cycles`, laid out as hump readings found.

    A fit that costs more than `in_reach` need not be the likeliest.
    """
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
        phase_deg=layout.offset_deg + TDC_AFTER_HUMP_DEG,
        phase_spread_deg=PHASE_SPREAD_DEG,
    )
    rough = initial_shares(layout.strengths, prepared.setup)
    found = fit_readings(profile, known, rough, in_reach=far(in_reach))
    return likelier(found, rough, in_reach=in_reach)


def _edges_deg(found: Fit, shares: Sequence[float]) -> list[float]:
    """Return crank degrees after the cycle's beginning at shares of its time."""
    if not shares:
        return []
    points = found.profile.current.size
    angles = np.append(angles_deg(found.state, points), CYCLE_DEG)
    return [float(a) for a in np.interp(shares, np.arange(points + 1) / points, angles)]


def _measured(
    prepared: Prepared, found: Fit, layout: Measured, cycles: Floats, *, is_first: bool
) -> Measured:
    level_a = float(cycles.mean())
    whole = _AllCycles(found, np.empty((0, found.profile.cylinders)), [], level_a)
    seen = prepared.samples_a_hump >= GOOD_SAMPLES_A_HUMP and found.lobes.peaks.max() > 0
    if seen and _unlike(found, folded_whole(prepared.cranking).current_a / level_a):
        whole = _all_cycles(prepared, found, level_a)
    found, changing = whole.found, whole.changing
    peaks, reference = found.lobes.peaks, _reference(prepared, found)
    strongest = float(peaks.max())
    phase_deg = float(found.state.values[PHASE]) * PHASE_UNIT_DEG
    edges_deg = _edges_deg(found, prepared.sync.others_cycles)
    weighed = weigh_label(prepared, layout, phase_deg, edges_deg)
    layout = layout.relabelled(weighed.labelings)
    single = np.maximum(peaks + per_cycle_changes(found, cycles / level_a), 0.0)
    errors = np.hypot(method_errors(found, reference), beneath_errors(found.profile))
    refused = check_twin(found, prepared.cranking.rpm)
    # no figure is told of what is refused, so that nobody asks how sure it is
    is_asked = not (refused and is_first)
    moved = _moved_by_cut(prepared, found, layout) if is_asked else np.zeros(peaks.size)
    unsettled = check_shifts(moved, errors)
    errors = np.hypot(errors, moved)
    changes = np.zeros(peaks.size, dtype=np.bool_)
    if changing:
        # the steady part may hold its good cycles only, or its bad ones: all of the crank counts
        single, peaks = whole.peaks, peaks.copy()
        for course in changing:
            i = course.index
            peaks[i] = single[:, i].mean()
            errors[i] = changing_error(float(peaks[i]) / reference, float(errors[i]))
            changes[i] = True
    # in amps of the load, so that a method's figures can be told from nothing at all
    amps = level_a * float(np.ptp(found.profile.current)) / max(strongest, 1e-9)
    uses: tuple[CycleUse, ...] = ()
    begins_at = float(prepared.cranking.cycle_starts[0]) % 1.0
    if changing:
        uses, before = cycles_used(found, prepared.cranking)
        begins_at = -before % 1.0
    strengths = peaks * amps
    freed = _banks_freed(prepared, found, layout, peaks=peaks, moved=moved, amps=amps)
    return replace(
        layout,
        strengths=strengths,
        per_cycle=single * amps,
        method_errors=errors,
        error_correlation=method_correlation(found, reference),
        banks_freed=freed,
        raised=_raised(found),
        changing=changes,
        explained=found.explained,
        alternatives=(),
        findings=(
            *(refused or unsettled),
            *weighed.findings,
            *shut_finding(found.profile, layout),
            *(inconstant_finding(course, layout) for course in changing),
        ),
        cycles=uses,
        parts=ReportParts(
            label=weighed.told,
            twin=engine_figures(found),
            second_compression=second_compression(found.profile),
            cycle_fit=cycle_fit(
                found,
                level_a=whole.level_a,
                rest_a=prepared.cranking.span.rest_a or 0.0,
                begins_at=begins_at,
            ),
        ),
    )


def _banks_freed(
    prepared: Prepared, found: Fit, layout: Measured, *, peaks: Floats, moved: Floats, amps: float
) -> Freed | None:
    """Return strengths with a bank free to differ; `amps` is what a peak of 1 counts as."""
    setup, fitted = prepared.setup, found.lobes.peaks
    if setup.banks is None or len(layout.labelings) != 1:
        return None
    if beneath_errors(found.profile).any():
        return None  # the bank of that cylinder is no surer than its figure
    members = _members(setup, layout)
    sound = (fitted >= setup.watch_below * _reference(prepared, found)) & ~_raised(found)
    freed = peaks_freed(found, members, sound)
    if freed is None:
        return None
    # a cylinder that is low in some cycles only is not what was fitted
    kept = np.where(peaks == fitted, freed[0], peaks)
    return Freed(kept * amps, freed[1] + np.diag(moved**2))


def _members(setup: AnalysisSetup, layout: Measured) -> list[NDArray[np.bool_]]:
    """Return which positions belong to each bank, each shape (n,)."""
    return [np.isin(layout.labelings[0], bank) for bank in setup.banks or ()]


@dataclass(frozen=True, slots=True, eq=False)
class _AllCycles:
    """All cycles of a crank: the twin of the usual ones, peaks by cycle, and who changes.

    `level_a` is the mean current of the fitted cycle.
    """

    found: Fit
    peaks: Floats
    changing: list[Course]
    level_a: float


def _all_cycles(prepared: Prepared, found: Fit, level_a: float) -> _AllCycles:
    """March every cycle; where a cylinder changes, first fit again to the cycles it is well in."""
    peaks, cycles = cycles_marched(found, prepared.cranking, level_a)
    changing = courses(peaks / _reference(prepared, found))
    if not changing:
        return _AllCycles(found, peaks, changing, level_a)
    columns = peaks[:, [course.index for course in changing]]
    well = (columns > (columns.min(axis=0) + columns.max(axis=0)) / 2).all(axis=1)
    if np.count_nonzero(well) < _LEAST_WELL:
        return _AllCycles(found, peaks, changing, level_a)
    mean = cycles[well].mean(axis=0)
    profile = replace(found.profile, current=mean / mean.mean())
    rough = initial_shares(peaks[well].mean(axis=0), prepared.setup)
    found = likelier(fit_readings(profile, found.known, rough), rough)
    level_a *= float(mean.mean())
    peaks, _ = cycles_marched(found, prepared.cranking, level_a)
    return _AllCycles(found, peaks, courses(peaks / _reference(prepared, found)), level_a)


def _moved_by_cut(prepared: Prepared, found: Fit, layout: Measured) -> Floats:
    """Return how far the figures move where the cycle is cut half-way on, shape (n,).

    Only asked where a fit may not have settled: one that is not a good one, or of few samples.
    """
    peaks, half = found.lobes.peaks, found.profile.cylinders // 2
    settled = found.rms < GOOD_RMS and prepared.samples_a_hump >= GOOD_SAMPLES_A_HUMP
    if settled or half == 0 or not peaks.max() > 0:
        return np.zeros(peaks.size)
    rough = initial_shares(layout.strengths, prepared.setup)
    rough = np.roll(without_second(found.profile, rough), -half)
    other = likelier(fit_readings(cut_later(found, half), found.known, rough), rough)
    return shifts_of(
        peaks / _reference(prepared, found),
        other.lobes.peaks / _reference(prepared, other),
        half,
    )


def _reference(prepared: Prepared, found: Fit) -> float:
    """Return the peak pressure of the sound cylinders."""
    setup, peaks = prepared.setup, found.lobes.peaks
    if not peaks.max() > 0:
        return 1.0
    return sound_mean(peaks, Limits(setup.suspect_below, setup.watch_below), _raised(found))[0]


def _raised(found: Fit) -> NDArray[np.bool_]:
    """Return which cylinders are high by their clearance, shape (n,)."""
    return np.asarray(found.state.values[found.known.clearances] < _RAISED_BELOW)


def _unlike(found: Fit, cycles: Floats) -> bool:
    """Return whether a cycle of the crank differs from the fitted one by more than wear."""
    off = cycles - found.profile.current
    off -= off.mean(axis=1, keepdims=True)
    return bool((np.sqrt(np.mean(off * off, axis=1)) > _UNLIKE_RMS).any())
