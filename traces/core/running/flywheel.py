"""Which drivelines explain the teeth, and whether they agree about the cylinders."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np

from traces.core.running.coasting import WorkLevel
from traces.core.running.contribution import Contribution, contributions
from traces.core.running.step_fit import FiringSteps
from traces.core.setup import Flywheel

Doubt: TypeAlias = Literal["flywheel-unknown", "flywheel-contradicts", "running-swings"]

_AS_GOOD, _AS_GOOD_BY = 1.5, 6.0
"""Factor and distance of the cost up to which a driveline explains the teeth as well as the best
one does (simulated: every wrong cylinder of 100 engines had a right one as near)."""

_FAR_BETTER, _FAR_BETTER_BY = 5.0, 30.0
"""From where on two masses gainsay who says that the flywheel is one piece (simulated: light
gearbox inputs behind a stiff spring stay under 4)."""

_MOST_MISFIT = 0.042
"""Simulated engines on one flywheel stay under 0.036, most on two masses are above 0.045."""

_TWO_MASSES_OFF = 0.08
"""Standard deviation of what two masses of the grid get wrong (simulated)."""

_SURE = 1.96


class FlywheelError(ValueError):
    """The teeth do not settle which cylinder it is; `doubt` is the finding that says so."""

    def __init__(self, doubt: Doubt) -> None:
        super().__init__(doubt)
        self.doubt = doubt


@dataclass(frozen=True, slots=True)
class Balanced:
    """What the cylinders give by the driveline that explains the teeth best."""

    steps: FiringSteps
    cylinders: tuple[Contribution, ...]
    rests_on_flywheel: bool = False
    """Whether two masses would explain the teeth as well and name other cylinders."""

    @property
    def is_two_mass(self) -> bool:
        """Whether that driveline has two masses."""
        return self.steps.driveline is not None


def balanced(
    found: Sequence[FiringSteps],
    level: WorkLevel,
    flywheel: Flywheel,
    *,
    suspect_below: float,
    is_placed: bool = True,
) -> Balanced:
    """Return the contributions that every driveline in question agrees about.

    Parameters
    ----------
    found
        One mass first, then those of two.
    flywheel
        What a person says of it.
    is_placed
        Whether events tell where firings stand. Where none does, two masses explain nearly
        anything: they may cast doubt, and are not judged by.

    Raises
    ------
    FlywheelError
        If drivelines that explain the teeth alike name other cylinders, or the one that was said
        does not explain them.
    """

    def given(steps: FiringSteps) -> tuple[Contribution, ...]:
        return contributions(steps, level, suspect_below=suspect_below)

    one, two = found[0], min(found[1:], key=lambda steps: steps.cost)
    if flywheel == "one-piece":
        is_gainsaid = one.cost > _FAR_BETTER * two.cost + _FAR_BETTER_BY
        if one.misfit > _MOST_MISFIT or (is_placed and is_gainsaid):
            raise FlywheelError("flywheel-contradicts")
        limit = _AS_GOOD * min(one.cost, two.cost) + _AS_GOOD_BY
        others = (given(steps) for steps in found[1:] if steps.cost <= limit)
        own = given(one)
        return Balanced(one, own, any(_named(other) != _named(own) for other in others))
    asked = found[1:] if flywheel == "two-mass" else found
    best = min(asked, key=lambda steps: steps.cost)
    limit = _AS_GOOD * best.cost + _AS_GOOD_BY
    alike = [given(steps) for steps in asked if steps.cost <= limit]
    named = {_named(cylinders) for cylinders in alike}
    # two masses that nobody told of name a cylinder only where one mass names the same
    if flywheel == "" and len(named | {_named(given(one))}) > 1:
        raise FlywheelError("flywheel-unknown")
    if len(named) > 1 or (best is one and one.misfit > _MOST_MISFIT):
        raise FlywheelError("running-swings")
    if best is not one and not is_placed:
        raise FlywheelError("running-swings")
    apart = np.std([[c.share for c in cylinders] for cylinders in alike], axis=0)
    if best is not one:
        apart = np.hypot(apart, _TWO_MASSES_OFF)
    figures = zip(given(best), apart, strict=True)
    return Balanced(best, tuple(_wider(c, float(by)) for c, by in figures))


def _named(cylinders: Sequence[Contribution]) -> tuple[bool, ...]:
    return tuple(c.grade != "even" for c in cylinders)


def _wider(found: Contribution, apart: float) -> Contribution:
    """Return a contribution whose interval holds what drivelines as good make of it."""
    below = np.hypot(found.share - found.low, _SURE * apart)
    above = np.hypot(found.high - found.share, _SURE * apart)
    return replace(found, low=float(max(0.0, found.share - below)), high=float(found.share + above))
