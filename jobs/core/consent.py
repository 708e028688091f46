"""Which repair a customer's yes covers, and what is said where it covers less than it seems."""

from collections.abc import Collection
from dataclasses import dataclass

from jobs.core.request import named
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

BEFORE_FINDINGS = gettext_noop(
    "No work order is done yet. This yes does not cover what one finds: ask "
    "the customer again once it is done."
)
ORDER_OUT = gettext_noop(
    "A work order is still out. This yes does not cover what it finds: ask "
    "the customer again once it is done."
)


@dataclass(frozen=True, slots=True)
class Diagnosed:
    """What a verdict says is wrong: the group of faults and the cylinders it names."""

    group: str
    cylinders: frozenset[int]

    def covers(self, later: "Diagnosed") -> bool:
        """Return whether a yes to the repair of this is one to the repair of a later verdict.

        A later verdict may name fewer of several cylinders, or one where none was named: that is
        what was found of it. Another cylinder or group is another repair.
        """
        if self.group != later.group:
            return False
        if self.cylinders == later.cylinders:
            return True
        return bool(later.cylinders) and (not self.cylinders or later.cylinders < self.cylinders)


def other_verdict_words(cylinders: Collection[int]) -> str:
    """Return that a yes was to the repair of another verdict."""
    if not cylinders:
        return _(
            "The customer agreed to the repair as signed before; the verdict names something else "
            "now. Ask the customer again."
        )
    return _(
        "The customer agreed to the repair of {cylinders} as signed before; the verdict names "
        "something else now. Ask the customer again."
    ).format(cylinders=named(cylinders))
