"""Relative compression from tooth times: the fitted twin, seen through the crank sensor."""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import cast

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import say
from traces.core.findings import Finding
from traces.core.humps import HumpMethod, Limits, check_engine, sound_mean, with_doubts
from traces.core.preparation import Measured, Prepared
from traces.core.report import CycleFit, CycleUse, ReportParts, TeethFit
from traces.core.signals.speed_profile import (
    SpeedProfile,
    shown,
    slowness_of,
    spacing_error_deg,
    whitening,
)
from traces.core.signals.tooth_preparation import MEAN, ToothPreparation
from traces.core.signals.wheel import ToothTrack
from traces.core.twin import (
    AS_LIKELY,
    LEAST_ROUGH,
    PHASE,
    PHASE_SPREAD_DEG,
    PHASE_UNIT_DEG,
    TDC_AFTER_HUMP_DEG,
    Fit,
    check_fitted,
    courses,
    fit_readings,
    inconstant_finding,
    knowledge,
    method_correlation,
    method_errors,
    per_cycle_changes,
    weigh_label,
)
from traces.core.waveform import Floats

_POOR_RMS = 0.03
"""What a fit may leave over before a lighter crank and another knee are tried as well."""

_LENGTH_WITHIN = 0.15
_TEETH_TO_TELL = 8  # a hump: fewer say nothing of a single cycle
_ON_DEG = 1e-6
_ELSEWHERE_DEG = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class ToothCycles:
    """Tooth times of whole engine cycles.

    Parameters
    ----------
    steady, whole
        As `shown`, shape (cycles, teeth): of the steady part, and of all the crank.
    widths_deg
        Crank angle of each tooth, shape (teeth,).
    late_deg
        How far the first tooth stands behind the beginning of the cycle.
    steady_uses, whole_uses
        All cycles that the teeth show; those used are the rows of `steady` and `whole`.
    """

    steady: Floats
    whole: Floats
    widths_deg: Floats
    late_deg: float
    steady_uses: tuple[CycleUse, ...] = ()
    whole_uses: tuple[CycleUse, ...] = ()

    @property
    def slowness(self) -> Floats:
        """Mean time by angle over the cycle's mean, shape (teeth,)."""
        return slowness_of(self.steady.mean(axis=0), self.widths_deg)


def tooth_cycles(track: ToothTrack, found: ToothPreparation) -> ToothCycles | None:
    """Cut the teeth into engine cycles; None where not one is whole."""
    cranking, span = found.cranking, found.span
    if cranking is None or span is None or found.steadiness is None:
        return None
    known = found.steadiness.cycles
    angle_deg, times_s = track.angle_deg, track.times_s
    first = int(np.ceil((angle_deg[0] - found.from_deg) / 720.0))
    last = int(np.floor((angle_deg[-1] - found.from_deg) / 720.0))
    starts = np.searchsorted(
        angle_deg, found.from_deg + 720.0 * np.arange(first, last + 1) - _ON_DEG
    )
    starts = starts[starts < angle_deg.size]
    sizes = np.diff(starts)
    if sizes.size == 0:
        return None
    teeth = int(np.median(sizes))
    good = starts[:-1][sizes == teeth]
    rows = good[:, None] + np.arange(teeth + 1)
    durations_s = np.diff(times_s[rows], axis=1)
    lengths_s = durations_s.sum(axis=1)
    begin_s, end_s = times_s[rows[:, 0]], times_s[rows[:, -1]]
    edge_s = 0.02 * cranking.cycle_s
    steady = (begin_s >= cranking.steady_from_s - edge_s) & (end_s <= cranking.steady_to_s + edge_s)
    alike = np.abs(lengths_s / cranking.cycle_s - 1) < _LENGTH_WITHIN
    wanted = np.array(
        [not cranking.is_left_out(*ends) for ends in zip(begin_s, end_s, strict=True)], dtype=bool
    )
    steady &= wanted
    alike &= wanted
    # once the starter lets go the engine coasts: only cycles before the steady part count too
    whole = (begin_s >= span.settled_from_s) & (end_s <= cranking.steady_to_s + edge_s) & alike
    if not steady.any():
        return None
    widths_deg = np.diff(angle_deg[rows], axis=1)[steady].mean(axis=0)
    edges_s = times_s[starts]
    # a tooth just before the beginning is one on it, and not a whole cycle late
    late_deg = float(np.mean((angle_deg[rows[steady, 0]] - found.from_deg + _ON_DEG) % 720.0))
    late_deg = max(late_deg - _ON_DEG, 0.0)
    return ToothCycles(
        steady=shown(durations_s[steady], widths_deg),
        whole=shown(durations_s[whole | steady], widths_deg),
        widths_deg=widths_deg * 720.0 / widths_deg.sum(),
        late_deg=late_deg,
        steady_uses=_uses(edges_s, sizes == teeth, steady, known),
        whole_uses=_uses(edges_s, sizes == teeth, whole | steady, known),
    )


