"""The order of a repair that the customer agreed to: what is to be done, and what proves it."""

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from engines.core.content import content, translated
from jobs.core.groups import FaultGroup
from jobs.core.request import LONGEST_REQUEST, named
from jobs.core.wanted_test_texts import WantedTest
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop
from traces.core.findings import listed

_TEXTS = content(Path(__file__).parent / "texts" / "tests_after_repair.toml", WantedTest)

BAR = _TEXTS["bar"]
LEAK = _TEXTS["leak"]
CAPTURE = _TEXTS["capture"]
GAUGE = _TEXTS["gauge"]
COUNTS = _TEXTS["counts"]
IDLE = _TEXTS["idle"]


_OPENS_CYLINDERS = frozenset({FaultGroup.COMPRESSION, FaultGroup.VALVE_TRAIN, FaultGroup.UNSETTLED})
"""Groups whose repair takes plugs out or the engine apart, so that liquid may show."""

STOP_REPAIR = gettext_noop(
    "The agreed amount is not enough, or anything beyond the agreed repair shows up."
)
STOP_OPENED_REPAIR = gettext_noop(
    "The agreed amount is not enough, anything beyond the agreed repair shows up, "
    "or liquid comes out of a cylinder."
)


@dataclass(frozen=True, slots=True)
class BadPart:
    """A part that tests of the diagnosis found bad: its name, and the cylinder it belongs to."""

    name: str
    cylinder: int

    @property
    def words(self) -> str:
        """The part with its cylinder."""
        return _("{part} of cylinder {cylinder}").format(
            part=self.name.lower(), cylinder=self.cylinder
        )


def parts_found_bad(parts: Collection[BadPart]) -> str:
    """Return what the tests of the diagnosis say of parts; empty where they found none bad."""
    if not parts:
        return ""
    return _("The tests of the diagnosis found this bad: {parts}.").format(
        parts=listed([part.words for part in parts])
    )


def stop_repair_when(group: FaultGroup, *, may_hold_liquid: bool) -> str:
    """Return when the mechanic stops a repair and calls."""
    opens = may_hold_liquid or group in _OPENS_CYLINDERS
    return _(STOP_OPENED_REPAIR if opens else STOP_REPAIR)


def repair_request(cylinders: Collection[int], scope: str, parts: Collection[BadPart] = ()) -> str:
    """Return the one-line request of a repair's order.

    Parameters
    ----------
    cylinders
        As signed; empty where none is named.
    scope
        What the customer agreed to, as it was noted; may be empty.
    parts
        What tests found bad; asked for where the customer's words name nothing.
    """
    what = " ".join(scope.split()).rstrip(".")
    if parts and not what:
        what, cylinders = str(listed([part.words for part in parts])), ()
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
    group: FaultGroup, cylinders: Collection[int], *, was_captured: bool, was_shown_idling: bool
) -> tuple[WantedTest, ...]:
    """Return what proves a repair; nothing of it looks for the fault once more.

    Without a capture before the repair a gauge takes its place. What the idling engine showed of a
    fault beyond compression is shown by it once more.
    """
    if group is FaultGroup.COMPRESSION:
        checks = (BAR, *((LEAK,) if cylinders else ()), CAPTURE if was_captured else GAUGE)
    else:
        checks = (
            *((BAR,) if group is FaultGroup.VALVE_TRAIN else ()),
            COUNTS,
            *((IDLE,) if was_shown_idling else ()),
        )
    return tuple(map(translated, checks))
