"""The fitted twin as a method of the pipeline."""

from dataclasses import replace

import numpy as np

from engines.core.firing import CYCLE_DEG, FiringOrder
from traces.core.cranking import Cranking
from traces.core.humps import HumpMethod
from traces.core.methods import Measured, Prepared
from traces.core.twin import fit as twin_fit
from traces.core.twin.fit import KNEE, RATIO, SHARED, Fit, Floats, Profile

POINTS = 240


class TwinMethod:
    name = "twin"

    def measure(self, prepared: Prepared) -> Measured:
        plain = HumpMethod().measure(prepared)
        cycles = folded(prepared.cranking)
        fitted = [self._fitted(prepared, layout, cycles) for layout in (plain, *plain.alternatives)]
        fitted.sort(key=lambda pair: pair[0].cost)
        first, *others = fitted
        return replace(first[1], alternatives=tuple(m for f, m in others if f.cost < first[0].cost + 30))

    def _fitted(self, prepared: Prepared, layout: Measured, cycles: Floats) -> tuple[Fit, Measured]:
        order = prepared.order.starting_at(layout.labelings[0][0])
        span = prepared.cranking.span
        n = len(order)
        profile = Profile(
            current_a=mean_cycle(cycles),
            cycle_s=prepared.cranking.cycle_s,
            tdc_deg=np.array(order.tdc_angles_deg),
            cut_off_hz=prepared.cranking.conditioned.cut_off_hz,
            fuel=prepared.setup.fuel,
        )
        stall = span.inrush_peak_a / profile.mean_a if span.inrush_peak_a else None
        prior = twin_fit.priors(n, stall=stall, phase_deg=layout.offset_deg + 16.0, phase_spread_deg=15.0)
        best: Fit | None = None
        rough = np.clip(layout.strengths / max(layout.strengths.max(), 1e-9), 0.05, 1.0)
        for knee in (0.02, 0.5):
            values = prior.centre.copy()
            values[SHARED : SHARED + n] = 0.85 * rough
            values[KNEE] = knee
            found = twin_fit.fit(profile, prior, values, sigma=0.01)
            if best is None or found.cost < best.cost:
                best = found
        assert best is not None
        return best, measured(best, layout, cycles)


def measured(found: Fit, layout: Measured, cycles: Floats) -> Measured:
    n = found.profile.tdc_deg.size
    v = found.state.values
    share, mass = v[SHARED : SHARED + n], v[SHARED + n :]
    q = share * (1 + mass)
    per_cycle = q + per_cycle_changes(found, cycles) * (1 + mass)
    target = found.profile.current_a / found.profile.mean_a
    explained = 1 - found.rms**2 / target.var()
    return replace(
        layout,
        strengths=q * 1000,
        per_cycle=per_cycle * 1000,
        method_errors=np.full(n, 0.02),
        explained=float(explained),
        alternatives=(),
        extra={"twin": [round(float(x), 5) for x in v], "residual": round(found.rms, 5), "rounds": found.rounds, "cost": found.cost},
    )


def per_cycle_changes(found: Fit, cycles: Floats) -> Floats:
    """Change of each cylinder's peak share in each cycle against the mean, shape (C, n)."""
    state, profile = found.state, found.profile
    n = profile.tdc_deg.size
    design = twin_fit.one_cycle_design(state, profile)
    rows = cycles / profile.mean_a - profile.current_a / profile.mean_a
    spread = np.concatenate((np.full(n, 0.3), np.full(design.shape[1] - n, 1.0)))
    sigma = 0.02
    h = design.T @ design / sigma**2 + np.diag(spread**-2)
    return np.linalg.solve(h, design.T @ rows.T / sigma**2).T[:, :n]


def folded(cranking: Cranking) -> Floats:
    """Whole cycles of the steady part at equal shares of their time, amps above rest."""
    count, steady = cranking.cycle_count, cranking.steady
    begin, end = count[steady.start], count[steady.stop - 1]
    first, last = int(np.ceil(begin - 0.02)), int(np.floor(end + 0.02))
    at = np.arange(first, last)[:, None] + np.arange(POINTS) / POINTS
    rest = cranking.span.rest_a or 0.0
    return np.asarray(np.interp(at, count, cranking.conditioned.current_a - rest))


def mean_cycle(cycles: Floats) -> Floats:
    """Mean over cycles; what remains of a drift from first to last point is taken out."""
    mean = cycles.mean(axis=0)
    return mean