def _uses(
    edges_s: Floats,
    complete: NDArray[np.bool_],
    chosen: NDArray[np.bool_],
    known: tuple[CycleUse, ...],
) -> tuple[CycleUse, ...]:
    """Give every cycle that the teeth show its use.

    Parameters
    ----------
    edges_s
        Where cycles begin, and the last one ends, shape (cycles + 1,).
    complete
        Which show as many teeth as the wheel has, shape (cycles,).
    chosen
        Of the complete ones, which are used.
    known
        Why the slowness over time was left out where it was.
    """
    rows = iter(chosen)
    uses = []
    for i, (from_s, to_s) in enumerate(pairwise(edges_s.tolist())):
        if not complete[i]:
            uses.append(CycleUse(from_s, to_s, "teeth", say("a tooth was missed, or seen twice")))
        elif next(rows):
            uses.append(CycleUse(from_s, to_s))
        else:
            left_out = [c for c in known if not c.used]
            near = max(
                left_out, key=lambda c: min(c.to_s, to_s) - max(c.from_s, from_s), default=None
            )
            if near is not None and min(near.to_s, to_s) > max(near.from_s, from_s):
                uses.append(CycleUse(from_s, to_s, near.reason, near.words))
            else:
                uses.append(
                    CycleUse(from_s, to_s, "cut", say("it lies outside the steady cranking"))
                )
    return tuple(uses)


