"""What a leak-down figure and the place where air is heard point at."""

from dataclasses import dataclass

from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

REFERENCE_LIMIT_PERCENT = 25.0
REFERENCE = gettext_noop(
    "FAA Advisory Circular 43.13-1B, chapter 8 (aircraft): at 80 psi supply, "
    "more than 25 % lost is suspect"
)
"""A published limit to hold against; it is not the limit of a road vehicle."""

SUSPECT_PERCENT = 20.0
"""Above this a car's cylinder is past acceptable (common practice)."""

CAR_SOURCE = gettext_noop(
    "common practice for cars, no published limit; the manufacturer's figure wins"
)

_BANDS: tuple[tuple[float, str], ...] = (
    (10.0, gettext_noop("good")),
    (20.0, gettext_noop("acceptable")),
    (30.0, gettext_noop("worn: compare with the good cylinders")),
)
_WORST = gettext_noop("bad")

HEARD: dict[str, str] = {
    "intake": gettext_noop("intake valve"),
    "exhaust": gettext_noop("exhaust valve"),
    "crankcase": gettext_noop("rings, piston or bore"),
    "coolant": gettext_noop("head gasket or a crack into the coolant"),
    "neighbour": gettext_noop("head gasket between the two cylinders"),
}
"""Place where air is heard to what leaks there (FAA AC 43.13-1B ch. 8 for valves and rings)."""


ELSEWHERE = gettext_noop("The air of its leak-down escapes elsewhere, and that names the leak.")


def names_another(meaning: str, heard_at: str) -> bool:
    """Return whether a leak-down's air escapes where a gauge reading does not point.

    Parameters
    ----------
    meaning
        `rings` or `valves`, as a first puff or a wet test leans; anything else contradicts nothing.
    heard_at
        Key of `HEARD`; empty where no air was heard.
    """
    if not heard_at or meaning not in {"rings", "valves"}:
        return False
    return (heard_at == "crankcase") is not (meaning == "rings")


@dataclass(frozen=True, slots=True)
class LeakReading:
    """What one leak-down figure says.

    Parameters
    ----------
    percent
        Share of the supply pressure that is lost, 0..100.
    band
        Band of the common practice for cars.
    over_reference
        Whether it exceeds the published aircraft limit.
    points_at
        What leaks where air was heard; empty when nothing was heard.
    """

    percent: float
    band: str
    over_reference: bool
    points_at: str


def leak_read(percent: float, heard_at: str = "") -> LeakReading:
    """Judge a leak-down figure.

    Parameters
    ----------
    percent
        Loss in per cent of the supply pressure.
    heard_at
        Key of `HEARD`, or empty.

    Raises
    ------
    ValueError
        If the figure is not between 0 and 100.
    """
    if not 0 <= percent <= 100:
        raise ValueError(_("A leak-down figure lies between 0 and 100 %."))
    return LeakReading(
        percent=percent,
        band=_(next((words for most, words in _BANDS if percent <= most and percent < 30), _WORST)),
        over_reference=percent > REFERENCE_LIMIT_PERCENT,
        points_at=_(HEARD[heard_at]) if heard_at in HEARD else "",
    )


def leak_percent(supply: float, held: float) -> float:
    """Return the loss in per cent from the two gauges of a leak-down tester (same unit).

    60 of 80 psi held is 25 % lost (FAA AC 43.13-1B ch. 8).

    Raises
    ------
    ValueError
        If the supply is not positive or the cylinder holds more than is supplied.
    """
    if supply <= 0:
        raise ValueError(_("The supply pressure must be above zero."))
    if not 0 <= held <= supply:
        raise ValueError(_("The cylinder's gauge cannot show more than the supply."))
    return 100.0 * (supply - held) / supply
