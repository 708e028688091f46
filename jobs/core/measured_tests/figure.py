"""What a test's figures are: their units, what they can be, and the limits on them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import TypeAlias

from shopdiag.people.core.words import gettext_noop

Value: TypeAlias = float | str
Values: TypeAlias = Mapping[str, Value]
"""The figures of one row, by their names; a choice is its key."""
Row: TypeAlias = int | None
"""A cylinder's number, a bank's, or None for the engine, as the test's scope says."""

COMMON = gettext_noop("common practice")
MAKER = gettext_noop("a vehicle manufacturer's service text, as an example")


class Scope(StrEnum):
    """What a test is done on."""

    CYLINDER = "cylinder"
    BANK = "bank"
    ENGINE = "engine"


class Origin(StrEnum):
    """Where a limit comes from, the one that wins first."""

    JOB = "job"
    ENGINE = "engine"
    SHOP = "shop"
    USUAL = "usual"


class Kind(StrEnum):
    """How a figure is shown: with a unit of its own, or as a pressure in the shop's unit."""

    NUMBER = "number"
    PRESSURE = "pressure"
    VACUUM = "vacuum"
    CHOICE = "choice"


@dataclass(frozen=True, slots=True)
class Limit:
    """What a figure has to keep.

    Parameters
    ----------
    least, most
        In the figure's unit; None where there is none.
    apart
        How far the figure may lie from the mean of all rows, in its unit; None for any. How one
        far out is kept from condemning the others: `spread.spread_of`.
    source
        Who says so; shown wherever it is applied.
    origin
        Whether it was set for the job, the engine or the shop, or is what is usual.
    """

    least: float | None = None
    most: float | None = None
    apart: float | None = None
    source: str = COMMON
    origin: Origin = Origin.USUAL

    @property
    def is_set(self) -> bool:
        """Whether a person set it, so that no usual rule speaks about the figure."""
        return self.origin is not Origin.USUAL


@dataclass(frozen=True, slots=True)
class Comparison:
    """How far a figure may lie from the median of all rows before it stands out.

    Parameters
    ----------
    bad_share
        Share of the median from which a row stands out.
    good_share
        Share up to which it is like the others; between the two nothing is said.
    is_low_bad, is_high_bad
        On which side it stands out.
    source
        Who says so.
    """

    bad_share: float
    good_share: float
    is_low_bad: bool = True
    is_high_bad: bool = True
    source: str = COMMON


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer of a figure that is chosen and not measured.

    Parameters
    ----------
    key, label
        As it is kept, and as people read it.
    outcome
        `good` or `bad` where it decides; empty where it does not.
    reading
        What it points at; empty for nothing.
    source
        Who says so.
    """

    key: str
    label: str
    outcome: str = ""
    reading: str = ""
    source: str = COMMON


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a test.

    Parameters
    ----------
    name
        With its unit at the end, as it is kept; unique among all tests.
    label, head
        What people read, and the same as the head of a column.
    unit
        As shown; of a pressure it is the shop's.
    decimals
        How many are shown; of a pressure in kPa.
    least, most
        Outside of these it cannot be: refused.
    usual
        Outside of these it is likely a slip: asked back.
    most_by_fuel, usual_by_fuel
        The same where a fuel has ranges of its own.
    limit
        The usual one; None where none is published or common.
    comparison
        How rows are compared; None where they are not.
    choices
        The answers of a figure that is chosen.
    help_text
        How it is measured, in one line.
    derived
        Computes the figure from those that were typed; None for one that is typed.
    falls_with_altitude
        Whether the least value is lowered for thin air.
    """

    name: str
    label: str
    head: str
    unit: str = ""
    kind: Kind = Kind.NUMBER
    decimals: int = 2
    least: float = 0.0
    most: float = 0.0
    usual: tuple[float, float] | None = None
    most_by_fuel: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    usual_by_fuel: Mapping[str, tuple[float, float]] = field(
        default_factory=lambda: MappingProxyType({})
    )
    limit: Limit | None = None
    comparison: Comparison | None = None
    choices: tuple[Choice, ...] = ()
    help_text: str = ""
    derived: Callable[[Values], float | None] | None = None
    falls_with_altitude: bool = False

    @property
    def is_typed(self) -> bool:
        """Whether a person enters it."""
        return self.derived is None

    def most_for(self, fuel: str) -> float:
        """Return the most it can be on an engine of this fuel."""
        return self.most_by_fuel.get(fuel, self.most)

    def usual_for(self, fuel: str) -> tuple[float, float] | None:
        """Return between which values it is believed without asking."""
        return self.usual_by_fuel.get(fuel, self.usual)

    def choice(self, key: Value) -> Choice | None:
        """Return the answer of that key."""
        return next((c for c in self.choices if c.key == key), None)

    def of(self, values: Values) -> Value | None:
        """Return its value in a row: as typed, or computed from what was typed."""
        return self.derived(values) if self.derived else values.get(self.name)


def number(values: Values, name: str) -> float | None:
    """Return a measured figure of a row; None where it was not taken."""
    value = values.get(name)
    return float(value) if isinstance(value, int | float) else None
