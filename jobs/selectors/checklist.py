"""The wanted tests of an order as a list to tick off, the next one first."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.utils.translation import gettext

from jobs.models import CylinderFinding, SwapTest, WorkOrder
from jobs.selectors.order_lines import WantedLine, wanted_lines


@dataclass(frozen=True, slots=True)
class ChecklistItem:
    """One wanted test and how far it is.

    Parameters
    ----------
    number
        Its place in the list, from 1.
    line
        What is asked for.
    name
        The test in two or three words.
    findings
        What stands recorded on it.
    is_done
        Whether nothing is left to record on it.
    is_open
        Whether the page shows it unfolded.
    is_first_of_test
        Whether it is the first that is recorded under its test, so that its form stands here.
    is_just_done
        Whether it was saved last and nothing is left on it: it stays folded where the page opens.
    """

    number: int
    line: WantedLine
    name: str
    findings: tuple[CylinderFinding, ...]
    is_done: bool
    is_open: bool = False
    is_first_of_test: bool = True
    is_just_done: bool = False

    @property
    def anchor(self) -> str:
        """The name by which an address leads here."""
        return f"test-{self.line.record_as}" if self.is_first_of_test else f"test-{self.number}"


@dataclass(frozen=True, slots=True)
class Checklist:
    """The wanted tests of an order.

    Parameters
    ----------
    items
        In the order in which they are wanted.
    beside
        Findings of tests that were not asked for.
    """

    items: tuple[ChecklistItem, ...]
    beside: tuple[CylinderFinding, ...]

    @property
    def is_done(self) -> bool:
        """Whether nothing that was wanted is left."""
        return all(item.is_done for item in self.items)

    @property
    def asks_for_gauge(self) -> bool:
        """Whether a dry compression test is among them."""
        return any(item.line.record_as == CylinderFinding.Test.GAUGE_DRY for item in self.items)

    @property
    def names(self) -> str:
        """All tests in one line, numbered as they are wanted."""
        return " · ".join(f"{item.number} {item.name}" for item in self.items)

    @property
    def done(self) -> int:
        """How many are done."""
        return sum(item.is_done for item in self.items)


def checklist_of(
    order: WorkOrder,
    findings: Sequence[CylinderFinding],
    swaps: Sequence[SwapTest],
    at: str = "",
) -> Checklist:
    """Return the wanted tests of an order, the next one and the one at hand unfolded.

    Parameters
    ----------
    findings, swaps
        What stands recorded.
    at
        The test at hand, such as the one just saved; empty for none.
    """
    items: list[ChecklistItem] = []
    seen: set[str] = set()
    for number, line in enumerate(wanted_lines(order, findings), start=1):
        test = "swap" if line.is_swap else line.record_as
        items.append(
            ChecklistItem(
                number,
                line,
                gettext("Swap test") if line.is_swap else _name_of(line, seen),
                tuple(f for f in findings if f.test == line.record_as and not line.is_swap),
                bool(swaps) if line.is_swap else line.is_recorded and not line.left,
                is_first_of_test=test not in seen,
            )
        )
        seen.add(test)
    upcoming = _upcoming(items, at)
    unfolded = [
        replace(
            item,
            is_open=item.number == upcoming,
            is_just_done=item.is_done and item.anchor == f"test-{at}",
        )
        for item in items
    ]
    beside = [f for f in findings if f.test not in seen]
    return Checklist(tuple(unfolded), tuple(beside))


def _upcoming(items: Sequence[ChecklistItem], at: str) -> int | None:
    """Return the test to go on with: the one at hand, else the first that nobody else records."""
    left = [item for item in items if not item.is_done]
    at_hand = [item for item in left if item.anchor == f"test-{at}"]
    own = [item for item in left if not item.line.others_do]
    return next((item.number for item in (*at_hand, *own, *left)), None)


def _name_of(line: WantedLine, seen: set[str]) -> str:
    """Return a test's short name; of a second one recorded under the same test its own words."""
    if line.record_as in seen or line.record_as == CylinderFinding.Test.OTHER:
        return line.words
    return str(CylinderFinding.Test(line.record_as).label)
