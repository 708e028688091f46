"""The order of a repair that the customer agreed to: what is to be done, and what proves it."""

from collections.abc import Collection
from pathlib import Path

from engines.core.content import content, translated
from jobs.core.groups import FaultGroup
from jobs.core.request import LONGEST_REQUEST, named
from jobs.core.wanted_test_texts import WantedTest
from shopdiag.people.core.words import gettext as _

_TEXTS = content(Path(__file__).parent / "texts" / "tests_after_repair.toml", WantedTest)

BAR = _TEXTS["bar"]
LEAK = _TEXTS["leak"]
CAPTURE = _TEXTS["capture"]
GAUGE = _TEXTS["gauge"]
COUNTS = _TEXTS["counts"]


def repair_request(cylinders: Collection[int], scope: str) -> str:
    """Return the one-line request of a repair's order.

    Parameters
    ----------
    cylinders
        As signed; empty where none is named.
    scope
        What the customer agreed to, as it was noted; may be empty.
    """
    what = " ".join(scope.split()).rstrip(".")
    line = _("Carry out the agreed repair.")
    if cylinders and what:
        line = _("Carry out the agreed repair on {cylinders}: {what}.")
    elif cylinders:
        line = _("Carry out the agreed repair on {cylinders}.")
    elif what:
        line = _("Carry out the agreed repair: {what}.")
    line = line.format(cylinders=named(cylinders), what=what)
    return line if len(line) <= LONGEST_REQUEST else f"{line[: LONGEST_REQUEST - 1]}…"


def checks_after_repair(
    group: FaultGroup, cylinders: Collection[int], *, was_captured: bool
) -> tuple[WantedTest, ...]:
    """Return what proves a repair; nothing of it looks for the fault once more.

    Without a capture before the repair a gauge takes its place.
    """
    if group is FaultGroup.COMPRESSION:
        checks = (BAR, *((LEAK,) if cylinders else ()), CAPTURE if was_captured else GAUGE)
    else:
        checks = (*((BAR,) if group is FaultGroup.VALVE_TRAIN else ()), COUNTS)
    return tuple(map(translated, checks))
