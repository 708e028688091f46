"""The twin: a model of starter, crank and cylinders fitted to the mean cycle."""

from traces.core.twin.cycles import courses, per_cycle_changes
from traces.core.twin.drive import Orbit
from traces.core.twin.errors import method_correlation, method_errors
from traces.core.twin.fitting import SIGMA, Fit, fit
from traces.core.twin.labels import LAG_DEG, LabelWeights, is_settled, weigh_label
from traces.core.twin.method import TwinMethod
from traces.core.twin.model import STEPS, Profile
from traces.core.twin.parameters import (
    INERTIA,
    KNEE,
    LEVEL,
    PHASE,
    PHASE_UNIT_DEG,
    Knowledge,
    knowledge,
)
from traces.core.twin.refusals import check_fitted

__all__ = [
    "INERTIA",
    "KNEE",
    "LAG_DEG",
    "LEVEL",
    "PHASE",
    "PHASE_UNIT_DEG",
    "SIGMA",
    "STEPS",
    "Fit",
    "Knowledge",
    "LabelWeights",
    "Orbit",
    "Profile",
    "TwinMethod",
    "check_fitted",
    "courses",
    "fit",
    "is_settled",
    "knowledge",
    "method_correlation",
    "method_errors",
    "per_cycle_changes",
    "weigh_label",
]
