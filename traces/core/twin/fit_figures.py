"""What a fitted twin shows of itself: figures of its engine, and its mean cycle."""

from traces.core.report import CycleFit, TwinFigures
from traces.core.twin.fitting import Fit
from traces.core.twin.model import angles_deg
from traces.core.twin.parameters import PHASE, PHASE_UNIT_DEG, drive_of


def engine_figures(found: Fit) -> TwinFigures:
    """Return figures of the fitted engine for display."""
    drive = drive_of(found.state.values)
    return TwinFigures(
        stall_over_mean=round(drive.motor.stall_a, 2),
        knee_over_mean=round(drive.motor.knee_a, 3),
        starter_share_of_inertia=round(drive.share, 3),
        inertia=round(drive.inertia, 3),
        clutch_free_share=round(float((found.state.orbit.mode != 0).mean()), 3),
        residual_share=round(found.rms, 4),
    )


def cycle_fit(found: Fit, *, level_a: float, rest_a: float, begins_at: float) -> CycleFit:
    """Return the mean engine cycle as measured and as fitted.

    `measured` and `model` are over their mean, `level`, at equal shares of the cycle's time;
    `angle_deg` is the crank angle there and `tdc_deg` where each position's compression ends.
    `rest` lies under the current in the recording, and cycles of the report begin `begins_at`.
    """
    profile, state = found.profile, found.state
    phase_deg = float(state.values[PHASE]) * PHASE_UNIT_DEG
    angles = angles_deg(state, profile.current.size)
    return CycleFit(
        measured=tuple(round(float(v), 3) for v in profile.current),
        model=tuple(round(float(v), 3) for v in state.current),
        angle_deg=tuple(round(float(a), 1) for a in angles),
        tdc_deg=tuple(round((float(t) + phase_deg) % 720.0, 1) for t in profile.tdc_deg),
        level=round(level_a, 3),
        rest=round(rest_a, 3),
        begins_at=round(begins_at, 4),
    )
