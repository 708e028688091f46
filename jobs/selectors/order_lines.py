"""The lines of a work order: what is wanted, and what was found at each suspect cylinder."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from engines.core.mounting import Mounting
from engines.core.positions import Place
from jobs.core.request import named
from jobs.core.tests_wanted import WHOLE_ENGINE, recorded_as
from jobs.core.wanted_test_texts import SWAP
from jobs.models import (
    CylinderFinding,
    WorkOrder,
)
from jobs.selectors.findings import (
    captures_on,
    cylinders_left,
    dry_left,
)


@dataclass(frozen=True, slots=True)
class WantedLine:
    """One test wanted on the mechanic's page.

    Parameters
    ----------
    words, why, source
        As the order carries them.
    record_as
        The test of a finding on it.
    whole_engine
        Whether it is about no single cylinder.
    is_recorded
        Whether something stands recorded on it.
    left
        The cylinders it is not recorded on yet although it is on others: of those named, for the
        gauge of all; empty for none.
    is_swap
        Whether it is recorded as a swap test.
    others_do
        Who does it instead of whoever has the order; empty where they do it themselves.
    """

    words: str
    why: str
    source: str
    record_as: str
    whole_engine: bool
    is_recorded: bool
    left: str
    is_swap: bool = False
    others_do: str = ""


def wanted_lines(order: WorkOrder, findings: Sequence[CylinderFinding]) -> tuple[WantedLine, ...]:
    """Return the tests wanted, with how each is recorded."""
    recorded = {f.test for f in findings}
    if order.swaps.exists():
        recorded.add(SWAP.key)
    lines = []
    for test in order.tests:
        known = recorded_as(test["key"])
        record_as = known if known in CylinderFinding.Test.values else CylinderFinding.Test.OTHER
        lines.append(
            WantedLine(
                words=test["words"],
                why=test["why"],
                source=test.get("source", ""),
                record_as=record_as,
                whole_engine=record_as in WHOLE_ENGINE,
                is_recorded=known in recorded,
                left=_left_words(order, known) if known in recorded else "",
                is_swap=known == SWAP.key,
                others_do=_others_do(order, test["key"]),
            )
        )
    return tuple(lines)


def _others_do(order: WorkOrder, key: str) -> str:
    """Return who does a wanted test instead of whoever has the order; empty for themselves."""
    if recorded_as(key) != CylinderFinding.Test.REPEAT or captures_on(order):
        return ""
    return _("The diagnostician records this capture: call them to the vehicle.")


def _left_words(order: WorkOrder, test: str) -> str:
    """Return the cylinders a test is not recorded on yet; the gauge is wanted on all of them."""
    left = (
        dry_left(order) if test == CylinderFinding.Test.GAUGE_DRY else cylinders_left(order, test)
    )
    return named(left) if left else ""


@dataclass(frozen=True, slots=True)
class SuspectCylinder:
    """One suspect cylinder on the mechanic's page: where it sits and what is recorded."""

    cylinder: int
    words: str
    findings: tuple[CylinderFinding, ...]
    face: str = ""
    """Where that is in this vehicle, as somebody confirmed it."""
    minutes: int | None = None
    """To reach its plug on this engine, where somebody timed it."""


def cylinder_slips(
    order: WorkOrder,
    findings: Sequence[CylinderFinding],
    places: Mapping[int, Place],
    mounting: Mounting | None,
    minutes: Mapping[int, int],
) -> tuple[SuspectCylinder, ...]:
    """Return the suspect cylinders of an order with the findings that stand.

    Parameters
    ----------
    places
        Where the engine's cylinders sit.
    mounting
        How the engine sits in the vehicle; None where nobody confirmed it.
    minutes
        To reach the plug of each cylinder, where somebody timed it.
    """
    words = {place["cylinder"]: str(place["words"]) for place in order.places}
    return tuple(
        SuspectCylinder(
            cylinder,
            words.get(cylinder, ""),
            tuple(f for f in findings if f.cylinder == cylinder),
            mounting.words_of(places[cylinder]) if mounting and cylinder in places else "",
            minutes.get(cylinder),
        )
        for cylinder in order.cylinders
    )