class TeethMethod:
    """Peak gauge pressure of each cylinder from a twin fitted to tooth times."""

    name = "teeth"

    def __init__(self, cycles: ToothCycles) -> None:
        self._cycles = cycles
        self._spacing_deg = spacing_error_deg(cycles.slowness, cycles.widths_deg)
        self._whiten = whitening(cycles.widths_deg, self._spacing_deg)

    def measure(self, prepared: Prepared) -> Measured:
        """Fit every layout that the sync leaves open; strengths are peaks over atmosphere."""
        plain = HumpMethod().measure(prepared)
        fitted = [
            (self._fitted(prepared, layout), layout) for layout in (plain, *plain.alternatives)
        ]
        elsewhere = away_from_angle(prepared, plain)
        if elsewhere is not None:
            # of one firing's two places the likelier one; which firing it is, the label weighs
            found = (self._fitted(prepared, elsewhere), elsewhere)
            fitted[0] = min(fitted[0], found, key=lambda pair: pair[0].cost)
        fitted.sort(key=lambda pair: pair[0].cost)
        best = fitted[0][0].cost
        first, *others = (
            self._measured(prepared, found, layout)
            for found, layout in fitted
            if found.cost <= best + AS_LIKELY
        )
        doubts = check_engine(
            prepared, plain, best, lambda other, layout, _: self._fitted(other, layout).cost
        )
        return with_doubts(replace(first, alternatives=tuple(others)), doubts)

    def _whitened(self, values: Floats) -> Floats:
        return np.asarray((values - 1) @ self._whiten.T, dtype=np.float64)

    def _fitted(self, prepared: Prepared, layout: Measured) -> Fit:
        order = prepared.order.starting_at(layout.labelings[0][0])
        profile = SpeedProfile(
            current=self._whitened(self._cycles.steady.mean(axis=0)),
            cycle_s=prepared.cranking.cycle_s,
            tdc_deg=np.array(order.tdc_angles_deg),
            cut_off_hz=prepared.cranking.conditioned.cut_off_hz,
            fuel=prepared.setup.fuel,
            widths_deg=self._cycles.widths_deg,
            whiten=self._whiten,
        )
        known = knowledge(
            len(order),
            inrush=None,
            phase_deg=layout.offset_deg + TDC_AFTER_HUMP_DEG - self._cycles.late_deg,
            phase_spread_deg=PHASE_SPREAD_DEG,
        )
        strongest = max(float(layout.strengths.max()), 1e-9)
        rough = np.clip(layout.strengths / strongest, LEAST_ROUGH, 1.0)
        found = fit_readings(profile, known, rough)
        if found.rms > _POOR_RMS:
            other = fit_readings(profile, known, rough, lighter=0.7, knee=0.8)
            found = min(found, other, key=lambda f: f.cost)
        return found

    def _measured(self, prepared: Prepared, found: Fit, layout: Measured) -> Measured:
        limits = Limits(prepared.setup.suspect_below, prepared.setup.watch_below)
        peaks = found.lobes.peaks
        strongest = float(peaks.max())
        reference = sound_mean(peaks, limits)[0] if strongest > 0 else 1.0
        single = np.maximum(
            peaks + per_cycle_changes(found, (self._cycles.steady - 1) @ self._whiten.T), 0.0
        )
        whole = np.maximum(
            peaks + per_cycle_changes(found, (self._cycles.whole - 1) @ self._whiten.T), 0.0
        )
        phase_deg = float(found.state.values[PHASE]) * PHASE_UNIT_DEG + self._cycles.late_deg
        weighed = weigh_label(prepared, layout, phase_deg)
        layout = layout.relabelled(weighed.labelings)
        told: list[Finding] = []
        teeth_a_hump = self._cycles.widths_deg.size / found.profile.cylinders
        changing = courses(whole / reference) if teeth_a_hump >= _TEETH_TO_TELL else []
        if changing:
            single, peaks = whole, peaks.copy()
            for course in changing:
                peaks[course.index] = whole[:, course.index].mean()
                told.append(inconstant_finding(course, layout))
        scale = MEAN * float(np.ptp(self._cycles.slowness)) / max(strongest, 1e-9)
        return replace(
            layout,
            strengths=peaks * scale,
            per_cycle=single * scale,
            method_errors=method_errors(found, reference),
            error_correlation=method_correlation(found, reference),
            explained=found.explained,
            alternatives=(),
            findings=(*check_fitted(found), *weighed.findings, *told),
            cycles=self._cycles.whole_uses if changing else self._cycles.steady_uses,
            parts=ReportParts(
                label=weighed.told,
                cycle_fit=self._cycle_fit(found),
                teeth_fit=TeethFit(
                    residual_share=round(found.rms, 4),
                    spacing_error_deg=round(self._spacing_deg, 3),
                    clutch_free_share=round(float((found.state.orbit.mode != 0).mean()), 3),
                ),
            ),
        )

    def _cycle_fit(self, found: Fit) -> CycleFit:
        """Return the mean cycle's slowness as measured and as fitted; see the twin's `cycle_fit`.

        Teeth stand at even angles, not times: `share` is the part of the cycle's time passed.
        """
        cycles, profile = self._cycles, cast("SpeedProfile", found.profile)
        middle_deg = np.cumsum(cycles.widths_deg) - cycles.widths_deg / 2
        lasted = cycles.slowness * cycles.widths_deg / 720.0
        share = np.cumsum(lasted) - lasted / 2
        phase_deg = float(found.state.values[PHASE]) * PHASE_UNIT_DEG + cycles.late_deg
        model = profile.slowness(found.state.orbit)
        return CycleFit(
            measured=tuple(round(float(v), 4) for v in cycles.slowness),
            model=tuple(round(float(v), 4) for v in model),
            angle_deg=tuple(round(float(a + cycles.late_deg), 1) for a in middle_deg),
            tdc_deg=tuple(round((float(t) + phase_deg) % 720.0, 1) for t in profile.tdc_deg),
            level=MEAN,
            share=tuple(round(float(v), 5) for v in share),
        )


def away_from_angle(prepared: Prepared, layout: Measured) -> Measured | None:
    """Return the layout that the teeth show where that is away from the stated angle, else None.

    Near the angle that was stated compressions are found more surely, unless it is wrong: then
    they would be pulled to a place where they are not.
    """
    mark = prepared.mark
    if mark is None or mark.angle_deg is None or prepared.sync.state != "every-720":
        return None
    found = HumpMethod(anywhere=True).measure(prepared)
    return found if abs(found.offset_deg - layout.offset_deg) > _ELSEWHERE_DEG else None
