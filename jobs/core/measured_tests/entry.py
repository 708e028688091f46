"""One test with typed figures: an entry of the registry."""

from dataclasses import dataclass

from jobs.core.measured_tests.figure import Figure, Scope
from jobs.core.measured_tests.judging import Rule, by_choice, by_comparison, by_limits

USUAL_RULES: tuple[Rule, ...] = (by_limits, by_comparison, by_choice)


@dataclass(frozen=True, slots=True)
class TypedTest:
    """A test whose findings hold figures.

    Parameters
    ----------
    test
        Its key, as a finding names it.
    scope
        What it is done on.
    figures
        Typed and derived ones, in the order in which they are asked for.
    rules
        What judges them, beside `USUAL_RULES`.
    fuels
        Engines on which it is done so; on others it is recorded in words.
    """

    test: str
    scope: Scope
    figures: tuple[Figure, ...]
    rules: tuple[Rule, ...] = ()
    fuels: frozenset[str] = frozenset({"petrol", "diesel"})

    @property
    def typed(self) -> tuple[Figure, ...]:
        """The figures that a person enters."""
        return tuple(figure for figure in self.figures if figure.is_typed)

    @property
    def limited(self) -> tuple[Figure, ...]:
        """The figures that a limit can be set for: all that are measured."""
        return tuple(figure for figure in self.figures if not figure.choices)

    def compares(self, figure: Figure) -> bool:
        """Return whether a figure is held against those of the other cylinders.

        Banks are no such rows: what a cam is asked for differs from one to the other, and the mean
        of two figures lies as far from either.
        """
        return figure.is_typed and self.scope is Scope.CYLINDER

    def figure(self, name: str) -> Figure | None:
        """Return the figure of that name."""
        return next((figure for figure in self.figures if figure.name == name), None)
