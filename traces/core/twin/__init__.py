"""The twin: a model of starter, crank and cylinders fitted to the mean cycle."""

from traces.core.twin.cycles import courses, per_cycle_changes
from traces.core.twin.drive import Orbit
from traces.core.twin.errors import method_correlation, method_errors
from traces.core.twin.fitting import SIGMA, Fit
from traces.core.twin.labels import LAG_DEG, LabelWeights, is_settled, weigh_label
from traces.core.twin.method import TwinMethod
from traces.core.twin.model import STEPS, Profile
from traces.core.twin.parameters import PHASE, PHASE_UNIT_DEG, knowledge
from traces.core.twin.refusals import check_fitted, inconstant_finding
from traces.core.twin.starts import (
    AS_LIKELY,
    LEAST_ROUGH,
    PHASE_SPREAD_DEG,
    TDC_AFTER_HUMP_DEG,
    fit_readings,
)

__all__ = [
    "AS_LIKELY",
    "LAG_DEG",
    "LEAST_ROUGH",
    "PHASE",
    "PHASE_SPREAD_DEG",
    "PHASE_UNIT_DEG",
    "SIGMA",
    "STEPS",
    "TDC_AFTER_HUMP_DEG",
    "Fit",
    "LabelWeights",
    "Orbit",
    "Profile",
    "TwinMethod",
    "check_fitted",
    "courses",
    "fit_readings",
    "inconstant_finding",
    "is_settled",
    "knowledge",
    "method_correlation",
    "method_errors",
    "per_cycle_changes",
    "weigh_label",
]
